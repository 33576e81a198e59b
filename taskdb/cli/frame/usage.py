"""click's complaints about the words of a command line, in our own form: code, message, the way out."""

from __future__ import annotations

from typing import Any

import click

from taskdb.cli.frame.words import did_you_mean, nearest

Problem = tuple[str, str, str | None, dict[str, Any]]

_CODES: tuple[tuple[type[click.ClickException], str], ...] = (
    (click.NoSuchOption, "no-such-option"),
    (click.MissingParameter, "missing-parameter"),
    (click.BadParameter, "bad-value"),
)


def usage_problem(error: click.ClickException) -> Problem:
    """Return code, message, hint and details for an error that click raised while reading the words."""
    context = error.ctx if isinstance(error, click.UsageError) else None
    path = context.command_path if context is not None else "taskdb"
    help_hint = f"`{path} --help` shows how it is used."
    if isinstance(error, click.NoSuchOption):
        known = [name for p in context.command.get_params(context) for name in p.opts] if context is not None else []
        near = nearest(error.option_name, [name for name in known if name.startswith("--")])
        message = f"`{path}` has no option {error.option_name!r}."
        return (
            "no-such-option",
            message,
            did_you_mean(near) or help_hint,
            {"option": error.option_name, "nearest": near},
        )
    code = next((name for kind, name in _CODES if isinstance(error, kind)), "usage")
    return code, " ".join(error.format_message().split()), help_hint, {}
