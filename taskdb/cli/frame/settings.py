"""The root options: accepted before and after the command, all writing into one `Settings`; the last given wins.

What is not given comes from the environment (TASKDB_STORE, TASKDB_AUTHOR, NO_COLOR), then from the defaults.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.words import is_text

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

DEFAULT_WAIT_S = 30.0
NOT_TEXT = "it holds bytes that are no UTF-8 text."


class Settings:
    """What the root options say; None and False where they were not given. Filled while the line is parsed.

    No dataclass: this module is imported for every help and completion.
    """

    store: str | None = None
    author: str | None = None
    units: str | None = None
    wait_s: float | None = None
    no_color: bool = False
    json: bool = False
    preview: bool = False
    note: str | None = None
    yes: bool = False
    gives_file: bool = False
    """Whether standard output is the file that was asked for: what is said of it then goes to standard error."""

    has_made_file: bool = False
    """Whether the command has made the file or folder that was asked for."""
    kept: tuple[int | None, ...] = ()
    """The operations that the command has kept so far; None for what is kept and is no operation."""

    def store_url(self) -> str:
        """Return the store's URL or path: --store, TASKDB_STORE, or the file in the user's data folder."""
        return self.store or os.environ.get("TASKDB_STORE", "").strip() or str(default_store())

    def is_default_store(self) -> bool:
        """Say whether no store was named, so that the folder of the default one may be made."""
        return not (self.store or os.environ.get("TASKDB_STORE", "").strip())

    def author_name(self) -> str:
        """Return who is writing: --author, TASKDB_AUTHOR, or the login name ("unknown" where there is none)."""
        from taskdb.core.names import clean_text

        for given in (self.author, os.environ.get("TASKDB_AUTHOR"), login_name()):
            if given and is_text(given) and clean_text(given):
                return clean_text(given)
        return "unknown"

    def is_plain(self) -> bool:
        """Say whether there is to be no colour: --no-color, a NO_COLOR that is not empty (no-color.org), TERM=dumb."""
        return self.no_color or bool(os.environ.get("NO_COLOR")) or os.environ.get("TERM") == "dumb"


def default_store() -> Path:
    """Return the path of the one SQLite file in the user's data folder; nothing is created."""
    from pathlib import Path

    import platformdirs

    return Path(platformdirs.user_data_dir("taskdb", appauthor=False)) / "taskdb.sqlite"


def login_name() -> str:
    """Return the login name, or "unknown"."""
    import getpass

    try:
        return getpass.getuser().strip() or "unknown"
    except (OSError, KeyError, ImportError):
        return "unknown"


def _into(field: str) -> Callable[[click.Context, click.Parameter, Any], None]:
    def keep(ctx: click.Context, param: click.Parameter, value: Any) -> None:
        if value is None or value is False:
            return
        if isinstance(value, str):
            value = value.strip()
            if not value and field != "note":
                raise click.BadParameter("it is empty.", ctx=ctx, param=param)
            if not is_text(value) and field != "store":
                raise click.BadParameter(NOT_TEXT, ctx=ctx, param=param)
        ctx.ensure_object(Settings)
        setattr(ctx.obj, field, value)

    return keep


def _option(field: str, *names: str, **how: Any) -> click.Option:
    return click.Option([*names, f"frame_{field}"], expose_value=False, callback=_into(field), **how)


def root_options() -> list[click.Option]:
    """Return fresh options that every command and every group accepts."""
    return [
        _option("json", "--json", is_flag=True, help="Print one JSON document instead of text."),
        _option("store", "--store", metavar="URL", help="The store: a path or an SQLAlchemy URL. [env: TASKDB_STORE]"),
        _option("author", "--author", metavar="NAME", help="Who is writing. [env: TASKDB_AUTHOR; default: login name]"),
        _option("units", "--units", type=click.Choice(["km", "mi", "nmi"]), help="Unit of distance for people."),
        _option("no_color", "--no-color", is_flag=True, help="No colour. [env: NO_COLOR]"),
        _option(
            "wait_s",
            "--wait",
            metavar="S",
            type=click.FloatRange(min=0, max=86400),
            help=f"Seconds to wait for a busy store. [default: {DEFAULT_WAIT_S:g}]",
        ),
    ]


def writing_options() -> list[click.Option]:
    """Return fresh options that every writing command accepts."""
    return [
        _option("preview", "--preview", is_flag=True, help="Do everything, report what it would do, keep nothing."),
        _option("note", "--note", metavar="TEXT", help="Why; kept with the change."),
        _option("yes", "--yes", is_flag=True, help="Answer the command's questions with yes."),
    ]
