"""Text profiles: a user's own TOML file that describes a layout of delimited text, for reading and for writing.

    rows = "waypoints"        # or "task-points"
    separator = "semicolon"   # comma, semicolon, tab, pipe or one letter
    quoting = "needed"        # needed, all, none
    line_end = "crlf"         # crlf, lf
    encoding = "utf-8"
    header = true             # whether the first row names the columns
    decimal = "point"         # point, comma

    [[column]]
    field = "latitude"        # a field, or `text = "…"` for a column that is always the same
    header = "LAT"
    notation = "degrees-minutes"
    decimals = 3

An elevation, length or leg takes `unit`; `words = {aerodrome = "A"}` gives a word of ours another name. This module
reads and checks profiles; `profile_text` applies them.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Mapping
from dataclasses import dataclass, field as value_of
from typing import Any

from taskdb.core.notation import PARTS, Notation
from taskdb.core.quantities import FOOT_M, NAUTICAL_MILE_M, STATUTE_MILE_M
from taskdb.errors import InputError
from taskdb.formats.text.headers import recognise
from taskdb.formats.text.rows import DELIMITERS
from taskdb.untrusted.toml_text import BadToml, read_toml

WAYPOINT_FIELDS = (
    "code", "name", "latitude_deg", "longitude_deg", "position", "elevation", "landable", "feature", "country", "radio",
    "runways", "runway_designator", "runway_heading", "runway_length", "runway_width", "runway_surface", "description",
    "source", "inspected_on", "identity",
)  # fmt: skip
TASK_FIELDS = (
    "task", "number", "role", "code", "name", "latitude_deg", "longitude_deg", "position", "elevation", "zone", "axis",
    "radius", "leg", "course",
)  # fmt: skip
UNITS_M = {"m": 1.0, "km": 1000.0, "ft": FOOT_M, "mi": STATUTE_MILE_M, "nmi": NAUTICAL_MILE_M}
_MEASURED = {
    "elevation": ("m", "ft"),
    "runway_length": ("m", "ft"),
    "runway_width": ("m", "ft"),
    "radius": tuple(UNITS_M),
    "leg": tuple(UNITS_M),
}
_PLACES = ("latitude_deg", "longitude_deg", "position")
_ROWS = ("waypoints", "task-points")
_KEYS = ("rows", "separator", "quoting", "line_end", "encoding", "header", "decimal", "column")
_COLUMN_KEYS = ("field", "text", "header", "notation", "decimals", "unit", "words")
_MOST_DECIMALS = 9


@dataclass(frozen=True, slots=True)
class ProfileColumn:
    """A column: its field (or a constant `text`), its header, and how it is written. `line`: where it stands."""

    line: int
    field: str | None
    text: str = ""
    header: str = ""
    notation: Notation = Notation.DECIMAL
    says_notation: bool = False
    decimals: int | None = None
    unit: str | None = None
    words: Mapping[str, str] = value_of(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Profile:
    """A layout of delimited text."""

    name: str
    columns: tuple[ProfileColumn, ...]
    is_task: bool = False
    separator: str = ","
    quoting: str = "needed"
    line_end: str = "\r\n"
    encoding: str = "utf-8"
    has_header: bool = True
    decimal: str = "."


class _Source:
    """The profile's text, to say on which line a thing stands: TOML itself does not tell once it is read."""

    def __init__(self, text: str, name: str) -> None:
        self.lines = text.splitlines()
        self.name = name
        self.tables = [i + 1 for i, line in enumerate(self.lines) if re.match(r"\s*\[\[\s*column\s*\]\]", line)]

    def line_of(self, table: int | None, key: str | None) -> int:
        """Return the line of a key in the n-th column, or at the top; of the table where the key is not found."""
        start = 0 if table is None else self.tables[table] if table < len(self.tables) else 0
        ends = [line - 1 for line in self.tables if line > start]
        for i in range(start, ends[0] if ends else len(self.lines)):
            if key is not None and re.match(rf"\s*[\"']?{re.escape(key)}[\"']?\s*[=.]", self.lines[i]):
                return i + 1
        return max(start, 1)

    def refusal(self, line: int, why: str, hint: str) -> InputError:
        """Return the refusal of what stands on a line."""
        details = {"profile": self.name, "line": line}
        return InputError("bad-profile", f"{self.name}, line {line}: {why}.", hint=hint, details=details)

    def refused(self, table: int | None, key: str, why: str, hint: str) -> InputError:
        """Return the refusal of a key in the n-th column, or at the top."""
        return self.refusal(self.line_of(table, key), why, hint)


def parse_profile(text: str, *, name: str = "profile") -> Profile:
    """Return the profile of a TOML text. Raises InputError `bad-profile` with its line, what was found, what can be."""
    source = _Source(text, name)
    try:
        values = read_toml(text)
    except BadToml as error:
        line = error.line or len(source.lines)
        raise source.refusal(line, f"it is no TOML: {error.why}", "Write key = value, texts in quotes.") from None
    _require_keys(source, values, None, _KEYS)
    columns = values.get("column")
    if not isinstance(columns, list) or not columns:
        raise source.refusal(1, "it describes no columns", "Add a [[column]] with a field for each column, in order.")
    is_task = _choice(source, values, "rows", _ROWS, "waypoints") == "task-points"
    profile = Profile(
        name=name,
        columns=tuple(_column(source, i, item, is_task) for i, item in enumerate(columns)),
        is_task=is_task,
        separator=_separator(source, values),
        quoting=_choice(source, values, "quoting", ("needed", "all", "none"), "needed"),
        line_end={"crlf": "\r\n", "lf": "\n"}[_choice(source, values, "line_end", ("crlf", "lf"), "crlf")],
        encoding=_encoding(source, values),
        has_header=_flag(source, values, "header"),
        decimal={"point": ".", "comma": ","}[_choice(source, values, "decimal", ("point", "comma"), "point")],
    )
    _require_once(source, profile)
    return profile


