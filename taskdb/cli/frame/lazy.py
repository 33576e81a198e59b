"""The groups `taskdb` and `taskdb NOUN`: they know their commands from the static table and import one when it runs.

Help, `--version` and the completion of commands are printed without importing any command module.
"""

from __future__ import annotations

from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING, Any, NoReturn

import click

from taskdb.cli import commands_table
from taskdb.cli.frame.settings import root_options
from taskdb.cli.frame.words import did_you_mean, nearest

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

_FRAME = "frame_"


class Shown(Exception):
    """A text that was asked for by --help or --version, on its way to standard output."""

    def __init__(self, kind: str, text: str, result: dict[str, Any]) -> None:
        super().__init__(kind)
        self.kind = kind
        self.text = text
        self.result = result


@cache
def help_option() -> click.Option:
    """Return --help: one object, since click orders its callbacks by comparing objects."""

    def show(ctx: click.Context, _param: click.Parameter, value: bool) -> None:
        if value and not ctx.resilient_parsing:
            text = ctx.get_help()
            raise Shown("help", text, {"command": ctx.command_path, "text": text})

    return click.Option(
        ["-h", "--help", "frame_help"],
        is_flag=True,
        is_eager=True,
        expose_value=False,
        callback=show,
        help="Show this text.",
    )


def version_option() -> click.Option:
    """Return a fresh --version."""

    def show(ctx: click.Context, _param: click.Parameter, value: bool) -> None:
        if value and not ctx.resilient_parsing:
            from taskdb import __version__

            raise Shown("version", f"taskdb {__version__}", {"version": __version__})

    return click.Option(
        ["--version", "frame_version"],
        is_flag=True,
        is_eager=True,
        expose_value=False,
        callback=show,
        help="Show the version.",
    )


def write_options(made: click.Command, ctx: click.Context, formatter: click.HelpFormatter) -> None:
    """Write a command's arguments that have help, its own options, and those that every command has."""
    arguments: list[tuple[str, str]] = []
    own: list[tuple[str, str]] = []
    everywhere: list[tuple[str, str]] = []
    for param in made.get_params(ctx):
        record = param.get_help_record(ctx)
        if record is not None and record[1]:
            is_everywhere = (param.name or "").startswith(_FRAME)
            kind = arguments if isinstance(param, click.Argument) else everywhere if is_everywhere else own
            kind.append(record)
    for title, records in (("Arguments", arguments), ("Options", own), ("Options of every command", everywhere)):
        if records:
            with formatter.section(title):
                formatter.write_dl(records)


class TableGroup(click.Group):
    """A group that reads its commands and their summaries from the table; `noun` is None for `taskdb` itself."""

    def __init__(self, noun: str | None, **how: Any) -> None:
        super().__init__(params=list(root_options()), **how)
        self.noun = noun

    def summaries(self) -> dict[str, str]:
        """Return what can follow, with its one-line summary, in the order of help."""
        if self.noun is None:
            return commands_table.nouns()
        return {verb: entry.summary for verb, entry in commands_table.verbs(self.noun).items()}

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.summaries())

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if self.noun is None and commands_table.verbs(cmd_name):
            return TableGroup(cmd_name, name=cmd_name, help=commands_table.NOUNS[cmd_name])
        entry = commands_table.single(cmd_name) if self.noun is None else commands_table.verbs(self.noun).get(cmd_name)
        if entry is None:
            return None
        found = getattr(import_module(entry.module), entry.attribute)
        assert isinstance(found, click.Command)
        return found

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        found = self.get_command(ctx, args[0])
        if found is None:
            self._refuse(ctx, args[0])
        return args[0], found, args[1:]

    def _refuse(self, ctx: click.Context, word: str) -> NoReturn:
        from taskdb.errors import UsageError

        near = [f"{ctx.command_path} {name}" for name in nearest(word, self.summaries())]
        if not near:
            # A verb without its noun (`taskdb import`) is the likeliest of the far misses.
            near = [f"taskdb {entry.name}" for entry in commands_table.COMMANDS if entry.verb == word.lower()]
        raise UsageError(
            "no-such-command",
            f"There is no command {f'{ctx.command_path} {word}'!r}.",
            hint=did_you_mean(near) or f"`{ctx.command_path} --help` lists what there is.",
            details={"word": word, "nearest": near},
        )

    def get_help_option(self, ctx: click.Context) -> click.Option | None:
        return help_option()

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(self.summaries().items()))
        write_options(self, ctx, formatter)

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem[str]]:
        from click.shell_completion import CompletionItem

        items = [
            CompletionItem(name, help=summary)
            for name, summary in self.summaries().items()
            if name.startswith(incomplete)
        ]
        return items + click.Command.shell_complete(self, ctx, incomplete)


def root() -> TableGroup:
    """Return the command `taskdb`."""
    made = TableGroup(
        None,
        name="taskdb",
        help="The desk-side library for gliding waypoints and tasks.",
        epilog="Not for primary navigation: check current airspace, NOTAM, weather and local rules.",
    )
    made.params.append(version_option())
    return made
