"""Between values and rows: a waypoint's columns, and the small structures that are kept as canonical JSON text.

Knows no tables and no SQL. Positions and elevations become whole numbers (1e-7 degree, 0.1 m), so that equal values
are equal on every engine.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, fields
from json.encoder import JSONEncoder
from typing import Any

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
)
from taskdb.core.names import fold, fold_german

STATE_COLUMNS = (
    "identity", "code", "code_folded", "name", "name_folded", "latitude_e7", "longitude_e7", "elevation_dm",
    "landable", "feature", "country", "radio", "runways", "description", "source", "inspected_on", "typed", "extras",
)  # fmt: skip
"""The columns that `state_values` fills."""

READ_COLUMNS = (
    "identity", "code", "name", "latitude_e7", "longitude_e7", "elevation_dm", "landable", "feature", "country",
    "radio", "runways", "description", "source", "inspected_on", "typed", "extras",
)  # fmt: skip
"""The columns that `waypoint_of` reads, in this order."""

_encode = JSONEncoder(ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":")).encode
_LANDABLE = {item.value: item for item in Landable}
_FEATURE = {item.value: item for item in Feature}
_NAME, _NAME_FOLDED, _CODE_FOLDED = (STATE_COLUMNS.index(name) for name in ("name", "name_folded", "code_folded"))
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


def state_values(waypoint: Waypoint, identity: str) -> tuple[Any, ...]:
    """Return a waypoint's values in the order of STATE_COLUMNS."""
    position = waypoint.position
    return (
        identity,
        waypoint.code,
        fold(waypoint.code),
        waypoint.name,
        fold(waypoint.name),
        position.latitude_e7,
        position.longitude_e7,
        decimetres(waypoint.elevation_m),
        None if waypoint.landable is None else waypoint.landable.value,
        None if waypoint.feature is None else waypoint.feature.value,
        waypoint.country,
        _radio_text(waypoint.radio) if waypoint.radio else None,
        _runways_text(waypoint.runways) if waypoint.runways else None,
        waypoint.description,
        waypoint.source,
        waypoint.inspected_on,
        _typed_text(waypoint.typed) if waypoint.typed is not None else None,
        waypoint.extras,
    )


def words_of(name: str, code: str) -> Iterable[str]:
    """Return the words, each once, that are kept for finding a waypoint.

    They are those of its name, and of its code only where that folds to several: a code of one word is found by its
    own folded column, which saves a quarter of all words.
    """
    return _words(name, fold(name), fold(code))


def words_of_values(values: Sequence[Any]) -> Iterable[str]:
    """Return what `words_of` does, from state values, which hold name and code folded already."""
    return _words(values[_NAME], values[_NAME_FOLDED], values[_CODE_FOLDED])


def _words(name: str, name_folded: str, code_folded: str) -> Iterable[str]:
    words = set(name_folded.split())
    if not name.isascii():
        words.update(fold_german(name).split())
    if " " in code_folded:
        words.update(code_folded.split())
    return words


def waypoint_of(row: Sequence[Any]) -> Waypoint:
    """Return the waypoint of a row with READ_COLUMNS."""
    (identity, code, name, latitude, longitude, elevation, landable, feature, country,
     radio, runways, description, source, inspected_on, typed, extras) = row  # fmt: skip
    return Waypoint(
        code=code,
        name=name,
        position=Position.from_e7(latitude, longitude),
        elevation_m=None if elevation is None else elevation / 10,
        landable=None if landable is None else _LANDABLE[landable],
        feature=None if feature is None else _FEATURE[feature],
        country=country,
        radio=() if radio is None else tuple(Radio(*item) for item in json.loads(radio)),
        runways=() if runways is None else tuple(Runway(*item) for item in json.loads(runways)),
        description=description,
        source=source,
        inspected_on=inspected_on,
        identity=identity,
        typed=None if typed is None else _typed_of(typed),
        extras=extras,
    )


# Lists in the order of the value's fields: half as long as objects, and a million of them are written in an import.
def _radio_text(radio: Sequence[Radio]) -> str:
    return _encode([[item.channel, item.purpose] for item in radio])


def _runways_text(runways: Sequence[Runway]) -> str:
    return _encode([[getattr(item, name) for name in _RUNWAY_FIELDS] for item in runways])


def _typed_text(typed: Typed) -> str:
    a, b, c, d, e, f = values = (
        typed.latitude, typed.longitude, typed.notation, typed.decimals, typed.elevation, typed.elevation_unit
    )  # fmt: skip
    if None not in values:
        # Several times as fast as the encoder where nothing needs an escape: an import writes a million of these.
        text = f'["{a}","{b}","{c}",{d},"{e}","{f}"]'
        if text.isprintable() and text.count('"') == 10 and "\\" not in text:
            return text
    return _encode(values)


def _typed_of(text: str) -> Typed:
    parts = text.split('"')
    if len(parts) == 11 and "\\" not in text:  # all five texts, none with an escape: what _typed_text writes fast
        return Typed(parts[1], parts[3], parts[5], int(parts[6][1:-1]), parts[7], parts[9])
    return Typed(*json.loads(text))


def zone_json(zone: Zone) -> str:
    """Return a zone as resolved, with its axis and its text."""
    values = {name: value for name, value in asdict(zone).items() if value is not None}
    return _encode(values)


def zone_of(text: str) -> Zone:
    values = json.loads(text)
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
    return None if free is None else _encode(asdict(free))


def free_of(text: str | None) -> FreeChoice | None:
    if text is None:
        return None
    values = json.loads(text)
    return FreeChoice(**{**values, "from_codes": tuple(values["from_codes"])})


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


def settings_json(settings: Mapping[str, Any]) -> str:
    from taskdb.core.plain import canonical_json, plain

    return canonical_json(plain(settings))
