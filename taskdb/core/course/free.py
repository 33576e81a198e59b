"""The points that a modified assigned task leaves to the pilot, in words: how many, from where, again or not, the zone.

The one place that words them, for terminal, sheet, files and logs alike. Nothing is looked up: names are handed in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from taskdb.core.course.axes import default_orientation
from taskdb.core.course.zones import describe_zone
from taskdb.core.model import FreeChoice, Role, Shape, Zone
from taskdb.core.quantities import Units

NOT_SAID = "not said"


def free_zone_problem(zone: Zone) -> str | None:
    """Return why a zone cannot stand at a point that the pilot chooses, None where it can."""
    if zone.shape is Shape.LINE:
        return "a line lies square to a leg, and which legs meet there is the pilot's choice"
    return None


def zone_words(free: FreeChoice, units: Units = Units.KM) -> str:
    """Return the zone of each free point in words; its direction, where it has none given, is that of a turn point."""
    zone = free.zone
    if zone is None:
        return NOT_SAID
    orientation = zone.orientation or default_orientation(zone.shape, Role.TURN)
    return describe_zone(replace(zone, orientation=orientation), units)


def most_words(free: FreeChoice) -> str:
    return "any number" if free.most_points is None else f"up to {free.most_points}"


def from_words(free: FreeChoice, names: Mapping[str, str] | None = None) -> str:
    """Return what the points are chosen from: the codes, with their names where they are known, or the set."""
    if free.from_codes:
        known = names or {}
        return ", ".join(f"{code} {known[code]}" if known.get(code) else code for code in free.from_codes)
    return NOT_SAID if free.from_set is None else f"the set {free.from_set}"


def again_words(free: FreeChoice) -> str:
    """Return whether a point may be chosen again: it may, but with `no_repeat` not twice in a row."""
    return f"a point may come again, {'but not' if free.no_repeat else 'also'} twice in a row"


def free_values(free: FreeChoice | None) -> tuple[tuple[str, str], ...]:
    """Return what is left to the pilot as (what, value); empty where nothing is."""
    if free is None:
        return ()
    return (
        ("free points", most_words(free)),
        ("free points from", from_words(free)),
        ("free point twice in a row", "not allowed" if free.no_repeat else "allowed"),
        ("zone of free points", zone_words(free)),
    )


def free_words(free: FreeChoice | None, units: Units = Units.KM, names: Mapping[str, str] | None = None) -> str:
    """Return the same in two sentences; empty where nothing is left to the pilot."""
    if free is None:
        return ""
    count = "any number of further points" if free.most_points is None else f"{most_words(free)} further points"
    chosen = from_words(free, names)
    source = "; from which is not said" if chosen == NOT_SAID else f" from {chosen}"
    zone = zone_words(free, units)
    at_each = "The zone at each is not said." if zone == NOT_SAID else f"At each: {zone}."
    return f"After the last assigned point the pilot chooses {count}{source}; {again_words(free)}. {at_each}"
