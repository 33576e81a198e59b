"""By what proposals are judged here and now: turn points that may serve, wind, sun, airspace, what was flown before."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from taskdb.core.airspace.clearance import Clearances, clearance_m
from taskdb.core.airspace.crossing import passages
from taskdb.core.airspace.heights import that_may_matter
from taskdb.core.contests.days import day_of, with_given
from taskdb.core.contests.scopes import Holding, flown_heights, flying_day, what_holds
from taskdb.core.course.schedule import minutes_of
from taskdb.core.course.shape import on_side_within_m
from taskdb.core.course.wind import CALM, Air, wind_of
from taskdb.core.flown import mean_rate_percent
from taskdb.core.geodesy import inverses, lengths_m
from taskdb.core.judgement.coarse_relief import RELIEF_M, relief_on_the_way_m
from taskdb.core.judgement.cover import SAMPLE_M, cover_course
from taskdb.core.judgement.glide import SAID
from taskdb.core.judgement.reach_grid import ReachGrid
from taskdb.core.kinds import HomeAt
from taskdb.core.matching.nearness import xyz
from taskdb.core.model import ContestDay, Earth, Place, Position, Role, Waypoint
from taskdb.core.numbers import some_of
from taskdb.core.proposing import criteria as by
from taskdb.core.proposing.apart import Places
from taskdb.core.proposing.blocks import Figure, FlownCourse, Given
from taskdb.core.proposing.legs import Floats, Ints, LegTable
from taskdb.core.proposing.sunlight import STEP_MIN, SunOnLastLegs
from taskdb.core.quantities import format_short_distance
from taskdb.core.review.limits import limits_of
from taskdb.errors import RefusedError, UsageError
from taskdb.reference.sun import sun_position
from taskdb.services.airspace.held import held_against, volumes_named
from taskdb.services.ground import open_terrain
from taskdb.services.tasks.covers import UNKNOWN, Covers
from taskdb.services.tasks.day import timezone_of
from taskdb.store import flown as flown_rows, sets as set_rows, task_search

if TYPE_CHECKING:
    from taskdb.core.airspace.volume import Volume
    from taskdb.core.ground import GroundHeights
    from taskdb.core.judgement.cover import Terms
    from taskdb.core.judgement.fields import Fields
    from taskdb.core.proposing.wanted import Blocked
    from taskdb.core.quantities import Wind
    from taskdb.services.desk import Desk
    from taskdb.services.tasks.basis import Basis
    from taskdb.services.tasks.proposal_values import ProposalRequest
    from taskdb.store.engine import Connection

MOST_TURN_POINTS = 5_000
"""So many are weighed: each figure of legs takes four bytes for every two of them, 100 MB."""
_DAYS_A_MONTH = 365.2425 / 12
_NEAR_AIRSPACE_M = 2_500.0
"""A leg that keeps farther than this by the raster is clear of a volume, and is not looked at more closely."""


@dataclass(frozen=True)
class Grounds:
    """What courses are judged by, over turn points in order of code; which legs meet what is to be avoided.

    `blocked` is None where nothing is to be avoided. `catalogue` is the whole set, `airspace` what may matter of what
    tasks are held against; `notes` are for the person.
    """

    given: Given
    catalogue: tuple[Waypoint, ...]
    airspace: tuple[Volume, ...]
    blocked: Blocked | None
    notes: tuple[str, ...]


def grounds_of(c: Connection, desk: Desk, request: ProposalRequest, basis: Basis, home: Place, earth: Earth) -> Grounds:
    """Return what is known of the place and the day that proposals are asked for."""
    holding = what_holds(basis.contest, request.class_name, request.day)
    day = _day(request, basis, holding)
    as_of = datetime.date.fromisoformat(day.date) if day.date is not None else desk.now().date()
    catalogue = tuple(set_rows.waypoints_at(c, basis.at.head.id, basis.at.revision))
    turn_points = tuple(_turn_points(catalogue, request, home))
    if len(turn_points) > MOST_TURN_POINTS and not request.show_all:
        raise _too_many(len(turn_points))
    places = Places([waypoint.position for waypoint in turn_points], home.position)
    held = held_against(c, basis.contest, request.airspace)
    airspace = _that_matter(held.volumes, holding)
    cover = _cover(c, request, basis, holding, _blowing(day))
    sun = _sun(basis, day, places)
    missing = {by.SUN: sun} if isinstance(sun, str) else {}
    if isinstance(cover, str):
        missing[by.OUT_OF_REACH] = cover
    if held.volumes and not airspace:
        missing[by.AIRSPACE] = "no airspace reaches down to where is flown"
    given = Given(
        places=places,
        waypoints=turn_points,
        inspected_since=_a_year_before(as_of),
        lengths_m=LegTable(len(places), lambda a, b: _lengths_m(places, a, b, earth), both_ways=True),
        wind=_blowing(day),
        sun_deg=None if isinstance(sun, str) else sun,
        out_of_reach_m=_reach(cover, places),
        most_out_m=request.most_out_m,
        airspace_m=_clearances(airspace, places),
        flown=_flown_from(c, home.position, as_of, request.apart_m),
        alike_m=request.apart_m,
        shape=request.shape,
        start=request.start,
        triangle=basis.rules.triangle,
        exact={
            by.AIRSPACE: lambda course: _clearance_of_course_m(course, airspace),
            by.OUT_OF_REACH: lambda course: _out_of_reach_m(course, cover),
        },
        missing=missing,
    )
    notes = (*_notes(request, basis, cover), *_notes_on_avoided(c, request, holding), *held.notes)
    return Grounds(given, catalogue, airspace, _blocked(c, request, holding, places), notes)


def _too_many(count: int) -> RefusedError:
    return RefusedError(
        "too-many-turn-points",
        f"{count:,} waypoints may be turn points; the courses over at most {MOST_TURN_POINTS:,} are weighed.",
        hint="Ask more of them: --landable, --feature, --inspected-since, --farthest; or list all courses with --all.",
        details={"count": count, "most": MOST_TURN_POINTS},
    )


def _notes(request: ProposalRequest, basis: Basis, cover: _Reckoned | str) -> Iterator[str]:
    """Yield what a person must know of what is reckoned."""
    if request.start is HomeAt.SIDE:
        start, _ = basis.defaults_for(request.class_name, request.day)[Role.START]
        within_m = on_side_within_m(start, basis.rules.closed_within_m)
        if request.within_m > within_m:
            yield (
                f"home lies up to {format_short_distance(request.within_m)} off the side; with {start.text} as start a "
                f"task counts as that triangle up to {format_short_distance(within_m)} (--within, or a wider start)"
            )
    if isinstance(cover, str):
        return
    yield SAID
    if request.most_out_m is not None and cover.ground is not None and not cover.ground.is_users:
        yield "where the ground differs by more than 300 m reach is not known: no course over it is shown"


def _notes_on_avoided(c: Connection, request: ProposalRequest, holding: Holding) -> Iterator[str]:
    """Yield which volumes are avoided though it is not known whether they reach down to where is flown."""
    avoided = that_may_matter(volumes_named(c, request.avoid), flown_heights(holding)) if request.avoid else ()
    undecided = [volume.name for volume, is_undecided in avoided if is_undecided]
    if undecided:
        yield (
            f"avoided, though it may lie above what is flown: {some_of(undecided, 3)}; the contest's working altitude "
            "and pressure decide (taskdb contest limits CONTEST --working-altitude '1500m MSL' --qnh 1018hPa)"
        )


def _day(request: ProposalRequest, basis: Basis, holding: Holding) -> ContestDay:
    """Return the day as it holds for the class, with what is given in its place."""
    known = day_of(basis.contest, request.day)
    day = flying_day(holding, known.date if known is not None else None, request.day or 0)
    return day if request.given_day is None else with_given(day, request.given_day)


def _blowing(day: ContestDay) -> Wind | None:
    wind = wind_of(day)
    return wind if wind is not None and wind.speed_kmh > 0 else None


def _turn_points(catalogue: Sequence[Waypoint], request: ProposalRequest, home: Place) -> Iterator[Waypoint]:
    """Yield the waypoints that may be turn points: of the kinds asked for, and near enough to come home from."""
    at = xyz(home.position)
    half_m = request.most_m / 2 + (request.within_m if request.start is HomeAt.SIDE else 0.0)
    # A hundredth more than enough: lengths may be spherical, and only the search decides.
    reach_m = 1.01 * min(half_m, math.inf if request.farthest_m is None else request.farthest_m) + 1000
    for waypoint in catalogue:
        if request.features and waypoint.feature not in request.features:
            continue
        if request.landable and waypoint.landable not in request.landable:
            continue
        if request.inspected_since is not None and (waypoint.inspected_on or "") < request.inspected_since:
            continue
        if waypoint.position != home.position and math.dist(at, xyz(waypoint.position)) <= reach_m:
            yield waypoint


def _a_year_before(day: datetime.date) -> str:
    return (day - datetime.timedelta(days=round(by.RECENT_MONTHS * _DAYS_A_MONTH))).isoformat()


def _lengths_m(places: Places, begin: Ints, end: Ints, earth: Earth) -> Floats:
    latitudes, longitudes = places.latitudes, places.longitudes
    return lengths_m(latitudes[begin], longitudes[begin], latitudes[end], longitudes[end], earth)


# -- sun -------------------------------------------------------------------------------------------------------------


def _sun(basis: Basis, day: ContestDay, places: Places) -> Figure | str:
    """Return the figure of the sun on last legs, or why there is none."""
    zone, _, _ = timezone_of(basis.contest)
    known = {
        "date": day.date, "opening of the start": day.start_opens, "planned speed": day.speed_kmh, "time zone": zone
    }  # fmt: skip
    lacking = [word for word, value in known.items() if value is None]
    if day.date is None or day.start_opens is None or day.speed_kmh is None or zone is None:
        return f"not known: {', '.join(lacking)}"
    midnight = datetime.datetime.combine(datetime.date.fromisoformat(day.date), datetime.time(), zone)
    minutes = range(0, 24 * 60, STEP_MIN)
    sun = [sun_position(places.positions[-1], midnight + datetime.timedelta(minutes=minute)) for minute in minutes]
    return SunOnLastLegs(places, Air(day.speed_kmh, wind_of(day) or CALM), minutes_of(day.start_opens), sun)


# -- fields in reach -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Reckoned:
    """The fields and terms by which is reckoned what is out of reach, and the ground that is known."""

    fields: Fields
    terms: Terms
    ground: GroundHeights | None


def _cover(
    c: Connection, request: ProposalRequest, basis: Basis, holding: Holding, wind: Wind | None
) -> _Reckoned | str:
    """Return by what is reckoned what is out of reach, or why nothing is."""
    limits = limits_of(holding.settings)[0]
    covers = Covers(c, request.glide, open_terrain(request.terrain) if request.terrain is not None else None)
    try:
        terms = covers.terms(holding, limits, wind, request.contest)
    except UsageError as error:
        if error.code == UNKNOWN and request.most_out_m is None:
            return f"{error.message} {error.hint}"
        raise
    if terms.is_above_ground:
        raise UsageError(
            "above-sea-only",
            f"{terms.working_text} is above ground; thousands of courses are reckoned from one altitude.",
            hint="Give it above sea: --working-altitude '1500m MSL'.",
        )
    fields = covers.fields_of(basis.at, request.glide.landable or limits.cover_landable)
    return _Reckoned(fields, terms, covers.ground()) if len(fields) else "no field of the set has an elevation"


def _reach(cover: _Reckoned | str, places: Places) -> LegTable | None:
    if isinstance(cover, str) or not len(places):
        return None
    latitudes, longitudes = places.latitudes, places.longitudes
    grid = ReachGrid.of(cover.fields, cover.terms.glide, latitudes, longitudes)
    altitude_m = cover.terms.working_m - cover.terms.safety_m

    def out_m(begin: Ints, end: Ints) -> Floats:
        ends = (latitudes[begin], longitudes[begin], latitudes[end], longitudes[end])
        length_m = inverses(*ends)[1]
        out = grid.out_of_reach_m(altitude_m, *ends, length_m)
        if cover.ground is None or cover.ground.is_users:
            return out
        # As in the cover of a course: where the shipped grid is rough nothing is told.
        return np.where(relief_on_the_way_m(cover.ground, *ends, length_m) > RELIEF_M, np.inf, out)

    return LegTable(len(places), out_m, both_ways=True)


def _out_of_reach_m(course: Sequence[Position], cover: _Reckoned | str) -> float:
    """Return as many metres as kilometres of a course are out of reach; NaN where the ground is not known enough."""
    if isinstance(cover, str):
        return math.nan
    found = cover_course(course, cover.fields, cover.terms, ground=cover.ground)
    return math.nan if found.withheld else SAMPLE_M * found.out_of_reach


# -- airspace --------------------------------------------------------------------------------------------------------


def _that_matter(volumes: Sequence[Volume], holding: Holding) -> tuple[Volume, ...]:
    return tuple(volume for volume, _ in that_may_matter(volumes, flown_heights(holding)))


def _clearances(volumes: tuple[Volume, ...], places: Places) -> LegTable | None:
    if not volumes:
        return None
    raster = Clearances(volumes, places.positions[-1], places.latitudes, places.longitudes)
    return LegTable(len(places), raster.of_legs_m, both_ways=True)


def _blocked(c: Connection, request: ProposalRequest, holding: Holding, places: Places) -> Blocked | None:
    """Return what says which legs meet the volumes to avoid, at the heights that are flown; it keeps what it found."""
    if not request.avoid:
        return None
    volumes = _that_matter(volumes_named(c, request.avoid), holding)
    raster = Clearances(volumes, places.positions[-1], places.latitudes, places.longitudes)

    def met(begin: Ints, end: Ints) -> Floats:
        found = np.zeros(len(begin))
        near = np.flatnonzero(raster.of_legs_m(begin, end) < _NEAR_AIRSPACE_M)
        legs = [(places.positions[a], places.positions[b]) for a, b in zip(begin[near], end[near], strict=True)]
        found[near] = [bool(passed) for passed in passages(legs, volumes)]
        return found

    table = LegTable(len(places), met, both_ways=True)
    return lambda begin, end: table.of(begin, end) > 0


def _clearance_of_course_m(course: Sequence[Position], volumes: tuple[Volume, ...]) -> float:
    return min(clearance_m(leg, volumes) for leg in pairwise(course))


# -- what was flown --------------------------------------------------------------------------------------------------


def _flown_from(c: Connection, home: Position, as_of: datetime.date, near_m: float) -> tuple[FlownCourse, ...]:
    """Return the courses that were flown until a day by tasks that come near home."""
    ids = task_search.tasks_passing(c, [home], near_m)
    records = flown_rows.flown_of(c, ids)
    positions = task_search.positions_of(c, list(records))
    found = []
    for task_id, days in records.items():
        until = [record for record in days if record.flown_on <= as_of.isoformat()]
        if until:
            last = datetime.date.fromisoformat(until[-1].flown_on)
            months = (as_of - last).days / _DAYS_A_MONTH
            found.append(FlownCourse(positions[task_id], months, mean_rate_percent(until)))
    return tuple(found)
