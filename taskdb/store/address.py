"""Where a store is: a plain path, or an SQLAlchemy URL, told apart and shown without its password.

Standard library alone, so that completion can look for a store without SQLAlchemy. Opens nothing. What cannot be read
is refused without being repeated: nobody knows which part of it is a password.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import unquote_plus

from taskdb.errors import UsageError

_SCHEME = re.compile(r"([A-Za-z][A-Za-z0-9+.-]*)://")
_POSTGRESQL = {"postgresql", "postgres", "postgresql+psycopg"}
_SQLITE = {"sqlite", "sqlite+pysqlite"}
_FORMS = "Give a file (clubs/wolds.db), sqlite:///clubs/wolds.db or postgresql+psycopg://USER@HOST/DATABASE."
_HOST = r"(?:\[[0-9A-Fa-f:.%]*\]|[^\s/?#@:,;=\[\]]*)(?::[0-9]*)?"
# Every character that ends one part and begins the next is refused inside a part: it might lie in a password.
_SERVER = re.compile(
    r"(?:(?P<user>[^\s/?#@:]*)(?P<password>:[^\s/?#@]*)?@)?"
    rf"(?P<hosts>{_HOST}(?:,{_HOST})*)"
    r"(?P<database>/[^\s/?#@:;=]*)?"
    r"(?:\?(?P<options>[^\s#@;]*))?"
)
# What libpq takes in a URL: PostgreSQL documentation, libpq, "Parameter Key Words"; a test holds it to the library.
_OPTION_NAMES = (
    "application_name channel_binding client_encoding connect_timeout dbname fallback_application_name "
    "gssdelegation gssencmode gsslib host hostaddr keepalives keepalives_count keepalives_idle keepalives_interval "
    "krbsrvname load_balance_hosts max_protocol_version min_protocol_version options passfile password port "
    "require_auth requirepeer service ssl_max_protocol_version ssl_min_protocol_version sslcert sslcertmode "
    "sslcompression sslcrl sslcrldir sslkey sslmode sslnegotiation sslpassword sslrootcert sslsni "
    "target_session_attrs tcp_user_timeout user"
)
_OPTIONS = frozenset(_OPTION_NAMES.split())
_SECRET_OPTIONS = {"password", "sslpassword"}
# Addresses of servers in other forms: as a path they would make a file that is called after a password.
_NO_PATH = re.compile(
    r"(?i)(?:jdbc:)?postgres\w*(?:\+\w+)?:|.*://|(?://)?[^/\\]*:[^/\\]*@"
    r"|(?:.*\s)?(?:dbname|host|hostaddr|password|port|service|user)\s*=",
    re.DOTALL,
)


@dataclass(frozen=True, slots=True)
class Address:
    """A store's address: `url` may hold a password, `shown` never does; `path` is an SQLite file's, else None."""

    url: str = field(repr=False)
    shown: str
    path: Path | None


def parse_address(url: str) -> Address:
    """Return the address for a plain path or URL; UsageError (unknown-store-url) for anything else."""
    text = url.strip()
    scheme = _SCHEME.match(text)
    if text.startswith("-"):
        raise UsageError(
            "unknown-store-url", f"The store {text!r} begins like an option.", hint=f"A file of that name is ./{text}"
        )
    if not text or "\0" in text:
        raise UsageError("unknown-store-url", "The store has no address.", hint=_FORMS)
    if scheme is None:
        return _file_address(text)
    kind, rest = scheme[1].lower(), text[scheme.end() :]
    if kind in _SQLITE:
        return _sqlite_address(rest)
    if kind in _POSTGRESQL:
        return _server_address(rest)
    raise UsageError("unknown-store-url", f"taskdb has no kind of store called {scheme[1]!r}.", hint=_FORMS)


def _server_address(rest: str) -> Address:
    parts = _SERVER.fullmatch(rest)
    if parts is None:
        raise UsageError(
            "unknown-store-url",
            "The URL of the store cannot be read (it is not shown here, for it may hold a password).",
            hint="Write it as postgresql+psycopg://USER@HOST:PORT/DATABASE; a sign that belongs to a name or a password"
            " is written %40 for @, %3A for :, %2F for /, %3F for ?, %23 for #, %26 for &, %3D for =, %25 for %.",
        )
    options = [option.partition("=") for option in (parts["options"] or "").split("&") if option]
    names = [unquote_plus(name) for name, _, _ in options]
    if unknown := [number for number, name in enumerate(names, start=1) if name not in _OPTIONS]:
        raise UsageError(
            "unknown-store-url",
            f"Option {unknown[0]} after the ? of the store's URL is none that PostgreSQL has.",
            hint="An & that belongs to a value is written %26. Options are such as host, sslmode, service, passfile.",
        )
    shown = [
        f"{name}=***" if name in _SECRET_OPTIONS else "".join(option)
        for name, option in zip(names, options, strict=True)
    ]
    user = f"{parts['user'] or ''}{':***' if parts['password'] else ''}@" if "@" in rest else ""
    place = f"{parts['hosts']}{parts['database'] or ''}"
    return Address(
        url=f"postgresql+psycopg://{rest}" if "," not in parts["hosts"] else _url_of_several(parts),
        shown=f"postgresql+psycopg://{user}{place}" + (f"?{'&'.join(shown)}" if shown else ""),
        path=None,
    )


def _url_of_several(parts: re.Match[str]) -> str:
    """Return a URL of several servers as SQLAlchemy takes them: names and ports, as two lists, among the options."""
    places = [re.fullmatch(r"\[?([^\]]*?)\]?(?::([0-9]*))?", one) for one in parts["hosts"].split(",")]
    names, ports = (",".join(place[n] or "" for place in places if place) for n in (1, 2))
    user = f"{parts['user'] or ''}{parts['password'] or ''}@"
    options = "&".join([f"host={names}", *([f"port={ports}"] if ports.strip(",") else []), parts["options"] or ""])
    return f"postgresql+psycopg://{user}{parts['database'] or '/'}?{options.rstrip('&')}"


def _file_address(text: str) -> Address:
    if _NO_PATH.match(text):
        raise UsageError(
            "unknown-store-url",
            "The store's address looks like a server's in another form (it may hold a password and is not shown).",
            hint=f"{_FORMS} A file that is called so: ./NAME.",
        )
    try:
        path = Path(text).expanduser()
    except RuntimeError:
        path = Path(text)
    return Address(url=f"sqlite:///{path}", shown=str(path), path=path)


def _sqlite_address(rest: str) -> Address:
    if not rest.startswith("/") or rest in {"/", "/:memory:"}:
        raise UsageError("unknown-store-url", "The sqlite URL of the store names no file.", hint=_FORMS)
    if "?" in rest:
        raise UsageError(
            "unknown-store-url", "The sqlite URL of the store: options after ? are not taken.", hint=_FORMS
        )
    return _file_address(rest[1:])
