"""Observation zones as text: read what a person types, write a zone back, describe it to people.

Shapes and their words only; where a zone lies and what it holds is computed in the modules beside this one.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from taskdb.core.model import Orientation, Role, Shape, Zone
from taskdb.core.numbers import shortest_decimal
from taskdb.core.quantities import NAUTICAL_MILE_M, STATUTE_MILE_M, Units, parse_bearing_deg, parse_distance_m
from taskdb.errors import UsageError

ZONE_FORMS = (
    "cylinder 5km",
    "line 1km [BEARING]",
    "sector 90deg [20km] [ORIENTATION]",
    "keyhole 500m 90deg 10km [ORIENTATION]",
    "area 20km",
    "area 5km..30km",
    "area 5km..30km 040..110",
)
"""The forms in which a zone can be typed."""

LARGEST_M = 1_000_000.0
SMALLEST_M = 1.0
"""Sizes beyond these are typing errors: no zone is wider than the flight, none smaller than the glider."""

_WORDS_OF_ORIENTATION = tuple(o.value for o in Orientation if o is not Orientation.BEARING)
_NUMBER = r"(?:\d+(?:\.\d+)?|\.\d+)"
_BLANK_BEFORE_UNIT = re.compile(
    rf"(?:(?<![\w.])|(?<=\.\.))({_NUMBER})\s+(km|nmi|mi|m|ft|deg|°)(?![\w/])", re.IGNORECASE
)
_BLANK_IN_RANGE = re.compile(r"\s*\.\.\s*")
_ANGLE = re.compile(rf"({_NUMBER})(?:deg|°)", re.IGNORECASE)
_BARE = re.compile(_NUMBER)


class _Unreadable(Exception):
    """One reason why the text is no zone; gathered, so that a person reads all of them at once."""

    def __init__(self, reason: str, code: str = "bad-zone") -> None:
        super().__init__(reason)
        self.code = code


def _words(text: str) -> list[str]:
    joined = _BLANK_IN_RANGE.sub("..", text.strip().lower())
    return _BLANK_BEFORE_UNIT.sub(r"\1\2", joined).split()


def is_zone_text(text: str) -> bool:
    """Return whether a word is meant as a zone: the name of a shape followed by a number.

    A number without its unit counts too, so that `cylinder 5` is refused for the missing unit instead of being
    looked up as a waypoint; a waypoint called "Line 5" is given by its code.
    """
    words = _words(text)
    return len(words) > 1 and words[0] in set(Shape) and re.match(r"\.?\d", words[1]) is not None


def parse_zone(text: str) -> Zone:
    """Return the zone for `cylinder 5km`, `sector 90deg 20km bisector`, `area 5km..30km 040..110` and their kin.

    Case and blanks do not matter; `text` keeps numbers and units as typed and parses back to an equal zone.
    Raises UsageError `missing-unit` where a size is a bare number, else `bad-zone`; the hint lists the forms.
    """
    words = _words(text)
    if not words or words[0] not in set(Shape):
        raise _refusal(text, [_Unreadable(f"a zone begins with one of {', '.join(Shape)}")])
    shape = Shape(words[0])
    reader = _Reader(words[1:])
    zone = _READERS[shape](reader, Zone(shape, " ".join(words)))
    reader.finish()
    if reader.problems:
        raise _refusal(text, reader.problems)
    return zone


def _refusal(text: str, problems: list[_Unreadable]) -> UsageError:
    missing = all(p.code == "missing-unit" for p in problems)
    reasons = [str(p) for p in problems]
    return UsageError(
        "missing-unit" if missing else "bad-zone",
        f"{text!r} is not a zone: {'; '.join(reasons)}.",
        hint=f"Write one of: {' · '.join(ZONE_FORMS)}. "
        f"ORIENTATION is {', '.join(_WORDS_OF_ORIENTATION)} or a true bearing. "
        "A waypoint with such a name is given by its code.",
        details={"value": text, "reasons": reasons, "forms": list(ZONE_FORMS)},
    )


class _Reader:
    """Takes the words of a zone one after the other and gathers what is wrong with them."""

    def __init__(self, words: list[str]) -> None:
        self.words = words
        self.problems: list[_Unreadable] = []

    def next(self) -> str | None:
        return self.words[0] if self.words else None

    def take(self, what: str) -> str | None:
        if not self.words:
            self.problems.append(_Unreadable(f"the {what} is missing"))
            return None
        return self.words.pop(0)

    def size(self, what: str, word: str | None, smallest_m: float = SMALLEST_M) -> float | None:
        """Return metres, or None with the problem noted."""
        if word is None:
            return None
        if _BARE.fullmatch(word):
            self.problems.append(_Unreadable(f"the {what} {word!r} has no unit (km, m, mi, nmi, ft)", "missing-unit"))
            return None
        try:
            metres = parse_distance_m(word)
        except UsageError:
            self.problems.append(_Unreadable(f"{word!r} is not a {what} (a distance with its unit)"))
            return None
        if not smallest_m <= metres <= LARGEST_M:
            self.problems.append(_Unreadable(f"the {what} {word!r} is not between {smallest_m:g} m and 1000 km"))
        return metres

    def opening(self) -> float | None:
        word = self.take("opening")
        if word is None:
            return None
        match = _ANGLE.fullmatch(word)
        if match is None:
            bare = _BARE.fullmatch(word) is not None
            reason = f"the opening {word!r} has no unit (deg)" if bare else f"{word!r} is not an opening such as 90deg"
            self.problems.append(_Unreadable(reason, "missing-unit" if bare else "bad-zone"))
            return None
        degrees = float(match[1])
        if not 0 < degrees < 360:
            self.problems.append(_Unreadable(f"the opening {word!r} is not between 0 and 360 degrees"))
        return degrees

    def bearing(self, what: str, word: str) -> float | None:
        try:
            return parse_bearing_deg(word)
        except UsageError:
            self.problems.append(_Unreadable(f"{word!r} is not {what}"))
            return None

    def oriented(self, zone: Zone) -> Zone:
        """Return the zone with the orientation that may follow: a word, or a true bearing, which is its axis."""
        word = self.next()
        if word is None:
            return zone
        self.words.pop(0)
        if word in _WORDS_OF_ORIENTATION:
            return replace(zone, orientation=Orientation(word))
        axis = self.bearing("an orientation or a true bearing from 0 to 360", word)
        return replace(zone, orientation=Orientation.BEARING, axis_deg=axis)

    def finish(self) -> None:
        if self.words:
            self.problems.append(_Unreadable(f"{' '.join(self.words)!r} is too much"))


def _read_cylinder(reader: _Reader, zone: Zone) -> Zone:
    return replace(zone, radius_m=reader.size("radius", reader.take("radius")))


def _read_line(reader: _Reader, zone: Zone) -> Zone:
    return reader.oriented(replace(zone, length_m=reader.size("length", reader.take("length"))))


def _read_sector(reader: _Reader, zone: Zone) -> Zone:
    zone = replace(zone, opening_deg=reader.opening())
    word = reader.next()
    # A bare number behind the opening is a bearing; a size carries its unit.
    if word is not None and re.match(r"\.?\d", word) and not (_BARE.fullmatch(word) or _ANGLE.fullmatch(word)):
        zone = replace(zone, radius_m=reader.size("radius", reader.words.pop(0)))
    return reader.oriented(zone)


def _read_keyhole(reader: _Reader, zone: Zone) -> Zone:
    zone = replace(zone, core_radius_m=reader.size("cylinder's radius", reader.take("cylinder's radius")))
    zone = replace(zone, opening_deg=reader.opening())
    return reader.oriented(replace(zone, radius_m=reader.size("sector's radius", reader.take("sector's radius"))))


def _read_area(reader: _Reader, zone: Zone) -> Zone:
    word = reader.take("radius") or ""
    inner, dots, outer = word.rpartition("..")
    if word:
        zone = replace(
            zone,
            radius_m=reader.size("outer radius" if dots else "radius", outer),
            inner_radius_m=reader.size("inner radius", inner, 0.0) if dots else None,
        )
    if zone.radius_m and zone.inner_radius_m and zone.inner_radius_m >= zone.radius_m:
        reader.problems.append(_Unreadable("the inner radius is not smaller than the outer one"))
    radials = reader.next()
    if radials is None:
        return zone
    reader.words.pop(0)
    first, dots, second = radials.partition("..")
    if not dots:
        reader.problems.append(_Unreadable(f"{radials!r} is not a pair of radials such as 040..110"))
        return zone
    return replace(
        zone,
        from_radial_deg=reader.bearing("a radial from 0 to 360", first),
        to_radial_deg=reader.bearing("a radial from 0 to 360", second),
    )


_READERS = {
    Shape.CYLINDER: _read_cylinder,
    Shape.LINE: _read_line,
    Shape.SECTOR: _read_sector,
    Shape.KEYHOLE: _read_keyhole,
    Shape.AREA: _read_area,
}


def _size_text(metres: float) -> str:
    if metres >= 1000 and metres % 1 == 0:
        kilometres = shortest_decimal(metres / 1000)
        if float(kilometres) * 1000 == metres:
            return f"{kilometres}km"
    return f"{shortest_decimal(metres)}m"


def _radial_text(degrees: float) -> str:
    whole, dot, part = shortest_decimal(degrees).partition(".")
    return f"{whole:0>3}{dot}{part}"


def zone_text(zone: Zone) -> str:
    """Return the text that parses back to the zone's geometry, for zones that were made from numbers; metric units.

    A zone that was typed has its own `text`, which keeps the units of the one who typed it.
    """
    words: list[str] = [zone.shape.value]
    if zone.core_radius_m is not None:
        words.append(_size_text(zone.core_radius_m))
    if zone.length_m is not None:
        words.append(_size_text(zone.length_m))
    if zone.opening_deg is not None:
        words.append(f"{shortest_decimal(zone.opening_deg)}deg")
    if zone.radius_m is not None:
        inner = "" if zone.inner_radius_m is None else f"{_size_text(zone.inner_radius_m)}.."
        words.append(f"{inner}{_size_text(zone.radius_m)}")
    if zone.from_radial_deg is not None and zone.to_radial_deg is not None:
        words.append(f"{_radial_text(zone.from_radial_deg)}..{_radial_text(zone.to_radial_deg)}")
    if zone.orientation is Orientation.BEARING and zone.axis_deg is not None:
        words.append(_radial_text(zone.axis_deg))
    elif zone.orientation is not None:
        words.append(zone.orientation.value)
    return " ".join(words)


def is_round(zone: Zone) -> bool:
    """Return whether a zone is of one size: a cylinder, an area, a ring or a segment of one."""
    return zone.shape in (Shape.CYLINDER, Shape.AREA)


def with_radius(zone: Zone, size: str) -> Zone:
    """Return a round zone with another radius, the outer one, as it is typed (`12km`); the rest of its text stays.

    UsageError where a ring's inner radius is not below it.
    """
    words = _words(zone.text)
    inner, dots, _ = words[1].rpartition("..")
    return parse_zone(" ".join([words[0], f"{inner}{dots}{size}", *words[2:]]))


def size_words(metres: float, units: Units) -> str:
    """Return the size of a zone for people, exact to the metre: `500 m`, `20 km`, `0.5 mi`."""
    if units is Units.KM:
        return f"{metres / 1000:.3f}".rstrip("0").rstrip(".") + " km" if metres >= 1000 else f"{round(metres, 1):g} m"
    per_unit = STATUTE_MILE_M if units is Units.MI else NAUTICAL_MILE_M
    return f"{metres / per_unit:.3f}".rstrip("0").rstrip(".") + f" {units.value}"


_OPENS = {
    Orientation.AWAY_FROM_NEXT: "opens away from the next point",
    Orientation.BISECTOR: "opens outwards along the bisector of the legs",
    Orientation.AWAY_FROM_PREVIOUS: "opens away from the previous point",
    Orientation.TOWARDS_NEXT: "opens towards the next point",
    Orientation.TOWARDS_PREVIOUS: "opens towards the previous point",
}


def _opens(zone: Zone) -> str:
    if zone.axis_deg is not None:
        return f", opens towards {round(zone.axis_deg) % 360:03d}°"
    return f", {_OPENS[zone.orientation]}" if zone.orientation in _OPENS else ""


def describe_zone(zone: Zone, units: Units = Units.KM) -> str:
    """Return the zone in words for people, always "radius" or "each side", never a width that can be read both ways.

    The direction is the resolved one where the zone was resolved at its point. Below one kilometre in metres.
    """
    if zone.shape is Shape.LINE and zone.length_m is not None:
        return f"line {size_words(zone.length_m, units)}, {size_words(zone.length_m / 2, units)} each side"
    radius = "no limit of radius" if zone.radius_m is None else f"radius {size_words(zone.radius_m, units)}"
    if zone.shape is Shape.SECTOR:
        return f"sector {zone.opening_deg:g}°, {radius}{_opens(zone)}"
    if zone.shape is Shape.KEYHOLE:
        core = size_words(zone.core_radius_m or 0.0, units)
        return f"keyhole: cylinder radius {core} and sector {zone.opening_deg:g}°, {radius}{_opens(zone)}"
    if zone.inner_radius_m and zone.radius_m is not None:
        radius = f"{size_words(zone.inner_radius_m, units)} to {size_words(zone.radius_m, units)}"
    if zone.from_radial_deg is not None and zone.to_radial_deg is not None:
        first, second = round(zone.from_radial_deg) % 360, round(zone.to_radial_deg) % 360
        radius += f", from {first:03d}° clockwise to {second:03d}°"
    return f"{zone.shape.value}, {radius}"


def canonical(zone: Zone, orientation: Orientation | None = None) -> Zone:
    """Return a zone in the one form that its airspace has, without its text.

    No inner radius of 0, no radials that are the full circle, and no axis but one that was given as a bearing: others
    follow from the neighbours. `orientation` counts where the zone has none of its own.
    """
    orientation = zone.orientation or orientation
    is_full = zone.from_radial_deg == zone.to_radial_deg
    is_given = orientation is Orientation.BEARING and zone.axis_deg is not None
    return replace(
        zone,
        text="",
        inner_radius_m=zone.inner_radius_m or None,
        from_radial_deg=None if is_full else zone.from_radial_deg,
        to_radial_deg=None if is_full else zone.to_radial_deg,
        orientation=orientation,
        axis_deg=(zone.axis_deg or 0.0) % 360 if is_given else None,
    )


def same_geometry(a: Zone, b: Zone) -> bool:
    """Return whether two zones are the same airspace at the same point of the same task, resolved or not."""
    return canonical(a) == canonical(b)


def is_bounded(zone: Zone) -> bool:
    """Return whether the zone is an airspace with an end: no line, no sector without a radius."""
    return zone.shape is not Shape.LINE and zone.radius_m is not None


def allowed_for_role(zone: Zone, role: Role) -> str | None:
    """Return why the zone cannot stand at a point of that role, or None where it can.

    A point of role area needs a bounded zone, else its task has no maximum.
    """
    if role is Role.AREA and zone.shape is Shape.LINE:
        return "a line holds no area to fly into; give a cylinder, an area, a keyhole or a sector with a radius"
    if role is Role.AREA and not is_bounded(zone):
        return "a sector without a radius has no furthest point; give it a radius, such as 'sector 90deg 20km'"
    return None


BUILT_IN_ZONES: Mapping[Role, Zone] = MappingProxyType(
    {
        Role.START: parse_zone("line 1km"),
        Role.TURN: parse_zone("cylinder 500m"),
        Role.AREA: parse_zone("area 20km"),
        Role.FINISH: parse_zone("line 1km"),
    }
)
"""What a point gets where neither its contest nor a person gave it a zone (common practice, no source)."""
