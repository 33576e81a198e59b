"""What is said of a failure: click's complaints in our own form, bugs with a private file of details, no passwords.

The store's address hides its password itself (`store/address.py`); here go those that never became part of an address.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, unquote_plus

import click

from taskdb.cli.frame.words import did_you_mean, nearest

if TYPE_CHECKING:
    from taskdb.cli.frame.settings import Settings
    from taskdb.errors import TaskdbError

Problem = tuple[str, str, str | None, dict[str, Any]]
"""Code, message, hint and details."""

_IN_URL = re.compile(r"(://[^\s:/@]*:)[^\s@]*@")
_IN_OPTION = re.compile(r"\b((?:ssl)?password=)[^\s&'\"]+", re.IGNORECASE)
_OF_STORE = re.compile(r"//[^:/@]*:(.+)@")
_OF_OPTION = re.compile(r"\b(?:ssl)?password\s*=\s*([^&\s]+)", re.IGNORECASE)
_HIDDEN = r"\1***"


def usage_problem(error: click.ClickException) -> Problem:
    """Return code, message, hint and details for an error that click raised while reading the words."""
    context = error.ctx if isinstance(error, click.UsageError) else None
    path = context.command_path if context is not None else "taskdb"
    help_hint = f"`{path} --help` shows how it is used."
    if isinstance(error, click.NoSuchOption):
        known = [name for p in context.command.get_params(context) for name in p.opts] if context is not None else []
        near = nearest(error.option_name, [name for name in known if name.startswith("--")])
        message, details = (
            f"`{path}` has no option {error.option_name!r}.",
            {"option": error.option_name, "nearest": near},
        )
        takes_names = context is not None and any(isinstance(p, click.Argument) for p in context.command.params)
        dashed = " A name that begins with - stands behind --, after the options." if takes_names else ""
        return "no-such-option", message, did_you_mean(near) or help_hint + dashed, details
    is_missing = isinstance(error, click.MissingParameter)
    code = "missing-parameter" if is_missing else "bad-value" if isinstance(error, click.BadParameter) else "usage"
    return code, " ".join(error.format_message().split()), help_hint, {}


def damage_behind(error: Exception, settings: Settings) -> TaskdbError | None:
    """Return that the store is damaged, where that is why something failed that nobody foresaw; None for a bug."""
    from taskdb.services.desk import Desk
    from taskdb.services.store import verify

    try:
        return verify.damage_behind(error, Desk(settings.store_url(), settings.author_name()))
    except Exception:  # what was asked has failed already: this only asks why
        return None


def kept_words(settings: Settings) -> str:
    """Return what to say of what a command has kept although its answer is not seen."""
    numbers = [str(number) for number in settings.kept if number is not None]
    if numbers:
        called = "operation" if len(numbers) == 1 else "operations"
        return f"What the command did is kept, as {called} {', '.join(numbers)}; `taskdb log` shows it."
    return "What the command did is kept." if settings.kept else "The file that was asked for is there, whole."


def bug_problem(error: Exception, settings: Settings) -> Problem:
    """Write the traceback into a private file and return code, message, hint and details that name it."""
    import platform
    import sys
    import traceback

    from taskdb import __version__

    summary = " ".join(without_store_passwords(f"{type(error).__name__}: {error}", settings).split())[:300]
    text = without_store_passwords("".join(traceback.format_exception(error)), settings)
    head = f"taskdb {__version__}, Python {platform.python_version()}, {sys.platform}\n\n"
    path = _keep(head + text)
    hint = f"The details are in {path}; please report them." if path else "The details could not be kept."
    return "bug", f"This is a bug in taskdb: {summary}", hint, {"traceback_file": path}


def _keep(text: str) -> str | None:
    import tempfile

    try:
        handle, path = tempfile.mkstemp(prefix="taskdb-bug-", suffix=".txt")
        with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace") as file:
            file.write(text)
    except OSError:
        return None
    return path


def without_url_passwords(value: Any) -> Any:
    """Return a text, or lists and mappings of texts, with the passwords of URLs in it replaced by ***."""
    if isinstance(value, str):
        return _IN_OPTION.sub(_HIDDEN, _IN_URL.sub(_HIDDEN + "@", value))
    if isinstance(value, Mapping):
        return {key: without_url_passwords(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [without_url_passwords(one) for one in value]
    return value


def without_store_passwords(text: str, settings: Settings) -> str:
    """Return a text without the passwords of URLs, and without the store's own as it was typed and as it is sent."""
    hidden: str = without_url_passwords(text)
    for address in (settings.store or "", os.environ.get("TASKDB_STORE", "")):
        for found in (*_OF_STORE.findall(address), *_OF_OPTION.findall(unquote(address))):
            for form in (found, unquote(found), unquote_plus(found)):
                hidden = hidden.replace(form, "***")
    return hidden.replace(password, "***") if (password := os.environ.get("PGPASSWORD")) else hidden
