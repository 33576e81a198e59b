"""Reading a patch: from JSON values to the difference, every problem told with its place. Never raises on bad data."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from taskdb.core.facilities import parse_radio, parse_runway
from taskdb.core.history.changes import SetDiff, changed_fields
from taskdb.core.history.patch import SCHEMA, Patch, Reason
from taskdb.core.model import VALUE_FIELDS, Feature, Landable, Position, Radio, Runway, Typed, Waypoint
from taskdb.core.names import clean_text, code_problem
from taskdb.core.quantities import parse_date
from taskdb.errors import UsageError

LOWEST_M, HIGHEST_M = -500.0, 9000.0
_IDENTITY_LIMIT = 200
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class PatchProblem:
    """What is wrong at one place of a patch (`change[3].fields.position.to`)."""

    place: str
    value: str | None
    message: str


class _Bad(Exception):
    """A value that cannot be read; caught where its place is known."""


def read_patch(document: Any) -> tuple[Patch | None, tuple[PatchProblem, ...]]:
    """Return the patch that a JSON value holds, or None and every problem found."""
    reader = _Reader()
    patch = reader.patch(document)
    return (None if reader.problems else patch), tuple(reader.problems)


class _Reader:
    """One reading; collects problems and goes on."""

    def __init__(self) -> None:
        self.problems: list[PatchProblem] = []

    def tell(self, place: str, value: Any, message: str) -> None:
        shown = None if value is None else (value if isinstance(value, str) else repr(value))[:200]
        self.problems.append(PatchProblem(place, shown, message))

    def patch(self, document: Any) -> Patch | None:
        if not isinstance(document, dict) or document.get("schema") != SCHEMA:
            found = document.get("schema") if isinstance(document, dict) else None
            self.tell("schema", found, f"it is no patch: its schema must be {SCHEMA}")
            return None
        self._unknown("", document, ("schema", "from", "to", "reasons", "retire", "change", "add"))
        retired = [self._waypoint(place, entry) for place, entry in self._list(document, "retire")]
        changed = [self._change(place, entry) for place, entry in self._list(document, "change")]
        added = [self._waypoint(place, entry) for place, entry in self._list(document, "add")]
        difference = SetDiff.of(
            added=(w for w in added if w is not None),
            retired=(w for w in retired if w is not None),
            changed=(c for c in changed if c is not None),
        )
        self._twice(difference)
        reasons = [self._reason(place, entry) for place, entry in self._list(document, "reasons")]
        base, goal = (self._text(name, document.get(name)) or "" for name in ("from", "to"))
        return Patch(base, goal, difference, tuple(r for r in reasons if r is not None))

    def _list(self, document: Mapping[str, Any], name: str) -> list[tuple[str, Any]]:
        value = document.get(name, [])
        if not isinstance(value, list):
            self.tell(name, value, "a list stands here")
            return []
        return [(f"{name}[{number}]", entry) for number, entry in enumerate(value)]

    def _unknown(self, place: str, entry: Mapping[str, Any], known: tuple[str, ...]) -> None:
        for name in entry:
            if name not in known:
                self.tell(f"{place}.{name}".lstrip("."), None, f"{name!r} is not known here; known: {', '.join(known)}")

    def _text(self, place: str, value: Any) -> str | None:
        if value is not None and not isinstance(value, str):
            self.tell(place, value, "a text stands here")
            return None
        return value

    def _reason(self, place: str, entry: Any) -> Reason | None:
        if not isinstance(entry, dict) or not isinstance(entry.get("revision"), int):
            self.tell(place, entry, "a revision with at, author and note stands here")
            return None
        at, author, note = (self._text(f"{place}.{name}", entry.get(name)) for name in ("at", "author", "note"))
        return Reason(entry["revision"], at or "", author or "", note)

    def _waypoint(self, place: str, entry: Any) -> Waypoint | None:
        if not isinstance(entry, dict):
            self.tell(place, entry, "a waypoint stands here, as an object")
            return None
        self._unknown(place, entry, (*VALUE_FIELDS, "identity", "typed", "extras"))
        values: dict[str, Any] = {}
        for name in ("code", "name", "position"):
            if name not in entry:
                self.tell(f"{place}.{name}", None, "it is missing")
        for name in (*VALUE_FIELDS, "identity", "typed", "extras"):
            if name in entry:
                values[name] = self._field(f"{place}.{name}", name, entry[name])
        if not all(values.get(name) is not None for name in ("code", "name", "position")):
            return None
        return Waypoint(**values)

    def _field(self, place: str, name: str, value: Any) -> Any:
        try:
            return _READERS[name](value)
        except _Bad as bad:
            self.tell(place, value, str(bad))
            return () if name in ("radio", "runways") else None

    def _change(self, place: str, entry: Any) -> tuple[Waypoint, Waypoint] | None:
        if not isinstance(entry, dict) or not isinstance(entry.get("fields"), dict):
            self.tell(place, None, "a change has `waypoint` and `fields`")
            return None
        self._unknown(place, entry, ("waypoint", "fields", "typed"))
        before = len(self.problems)
        old = self._waypoint(f"{place}.waypoint", entry.get("waypoint"))
        values: dict[str, Any] = {}
        for name, change in entry["fields"].items():
            self._field_change(f"{place}.fields.{name}", name, change, old, values)
        typed = self._field(f"{place}.typed", "typed", entry.get("typed"))
        if old is None or len(self.problems) > before:
            return None
        # What was typed for the old place tells nothing of the new one.
        if {"position", "elevation_m"} & set(values):
            values["typed"] = typed
        new = replace(old, **values)
        if not changed_fields(old, new):
            self.tell(place, None, "nothing changes: `from` and `to` are equal")
            return None
        return old, new

    def _field_change(self, place: str, name: str, change: Any, old: Waypoint | None, values: dict[str, Any]) -> None:
        if name not in VALUE_FIELDS:
            self.tell(place, None, f"{name!r} is no field; fields: {', '.join(VALUE_FIELDS)}")
            return
        if not isinstance(change, dict) or set(change) != {"from", "to"}:
            self.tell(place, change, "a changed field has `from` and `to`")
            return
        before = len(self.problems)
        values[name] = self._field(f"{place}.to", name, change["to"])
        if values[name] is None and name in ("code", "name", "position") and len(self.problems) == before:
            self.tell(f"{place}.to", None, "it cannot be taken away")
        stated = self._field(f"{place}.from", name, change["from"])
        if old is not None and len(self.problems) == before:
            same = not changed_fields(old, replace(old, **{name: stated}))
            if not same:
                self.tell(f"{place}.from", change["from"], f"it is not what stands in waypoint.{name} of this change")

    def _twice(self, difference: SetDiff) -> None:
        """Tell codes and identities that stand twice where they must be unique: in the base, and among what comes."""
        goal = [*difference.added, *(new for _, new in difference.changed)]
        for where, waypoints in (("the base", difference.bases), ("the goal", goal)):
            for what in ("code", "identity"):
                seen: set[str] = set()
                for waypoint in waypoints:
                    value = getattr(waypoint, what)
                    if value is not None and value in seen:
                        self.tell(what, value, f"two waypoints of {where} have this {what}")
                    seen.add(value)


# -- one value each; they raise _Bad --------------------------------------------------------------------------------


def _string(value: Any) -> str:
    if not isinstance(value, str):
        raise _Bad("a text stands here")
    try:
        value.encode("utf-8")
    except UnicodeEncodeError:
        raise _Bad("it holds half a character") from None
    return clean_text(value)


def _code(value: Any) -> str:
    text = _string(value)
    problem = code_problem(text)
    if problem is not None:
        raise _Bad(problem)
    return text


def _optional_text(value: Any) -> str | None:
    return None if value is None else _string(value) or None


def _position(value: Any) -> Position:
    if not isinstance(value, dict) or set(value) != {"latitude_deg", "longitude_deg"}:
        raise _Bad("a position has latitude_deg and longitude_deg")
    latitude, longitude = _number(value["latitude_deg"]), _number(value["longitude_deg"])
    if not -180.0 <= longitude <= 180.0:
        raise _Bad(f"longitude {longitude} is not within -180 to 180 degrees")
    try:
        return Position.at(latitude, longitude)
    except ValueError as error:
        raise _Bad(str(error)) from None


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _Bad("a number stands here")
    try:
        return float(value)
    except OverflowError:
        raise _Bad("the number is too large") from None


def _elevation(value: Any) -> float | None:
    if value is None:
        return None
    metres = _number(value)
    if not LOWEST_M <= metres <= HIGHEST_M:
        raise _Bad(f"{metres} m is no elevation on Earth ({LOWEST_M:.0f} to {HIGHEST_M:.0f} m)")
    return round(metres, 1) + 0.0


def _one_of(kind: type[Landable] | type[Feature]) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        if value is None:
            return None
        try:
            return kind(value)
        except ValueError:
            raise _Bad(f"it is none of {', '.join(item.value for item in kind)}") from None

    return read


def _radio(value: Any) -> tuple[Radio, ...]:
    return tuple(channel for text in _texts(value) for channel in _parsed(parse_radio, text))


def _runways(value: Any) -> tuple[Runway, ...]:
    return tuple(_parsed(parse_runway, text) for text in _texts(value))


def _texts(value: Any) -> list[str]:
    if value is None:
        return []
    if not isinstance(value, list):
        raise _Bad("a list of texts stands here")
    return [_string(item) for item in value]


def _parsed(parse: Callable[[str], T], text: str) -> T:
    try:
        return parse(text)
    except UsageError as error:
        raise _Bad(error.message) from None


def _date(value: Any) -> str | None:
    text = _optional_text(value)
    return None if text is None else _parsed(parse_date, text)


def _identity(value: Any) -> str | None:
    text = _optional_text(value)
    if text is not None and (len(text) > _IDENTITY_LIMIT or not text.isprintable()):
        raise _Bad("it is no identity")
    return text


def _typed(value: Any) -> Typed | None:
    if value is None:
        return None
    if not isinstance(value, dict):
        raise _Bad("an object stands here")
    texts = ("latitude", "longitude", "notation", "elevation", "elevation_unit")
    unknown = set(value) - {*texts, "decimals"}
    if unknown:
        raise _Bad(f"{', '.join(sorted(unknown))} not known here")
    decimals = value.get("decimals")
    if decimals is not None and (isinstance(decimals, bool) or not isinstance(decimals, int)):
        raise _Bad("decimals is a whole number")
    return Typed(decimals=decimals, **{name: _optional_text(value.get(name)) for name in texts})


_READERS: Mapping[str, Callable[[Any], Any]] = {
    "code": _code,
    "name": _string,
    "position": _position,
    "elevation_m": _elevation,
    "landable": _one_of(Landable),
    "feature": _one_of(Feature),
    "country": _optional_text,
    "radio": _radio,
    "runways": _runways,
    "description": _optional_text,
    "source": _optional_text,
    "inspected_on": _date,
    "identity": _identity,
    "typed": _typed,
    "extras": _optional_text,
}
