"""What a person types about a waypoint, read into values: positions in any notation, elevations with their unit.

What was typed for position and elevation is kept beside the values: the checks for slips need it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from taskdb.core.model import Feature, Landable, Position, Typed
from taskdb.core.names import clean_text, code_problem
from taskdb.core.notation import Axis, Trouble, parse_position, read_angle
from taskdb.core.notation.pairs import read_whole, split_pair, whole_notation
from taskdb.core.quantities import parse_date
from taskdb.errors import UsageError
from taskdb.formats.text import cells
from taskdb.reference.countries import country_code

CLEARABLE = (
    "elevation", "landable", "feature", "country", "radio", "runways", "description", "source", "inspected-on",
)  # fmt: skip
"""What `--clear` takes, as options are called; code, name and position cannot be taken away."""


@dataclass(frozen=True)
class WaypointTexts:
    """What was typed, None where nothing was; `clear` names what is to be emptied."""

    code: str | None = None
    name: str | None = None
    position: str | None = None
    elevation: str | None = None
    landable: Landable | None = None
    feature: Feature | None = None
    country: str | None = None
    radio: str | None = None
    runways: str | None = None
    description: str | None = None
    source: str | None = None
    inspected_on: str | None = None
    clear: tuple[str, ...] = ()


@dataclass(frozen=True)
class ReadValues:
    """The values to set by the model's field names, and what was typed for position and elevation."""

    values: Mapping[str, Any]
    typed: Mapping[str, Any]
    """Fields of `Typed` to set."""


def read_values(texts: WaypointTexts) -> ReadValues:
    """Return the values that were typed. UsageError for what cannot be read or would be guessed."""
    values: dict[str, Any] = {}
    typed: dict[str, Any] = {}
    if texts.code is not None:
        values["code"] = read_code(texts.code)
    if texts.name is not None:
        values["name"] = clean_text(texts.name)
    if texts.position is not None:
        values["position"], given = read_position(texts.position)
        typed |= given
    if texts.elevation is not None:
        values["elevation_m"], unit = _read("--elevation", texts.elevation, cells.read_elevation(
            texts.elevation, None, None), "389m or 1276ft, above mean sea level")  # fmt: skip
        typed |= {"elevation": texts.elevation.strip(), "elevation_unit": unit}
    for name in ("landable", "feature"):
        if getattr(texts, name) is not None:
            values[name] = getattr(texts, name)
    if texts.radio is not None:
        values["radio"] = _read("--radio", texts.radio, cells.read_radio(texts.radio), "123.505 launch; 122.480")
    if texts.runways is not None:
        read = cells.read_runways(texts.runways)
        values["runways"] = _read("--runways", texts.runways, read, "07/25 071deg 850m x 30m grass")
    for name in ("country", "description", "source"):
        text = getattr(texts, name)
        if text is not None:
            values[name] = cells.read_remark(text) if name == "description" else clean_text(text) or None
    if values.get("country"):
        values["country"] = country_code(values["country"]) or values["country"]
    if texts.inspected_on is not None:
        values["inspected_on"] = parse_date(texts.inspected_on)
    return ReadValues({**values, **_cleared(texts.clear, values)}, typed)


def read_code(text: str) -> str:
    """Return a code; UsageError where it cannot be one."""
    code = clean_text(text)
    problem = code_problem(code)
    if problem is not None:
        raise UsageError("bad-code", f"{text!r} cannot be a code: {problem}.", hint="Choose another code.")
    return code


def read_position(text: str) -> tuple[Position, Mapping[str, Any]]:
    """Return a typed position, and what of `Typed` tells how it was written."""
    position = parse_position(text)
    notation = whole_notation(text)
    if notation is not None:
        pair = read_whole(text, notation)
        decimals = None if isinstance(pair, Trouble) else pair.decimals
        return position, {"latitude": text.strip(), "longitude": None, "notation": notation, "decimals": decimals}
    halves = split_pair(text)
    if isinstance(halves, Trouble):  # what parse_position accepts has halves
        return position, {"latitude": text.strip(), "longitude": None, "notation": None, "decimals": None}
    found = [
        next((angle for angle in angles if angle.e7 == e7), None)
        for half, axis, e7 in (
            (halves[0], Axis.LATITUDE, position.latitude_e7),
            (halves[1], Axis.LONGITUDE, position.longitude_e7),
        )
        if not isinstance(angles := read_angle(half, axis), Trouble)
    ]
    known = [angle for angle in found if angle is not None]
    return position, {
        "latitude": halves[0],
        "longitude": halves[1],
        "notation": known[0].notation.value if known else None,
        "decimals": max((angle.decimals for angle in known), default=None),
    }


def with_typed(before: Typed | None, given: Mapping[str, Any], cleared: Sequence[str]) -> Typed | None:
    """Return what was typed with what is typed now; a cleared elevation has nothing typed."""
    values = {name: getattr(before, name) for name in Typed.__dataclass_fields__} if before is not None else {}
    values |= given
    if "elevation_m" in cleared and "elevation" not in given:
        values |= {"elevation": None, "elevation_unit": None}
    return Typed(**values) if any(value is not None for value in values.values()) else None


def _cleared(names: Sequence[str], given: Mapping[str, Any]) -> dict[str, Any]:
    cleared: dict[str, Any] = {}
    for name in names:
        if name not in CLEARABLE:
            raise UsageError(
                "cannot-clear",
                f"--clear: {name!r} cannot be taken away.",
                hint=f"What can: {', '.join(CLEARABLE)}.",
            )
        field = {"elevation": "elevation_m", "inspected-on": "inspected_on"}.get(name, name)
        if field in given:
            raise UsageError(
                "set-and-cleared", f"{name} is both given and cleared.", hint=f"Leave out --clear {name}, or the value."
            )
        cleared[field] = () if field in ("radio", "runways") else None
    return cleared


def _read(option: str, text: str, read: Any, form: str) -> Any:
    if isinstance(read, Trouble):
        suggestion = getattr(read, "suggestion", None)
        hint = f"Perhaps {suggestion}." if suggestion else f"Write it as {form}."
        raise UsageError(
            read.code, f"{option}: {text!r} cannot be read: {read.message}.", hint=hint, details={"value": text}
        )
    return read
