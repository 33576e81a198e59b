"""The figures of courses by criterion: functions over blocks of them, made once from what is known."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from taskdb.core.geodesy import inverses
from taskdb.core.kinds import Feature, HomeAt, Landable, ProposedShape
from taskdb.core.proposing import criteria as by
from taskdb.core.proposing.apart import Places
from taskdb.core.proposing.blocks import Block, Figure, Given
from taskdb.core.proposing.legs import Floats, LegTable

if TYPE_CHECKING:
    from taskdb.core.model import Waypoint
    from taskdb.core.quantities import Wind


def figures_of(given: Given) -> dict[str, Figure | str]:
    """Return for each criterion what computes its figure, or in words why nothing does."""
    known = given.waypoints
    return {
        by.INTO_WIND: "no wind is given" if given.wind is None else _head_wind(given.places, given.wind, first=True),
        by.WIND_HOME: "no wind is given" if given.wind is None else _head_wind(given.places, given.wind, first=False),
        by.FEATURES: _count([_is_seen(w) for w in known], "the set says of no turn point what marks it"),
        by.INSPECTED: _inspected(known, given.inspected_since),
        by.LANDABLE: _landable(known),
        by.OUT_OF_REACH: _sum_of_legs(given.out_of_reach_m, "not known: glide ratio and working altitude"),
        by.SUN: "not known: date, opening of the start, planned speed" if given.sun_deg is None else given.sun_deg,
        by.AIRSPACE: _least_of_legs(given.airspace_m, "no airspace is given"),
        by.LAST_FLOWN: _months(given),
        by.FINISHERS: _finishers(given),
        by.ANGLE: _angle(given),
        by.MARGIN: _margin if given.shape is ProposedShape.FAI_TRIANGLE else "only FAI triangles have limits",
    }


def _head_wind(places: Places, wind: Wind, *, first: bool) -> Figure:
    """Return the wind from ahead on first legs, or from behind on last ones, km/h, by the course they begin with."""
    latitudes, longitudes = places.latitudes, places.longitudes
    at_home = (np.full_like(latitudes, latitudes[-1]), np.full_like(longitudes, longitudes[-1]))
    begin, end = (at_home, (latitudes, longitudes)) if first else ((latitudes, longitudes), at_home)
    course, _ = inverses(*begin, *end)
    ahead = wind.speed_kmh * np.cos(np.radians(course - wind.from_deg))
    of_place = ahead if first else -ahead
    return lambda block: of_place[block.turns[:, 0 if first else -1]]


def _count(holds: Sequence[bool], else_reason: str) -> Figure | str:
    """Return how many turn points something holds of; the reason where it holds of none in the whole list."""
    if not any(holds):
        return else_reason
    flags = np.array(holds)
    return lambda block: flags[block.turns].sum(axis=1).astype(np.float64)


def _is_seen(waypoint: Waypoint) -> bool:
    """Say whether a turn point is known to be seen from afar; what marks it for contests alone is not."""
    return waypoint.landable is Landable.AERODROME or waypoint.feature not in (None, Feature.CONTEST_POINT)


def _inspected(waypoints: Sequence[Waypoint], since: str) -> Figure | str:
    if not any(waypoint.inspected_on for waypoint in waypoints):
        return "the set says of no turn point when it was inspected"
    recent = [waypoint.inspected_on is not None and waypoint.inspected_on >= since for waypoint in waypoints]
    return _count(recent, f"no turn point was inspected since {since}")


def _landable(waypoints: Sequence[Waypoint]) -> Figure | str:
    if all(waypoint.landable is None for waypoint in waypoints):
        return "the set says of no turn point whether one can land there"
    kinds = (Landable.AERODROME, Landable.FIELD)
    return _count([waypoint.landable in kinds for waypoint in waypoints], "no turn point is an aerodrome or field")


def _sum_of_legs(table: LegTable | None, else_reason: str) -> Figure | str:
    if table is None:
        return else_reason

    def figure(block: Block) -> Floats:
        total: Floats = np.sum([table.of(*leg) for leg in block.legs()], axis=0)
        return np.where(np.isfinite(total), total, np.nan)

    return figure


def _least_of_legs(table: LegTable | None, else_reason: str) -> Figure | str:
    if table is None:
        return else_reason
    return lambda block: np.min([table.of(*leg) for leg in block.legs()], axis=0)


def _months(given: Given) -> Figure | str:
    """Return the months since the newest flown course that is alike; without end where none is."""
    if not given.flown:
        return "the store holds no flown record of a task from here"

    def figure(block: Block) -> Floats:
        months = np.full(len(block.turns), np.inf)
        for flown in given.flown:
            alike = given.places.nearer_than(block.turns, flown.positions, given.alike_m)
            months[alike] = np.minimum(months[alike], flown.months_ago)
        return months

    return figure


def _finishers(given: Given) -> Figure | str:
    """Return the mean share of finishers on flown courses that are alike, percent; NaN where none is."""
    rated = [flown for flown in given.flown if flown.finishers_percent is not None]
    if not rated:
        return "no flown record of a task from here says who finished"

    def figure(block: Block) -> Floats:
        total, count = np.zeros(len(block.turns)), np.zeros(len(block.turns))
        for flown in rated:
            alike = given.places.nearer_than(block.turns, flown.positions, given.alike_m)
            total[alike] += flown.finishers_percent or 0.0
            count[alike] += 1
        return np.where(count > 0, total / np.maximum(count, 1), np.nan)

    return figure


def _margin(block: Block) -> Floats:
    return block.margin_percent


def _angle(given: Given) -> Figure | str:
    """Return the smallest angle at a corner of the figure, degrees, from its sides: within 0.2 degrees up to 300 km."""
    if given.shape is ProposedShape.OUT_AND_RETURN:
        return "an out-and-return has no angles"
    table = given.lengths_m

    def figure(block: Block) -> Floats:
        home = [np.full(len(block.turns), -1)] if given.start is HomeAt.CORNER else []
        corners = [*home, *block.turns.T]
        least = np.full(len(block.turns), np.inf)
        for before, at, after in zip(corners, corners[1:] + corners[:1], corners[2:] + corners[:2], strict=True):
            a, b, across = table.of(before, at), table.of(at, after), table.of(before, after)
            cosine = (a * a + b * b - across * across) / np.maximum(2 * a * b, 1e-9)
            np.minimum(least, np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))), out=least)
        return least

    return figure
