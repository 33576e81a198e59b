"""Where a store is: a plain path, or an SQLAlchemy URL, told apart and shown without its password.

Standard library alone, so that completion can look for a store without SQLAlchemy. Opens nothing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from taskdb.errors import UsageError

_SCHEME = re.compile(r"([A-Za-z][A-Za-z0-9+.-]*)://")
_PASSWORD = re.compile(r"(://[^:/@]*:)[^?]*@")
_PASSWORD_OPTION = re.compile(r"([?&](?:password|sslpassword)=)[^&]*", re.IGNORECASE)
_POSTGRESQL = {"postgresql", "postgres", "postgresql+psycopg"}
_SQLITE = {"sqlite", "sqlite+pysqlite"}
_FORMS = "Give a file (clubs/wolds.db), sqlite:///clubs/wolds.db or postgresql+psycopg://USER@HOST/DATABASE."


@dataclass(frozen=True, slots=True)
class Address:
    """A store's address: `url` may hold a password, `shown` never does; `path` is an SQLite file's, else None."""

    url: str
    shown: str
    path: Path | None


def parse_address(url: str) -> Address:
    """Return the address for a plain path or URL; UsageError (unknown-store-url) for anything else."""
    text = url.strip()
    scheme = _SCHEME.match(text)
    if not text or "\0" in text:
        raise UsageError("unknown-store-url", "The store has no address.", hint=_FORMS)
    if scheme is None:
        return _file_address(text)
    kind, rest = scheme[1].lower(), text[scheme.end() :]
    if kind in _SQLITE:
        return _sqlite_address(rest, text)
    if kind in _POSTGRESQL:
        if rest.partition("?")[0].count("@") > 1:
            # Read up to the first @, the rest of a password would be taken for the host, and shown.
            raise UsageError(
                "unknown-store-url",
                "The URL of the store has more than one @.",
                hint="Write an @ that belongs to the user, the password or the database as %40.",
            )
        full = f"postgresql+psycopg://{rest}"
        return Address(url=full, shown=hide_password(full), path=None)
    raise UsageError("unknown-store-url", f"taskdb has no kind of store called {scheme[1]!r}.", hint=_FORMS)


def hide_password(url: str) -> str:
    """Return `url` with any password replaced by ***."""
    return _PASSWORD_OPTION.sub(r"\1***", _PASSWORD.sub(r"\1***@", url))


def _file_address(text: str) -> Address:
    try:
        path = Path(text).expanduser()
    except RuntimeError:
        path = Path(text)
    return Address(url=f"sqlite:///{path}", shown=str(path), path=path)


def _sqlite_address(rest: str, text: str) -> Address:
    if not rest.startswith("/") or rest in {"/", "/:memory:"}:
        raise UsageError("unknown-store-url", f"{text!r} names no file.", hint=_FORMS)
    if "?" in rest:
        raise UsageError("unknown-store-url", f"{text!r}: options after ? are not taken for a file.", hint=_FORMS)
    return _file_address(rest[1:])
