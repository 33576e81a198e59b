"""Changes in words for people: values of fields, moves, changed fields. Used on the terminal and in notices alike.

Nothing is escaped here: that is for whoever writes to a terminal or a page.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from taskdb.core.facilities import format_radio, format_runway, format_runways
from taskdb.core.history.facts import ChangeFacts, Counts, LeftOut
from taskdb.core.model import Position, Runway, Waypoint
from taskdb.core.numbers import counted
from taskdb.core.quantities import Units, format_bearing, format_distance

NOTHING = "–"
FIELD_WORDS = {
    "code": "code",
    "name": "name",
    "position": "position",
    "elevation_m": "elevation",
    "landable": "landable",
    "feature": "feature",
    "country": "country",
    "radio": "radio",
    "runways": "runways",
    "description": "description",
    "source": "source",
    "inspected_on": "inspected",
}
"""What people call the fields of a waypoint."""


def length_words(metres: float, units: Units = Units.KM) -> str:
    """Return a small distance: `4 cm`, `3.4 m`, `134 m`, from a kilometre on in the chosen unit."""
    if metres < 0.995:
        return f"{metres * 100:.0f} cm"
    if metres < 9.95:
        return f"{metres:.1f} m"
    return f"{metres:.0f} m" if metres < 999.5 else format_distance(metres, units)


def moved_words(fact: ChangeFacts, units: Units = Units.KM) -> str | None:
    """Return `moved 134 m towards 045°`, `refined by 12 m` where that is rounding, None where the waypoint stayed."""
    if fact.moved_m is None:
        return None
    if fact.is_refined:
        return f"refined by {length_words(fact.moved_m, units)}, within the rounding of what stood"
    if fact.bearing_deg is None:
        return "moved by less than a millimetre"
    return f"moved {length_words(fact.moved_m, units)} towards {format_bearing(fact.bearing_deg)}°"


def value_words(field: str, value: Any) -> str:
    """Return a field's value as people write it; a dash for nothing."""
    if value is None or value == () or value == "":
        return NOTHING
    if isinstance(value, Position):
        return f"{value.latitude_deg:.7f}, {value.longitude_deg:.7f}"
    if isinstance(value, Runway):
        return format_runway(value)
    if isinstance(value, tuple):
        if all(isinstance(item, Runway) for item in value):
            return format_runways(value)
        return format_radio(value)
    if field == "elevation_m":
        return f"{value:.1f}".removesuffix(".0") + " m"
    return str(value)


def field_words(field: str, old: Waypoint, new: Waypoint) -> str:
    """Return `elevation 389 m → 391 m` for a changed field."""
    before, after = value_words(field, getattr(old, field)), value_words(field, getattr(new, field))
    return f"{FIELD_WORDS[field]} {before} → {after}"


def change_words(fact: ChangeFacts, units: Units = Units.KM) -> list[str]:
    """Return everything that a change does, a phrase each: renumbered, renamed, moved, other fields."""
    phrases = []
    if fact.is_renumbered:
        phrases.append(f"renumbered {fact.old.code} → {fact.new.code}")
    if fact.is_renamed:
        phrases.append(f"renamed {fact.old.name or NOTHING} → {fact.new.name or NOTHING}")
    moved = moved_words(fact, units)
    if moved is not None:
        phrases.append(moved)
    return phrases + [field_words(field, fact.old, fact.new) for field in fact.others]


def headline(counts: Counts) -> str:
    """Return `3 added, 1 retired, 7 changed (2 renumbered, 3 moved, 4 with other fields)`; `no difference`."""
    parts = _numbered((counts.added, "added"), (counts.retired, "retired"), (counts.changed, "changed"))
    kinds = _numbered(
        (counts.renumbered, "renumbered"),
        (counts.renamed, "renamed"),
        (counts.moved, "moved"),
        (counts.refined, "refined"),
        (counts.others, "with other fields"),
    )
    text = ", ".join(parts) or "no difference"
    return f"{text} ({', '.join(kinds)})" if kinds else text


def _numbered(*numbers: tuple[int, str]) -> list[str]:
    """Return `3 added` for each number that is not zero."""
    return [f"{number} {word}" for number, word in numbers if number]


def left_out_words(left_out: LeftOut, tolerance_m: float) -> str | None:
    """Return what a tolerance left out, None for nothing."""
    if left_out.is_nothing:
        return None
    parts = _and(
        [
            counted(left_out.moves, "move") if left_out.moves else None,
            counted(left_out.elevations, "elevation") if left_out.elevations else None,
        ]
    )
    only = ""
    if left_out.waypoints:
        has = "has" if left_out.waypoints == 1 else "have"
        only = f"; {counted(left_out.waypoints, 'waypoint')} {has} no other change"
    return f"left out as within {length_words(tolerance_m)}: {parts}{only}"


def _and(parts: Iterable[str | None]) -> str:
    return " and ".join(part for part in parts if part)
