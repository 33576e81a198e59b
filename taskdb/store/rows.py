"""Between values and rows: a waypoint's columns, and the small structures that are kept as canonical JSON text.

Knows no tables and no SQL. Positions and elevations become whole numbers (1e-7 degree, 0.1 m), so that equal values
are equal on every engine.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, fields, replace
from functools import lru_cache
from itertools import repeat
from json.encoder import JSONEncoder
from operator import add
from typing import Any

from taskdb.core.asked_for import AskedFor
from taskdb.core.model import (
    Deduction,
    Earth,
    Feature,
    FreeChoice,
    Landable,
    Orientation,
    Place,
    Position,
    Radio,
    Rules,
    Runway,
    Shape,
    TriangleRules,
    Typed,
    Waypoint,
    Zone,
    ZoneFrom,
)
from taskdb.core.names import fold_all
from taskdb.core.waypoint_columns import VALUE_COLUMNS, TypedColumns, WaypointColumns

STATE_COLUMNS = (
    "identity", "code", "code_folded", "name", "name_folded", "latitude_e7", "longitude_e7", "elevation_dm",
    "landable", "feature", "country", "radio", "runways", "description", "source", "inspected_on", "typed", "extras",
)  # fmt: skip
"""The columns that `state_columns` fills."""

READ_COLUMNS = (
    "identity", "code", "name", "latitude_e7", "longitude_e7", "elevation_dm", "landable", "feature", "country",
    "radio", "runways", "description", "source", "inspected_on", "typed", "extras",
)  # fmt: skip
"""The columns that `waypoint_of` reads, in this order."""

_encode = JSONEncoder(ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":")).encode
_LANDABLE: dict[str | None, Landable | None] = {None: None, **{item.value: item for item in Landable}}
_FEATURE: dict[str | None, Feature | None] = {None: None, **{item.value: item for item in Feature}}
_RUNWAY_FIELDS = tuple(item.name for item in fields(Runway))


def to_json(value: Any) -> str:
    """Return canonical JSON text: the same for the same value, letters as they are."""
    return _encode(value)


def from_json(text: str | None, default: Any = None) -> Any:
    """Return the value of JSON text, or `default` where there is none."""
    return default if text is None else json.loads(text)


def decimetres(metres: float | None) -> int | None:
    return None if metres is None else round(metres * 10)


def metres_of(dm: int | None) -> float | None:
    return None if dm is None else dm / 10


def state_columns(columns: WaypointColumns, identities: Sequence[str]) -> tuple[Sequence[Any] | None, ...]:
    """Return the columns of states in the order of STATE_COLUMNS; None for one that is empty in all rows."""
    codes, names, values = columns.codes, columns.names, columns.values
    kept = {name: _kept(name, values[name]) for name in VALUE_COLUMNS if name in values}
    return (
        identities,
        codes,
        fold_all(codes),
        names,
        fold_all(names),
        columns.latitudes_e7,
        columns.longitudes_e7,
        *(kept.get(name) for name in VALUE_COLUMNS[:-1]),
        None if columns.typed is None else _typed_column(columns.typed),
        kept.get("extras"),
    )


class _Once(dict[Any, Any]):
    """What each different value becomes, found out once: a column of a million repeats a few."""

    def __init__(self, become: Callable[[Any], Any]) -> None:
        super().__init__()
        self.become = become

    def __missing__(self, value: Any) -> Any:
        found = self[value] = self.become(value)
        return found


def _kept(name: str, values: Sequence[Any]) -> Sequence[Any] | None:
    """Return a column of VALUE_COLUMNS as it is kept, None where all of it is empty."""
    form = _FORMS.get(name)
    return _unless_empty(values if form is None else list(map(_Once(form[0]).__getitem__, values)))


def _unless_empty(column: Sequence[Any]) -> Sequence[Any] | None:
    return None if column.count(None) == len(column) else column


def waypoint_of(row: Sequence[Any]) -> Waypoint:
    """Return the waypoint of a row with READ_COLUMNS."""
    (identity, code, name, latitude, longitude, elevation, landable, feature, country,
     radio, runways, description, source, inspected_on, typed, extras) = row  # fmt: skip
    return Waypoint(
        code=code,
        name=name,
        position=Position.from_e7(latitude, longitude),
        elevation_m=None if elevation is None else elevation / 10,
        landable=_LANDABLE[landable],
        feature=_FEATURE[feature],
        country=country,
        radio=() if radio is None else _radio_of(radio),
        runways=() if runways is None else _runways_of(runways),
        description=description,
        source=source,
        inspected_on=inspected_on,
        identity=identity,
        typed=None if typed is None else _typed_of(typed),
        extras=extras,
    )


def columns_of(rows: Sequence[Sequence[Any]], read: Sequence[str] = READ_COLUMNS) -> WaypointColumns:
    """Return the waypoints of rows, one or more, as columns: what `waypoint_of` gives one by one.

    `read` are the columns of the rows; others than code, name and position may be left out, and are then empty.
    """
    kept: dict[str, Sequence[Any]] = dict(zip(read, zip(*rows, strict=True), strict=True))
    if "elevation_dm" in kept:
        kept["elevation_m"] = kept.pop("elevation_dm")
    typed = _unless_empty(kept["typed"]) if "typed" in kept else None
    values = {}
    for name in VALUE_COLUMNS:
        column = _unless_empty(kept[name]) if name in kept else None
        if column is not None:
            form = _FORMS.get(name)
            values[name] = column if form is None else list(map(_Once(form[1]).__getitem__, column))
    return WaypointColumns(
        kept["code"],
        kept["name"],
        kept["latitude_e7"],
        kept["longitude_e7"],
        values,
        None if typed is None else _TypedTexts(typed),
        kept.get("identity"),
    )


class _TypedTexts(AskedFor[Typed | None]):
    """What was typed, as it is kept: read only where it is asked for, which in comparing is nearly nowhere."""

    __slots__ = ("texts",)

    def __init__(self, texts: Sequence[str | None]) -> None:
        self.texts = texts

    def __len__(self) -> int:
        return len(self.texts)

    def _item(self, index: int) -> Typed | None:
        text = self.texts[index]
        return None if text is None else _typed_of(text)


# Lists in the order of the value's fields: half as long as objects, and a million of them are written in an import.
def _radio_text(radio: Sequence[Radio]) -> str:
    return _encode([[item.channel, item.purpose] for item in radio])


def _runways_text(runways: Sequence[Runway]) -> str:
    return _encode([[getattr(item, name) for name in _RUNWAY_FIELDS] for item in runways])


def _radio_of(text: str) -> tuple[Radio, ...]:
    return tuple(Radio(*item) for item in json.loads(text))


def _runways_of(text: str) -> tuple[Runway, ...]:
    return tuple(Runway(*item) for item in json.loads(text))


def _value(kind: Landable | Feature | None) -> str | None:
    return None if kind is None else kind.value


_FORMS: Mapping[str, tuple[Callable[[Any], Any], Callable[[Any], Any]]] = {
    "elevation_m": (decimetres, metres_of),
    "landable": (_value, _LANDABLE.__getitem__),
    "feature": (_value, _FEATURE.__getitem__),
    "radio": (lambda radio: _radio_text(radio) if radio else None, lambda text: _radio_of(text) if text else ()),
    "runways": (
        lambda strips: _runways_text(strips) if strips else None,
        lambda text: _runways_of(text) if text else (),
    ),
}
"""How a value of a column is kept, and read again; other columns are kept as they are."""


def _typed_column(typed: Sequence[Typed | None]) -> Sequence[str | None] | None:
    """Return what was typed as JSON text, row by row; None where nothing was."""
    if isinstance(typed, TypedColumns):
        texts = _typed_texts(typed)
        if texts is not None:
            return texts
    return _unless_empty([None if one is None else _typed_text(one) for one in typed])


def _typed_text(typed: Typed) -> str:
    return _encode(
        (typed.latitude, typed.longitude, typed.notation, typed.decimals, typed.elevation, typed.elevation_unit)
    )


def _typed_texts(typed: TypedColumns) -> list[str] | None:
    """Return what `_typed_text` gives for each row, several times as fast; None where texts are not plain enough."""
    joined = "\n".join(typed.coordinates)
    rows = len(typed)
    plain = joined.count("\n") == rows - 1 and joined.count("\t") == rows and "\t\n" not in joined + "\n"
    if not plain or "\\" in joined or not joined.replace("\t", "").replace("\n", "").isprintable():
        return None
    quoted = joined.replace('"', '\\"').replace("\t", '","').replace("\n", '\n["')
    nothing = repeat(None)
    kinds = (repeat(typed.notation), typed.decimals, typed.elevations or nothing, typed.units or nothing)
    return list(map(add, f'["{quoted}'.split("\n"), map(_typed_end, *kinds)))


@lru_cache(maxsize=1 << 14)  # a list has some thousand heights, and every batch of its rows nearly all of them
def _typed_end(notation: str | None, decimals: int, elevation: str | None, unit: str | None) -> str:
    """Return what stands in `_typed_text` behind the longitude."""
    return '",' + _encode([notation, decimals, elevation, unit])[1:]


def _typed_of(text: str) -> Typed:
    parts = text.split('"')
    # All five texts, none with an escape, and a number between them: as nearly all are.
    if len(parts) == 11 and "\\" not in text and parts[6] != ",null,":
        return Typed(parts[1], parts[3], parts[5], int(parts[6][1:-1]), parts[7], parts[9])
    return Typed(*json.loads(text))


def zone_json(zone: Zone) -> str:
    """Return a zone as resolved, with its axis and its text."""
    values = {name: value for name, value in asdict(zone).items() if value is not None}
    return _encode(values)


def zone_of(text: str) -> Zone:
    return _zone_of(json.loads(text))


def _zone_of(values: dict[str, Any]) -> Zone:
    values["shape"] = Shape(values["shape"])
    if "orientation" in values:
        values["orientation"] = Orientation(values["orientation"])
    return Zone(**values)


def rules_json(rules: Rules) -> str:
    return _encode(asdict(rules))


def rules_of(text: str) -> Rules:
    values = json.loads(text)
    return Rules(
        earth=Earth(values["earth"]),
        start_deduction=Deduction(values["start_deduction"]),
        finish_deduction=Deduction(values["finish_deduction"]),
        triangle=TriangleRules(**values["triangle"]),
        closed_within_m=values["closed_within_m"],
    )


def free_json(free: FreeChoice | None) -> str | None:
    if free is None:
        return None
    values = asdict(replace(free, zone=None))
    values["zone"] = None if free.zone is None else json.loads(zone_json(free.zone))
    # A choice of which the zone is not said is kept as it was before there was one to say.
    return _encode({name: value for name, value in values.items() if value is not None or name not in _LATER})


_LATER = ("zone", "zone_from")


def free_of(text: str | None) -> FreeChoice | None:
    if text is None:
        return None
    values = json.loads(text)
    zone, origin = values.pop("zone", None), values.pop("zone_from", None)
    return FreeChoice(
        **{**values, "from_codes": tuple(values["from_codes"])},
        zone=None if zone is None else _zone_of(zone),
        zone_from=None if origin is None else ZoneFrom(origin),
    )


def place_json(place: Place | None) -> str | None:
    if place is None:
        return None
    return _encode(
        {
            "code": place.code,
            "name": place.name,
            "latitude_e7": place.position.latitude_e7,
            "longitude_e7": place.position.longitude_e7,
            "elevation_dm": decimetres(place.elevation_m),
            "identity": place.identity,
        }
    )


def place_of(text: str | None) -> Place | None:
    if text is None:
        return None
    values = json.loads(text)
    return Place(
        code=values["code"],
        name=values["name"],
        position=Position.from_e7(values["latitude_e7"], values["longitude_e7"]),
        elevation_m=metres_of(values["elevation_dm"]),
        identity=values["identity"],
    )