def _require_keys(source: _Source, values: Mapping[str, Any], table: int | None, known: tuple[str, ...]) -> None:
    for key in values:
        if key not in known:
            raise source.refused(table, key, f"the key {key!r} is not known", f"Keys: {', '.join(known)}.")


def _choice(source: _Source, values: Mapping[str, Any], key: str, choices: tuple[str, ...], standard: str) -> str:
    value = values.get(key, standard)
    if value not in choices:
        raise source.refused(None, key, f"{key} = {value!r} cannot be", f"It is one of {', '.join(choices)}.")
    return str(value)


def _flag(source: _Source, values: Mapping[str, Any], key: str) -> bool:
    value = values.get(key, True)
    if not isinstance(value, bool):
        raise source.refused(None, key, f"{key} = {value!r} cannot be", "It is true or false.")
    return value


def _separator(source: _Source, values: Mapping[str, Any]) -> str:
    value = values.get("separator", "comma")
    letter = DELIMITERS.get(value, value) if isinstance(value, str) else ""
    if len(letter) != 1 or letter in '"\r\n':
        hint = f"It is {', '.join(DELIMITERS)} or one letter."
        raise source.refused(None, "separator", f"separator = {value!r} cannot part columns", hint)
    return letter


def _encoding(source: _Source, values: Mapping[str, Any]) -> str:
    value = values.get("encoding", "utf-8")
    try:
        codec = codecs.lookup(value).name
        "".encode(codec)
        return codec
    except (LookupError, TypeError, ValueError):
        why = f"encoding = {value!r} is not known"
        raise source.refused(None, "encoding", why, "For example utf-8, cp1252.") from None


def _column(source: _Source, table: int, values: Any, is_task: bool) -> ProfileColumn:
    if not isinstance(values, dict):
        raise source.refusal(source.line_of(table, None), "a column is a table", "Write [[column]] above its keys.")
    _require_keys(source, values, table, _COLUMN_KEYS)
    line = source.line_of(table, None)
    header = values.get("header", "")
    for key in ("header", "text"):
        if not isinstance(values.get(key, ""), str):
            raise source.refused(table, key, f"{key} is no text", 'Put it in quotes: "…".')
    if "text" in values or "field" not in values:
        if "text" not in values or "field" in values:
            raise source.refusal(line, "a column has either a field or a text", 'Write field = "code" or text = "".')
        return ProfileColumn(line, None, values["text"], header)
    name, unit = _field(source, table, values["field"], is_task)
    told = values.get("unit", unit)
    if name in _MEASURED and told not in _MEASURED[name]:
        shown = f"unit = {told!r} cannot be" if told is not None else f"the column {name} has no unit"
        raise source.refused(table, "unit", shown, f"Add unit = one of {', '.join(_MEASURED[name])}.")
    if name not in _MEASURED and "unit" in values:
        raise source.refused(table, "unit", f"the column {name} has no unit", "Leave the unit out.")
    decimals = values.get("decimals")
    if decimals is not None and not (type(decimals) is int and 0 <= decimals <= _MOST_DECIMALS):
        hint = f"A number from 0 to {_MOST_DECIMALS}."
        raise source.refused(table, "decimals", f"decimals = {decimals!r} cannot be", hint)
    notation = _notation(source, table, name, values.get("notation"))
    words = _words(source, table, values.get("words", {}))
    says = "notation" in values
    return ProfileColumn(line, name, "", header, notation, says, decimals, told if name in _MEASURED else None, words)


def _field(source: _Source, table: int, told: Any, is_task: bool) -> tuple[str, str | None]:
    """Return the name of a field, and the unit that stands in it (`elevation_ft`)."""
    fields = TASK_FIELDS if is_task else WAYPOINT_FIELDS
    if isinstance(told, str):
        if told in fields:
            return told, None
        known = recognise(told)
        if known is not None and known.field in fields:
            return known.field, known.unit if known.unit in ("m", "ft") else None
    raise source.refused(table, "field", f"field = {told!r} is not known", f"Fields: {', '.join(fields)}.")


def _notation(source: _Source, table: int, name: str, told: Any) -> Notation:
    if told is None:
        return Notation.DECIMAL
    choices = tuple(Notation) if name == "position" else tuple(PARTS)
    if name not in _PLACES or told not in choices:
        hint = f"It is one of {', '.join(choices)}." if name in _PLACES else "Only coordinates have a notation."
        raise source.refused(table, "notation", f"notation = {told!r} cannot be", hint)
    return Notation(told)


def _words(source: _Source, table: int, told: Any) -> dict[str, str]:
    if not isinstance(told, dict) or not all(isinstance(value, str) for value in told.values()):
        raise source.refused(table, "words", "words are no table of texts", 'words = {aerodrome = "A"}.')
    if len(set(told.values())) < len(told):
        raise source.refused(table, "words", "two words would be the same", "Give each word of ours its own.")
    return dict(told)


def _require_once(source: _Source, profile: Profile) -> None:
    seen: dict[str, int] = {}
    for column in profile.columns:
        if column.field is not None and seen.setdefault(column.field, column.line) != column.line:
            first = seen[column.field]
            raise source.refusal(
                column.line, f"the field {column.field} stands already on line {first}", "Keep one of them."
            )
