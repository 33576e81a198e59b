"""Declared courses for badges and records: the distance by either kind of zone, heights, and awards within reach.

Says what the geometry of a course would meet and what else an award requires; it promises nothing: the Sporting Code
in force and an official observer decide. Source, where nothing else is said: FAI Sporting Code Section 3 (Gliding),
edition of about 2008, and the FAI page "IGC badges and diplomas".
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from taskdb.core.course.deductions import CYLINDER_CORRECTION_M, crossing_m
from taskdb.core.course.regions import counted_position
from taskdb.core.course.shape import CourseShape, course_shape
from taskdb.core.geodesy import length_m
from taskdb.core.model import Shape, ShapeKind, Task
from taskdb.core.quantities import Units, format_distance

TURN_POINTS_APART_M = 10_000.0
"""Turn points are at least this far apart (1.4.3c)."""

MOST_TURN_POINTS = 3
LONG_FLIGHT_M = 100_000.0
"""Beyond this a loss of more than 1000 m is a penalty; up to it the loss may not exceed 1 % (4.4.2a, 4.4.3b)."""

FREE_LOSS_M = 1000.0
SHORT_FLIGHT_SHARE = 0.01

SILVER_M = 50_000.0
GOLD_M = 300_000.0
DIAMOND_GOAL_M = 300_000.0
DIAMOND_DISTANCE_M = 500_000.0
FIRST_DIPLOMA_M = 750_000.0
DIPLOMA_STEP_M = 250_000.0


@dataclass(frozen=True, slots=True)
class ByZones:
    """The distance when all turn points are claimed by one kind of zone, and the loss of height that costs nothing."""

    zones: str
    distance_m: float
    allowed_loss_m: float


@dataclass(frozen=True, slots=True)
class ClosePair:
    """Two turn points that are nearer to each other than the rule allows."""

    first_number: int
    second_number: int
    distance_m: float


@dataclass(frozen=True, slots=True)
class Award:
    """An award whose distance the geometry would meet, by which kind of zones, and what else it requires."""

    name: str
    required_m: float
    distance_m: float
    by_sectors: bool
    by_cylinders: bool
    requires: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CountedEnd:
    """How the start or the finish is counted, whatever the turn points are claimed by: what comes off its leg."""

    number: int
    shape: Shape
    metres: float


@dataclass(frozen=True, slots=True)
class DeclaredCourse:
    """What a course is worth as a declaration. `obstacles` are sentences about what stands against any award.

    `ends` are start and finish, which keep their own zones in both distances.
    """

    sectors: ByZones
    cylinders: ByZones
    ends: tuple[CountedEnd, ...]
    close_pairs: tuple[ClosePair, ...]
    awards: tuple[Award, ...]
    obstacles: tuple[str, ...]


def ends_words(course: DeclaredCourse, units: Units = Units.KM) -> str:
    """Return how start and finish are counted, for people: `start by its line: nothing off, finish by …`."""
    return ", ".join(
        f"{role} by its {end.shape.value}: {format_distance(end.metres, units) if end.metres else 'nothing'} off"
        for role, end in zip(("start", "finish"), course.ends, strict=False)
    )


def allowed_loss_m(distance_m: float) -> float:
    """Return the loss of height from start to finish that costs nothing, metres: 1000 m, or 1 % up to 100 km."""
    return FREE_LOSS_M if distance_m > LONG_FLIGHT_M else SHORT_FLIGHT_SHARE * distance_m


def assess_declared(task: Task) -> DeclaredCourse:
    """Return the distances of a course as a declaration, what stands against it, and the awards within its reach.

    The task may be of any type; its start and finish keep their zones (a cylinder there takes off its leg what it
    takes off the task distance), its turn points are counted once as sectors and once as cylinders of 0.5 km.
    """
    points = [counted_position(p) for p in task.points]
    legs = [length_m(a, b, task.rules.earth) for a, b in pairwise(points)]
    sectors = _by_zones(task, legs, "sectors")
    cylinders = _by_zones(task, legs, "cylinders")
    close = _close_pairs(task)
    obstacles = _obstacles(task, close)
    awards = () if obstacles else _awards(task, sectors, cylinders, course_shape(task))
    return DeclaredCourse(sectors, cylinders, _ends(task), close, awards, obstacles)


def _ends(task: Task) -> tuple[CountedEnd, ...]:
    if len(task.points) < 2:
        return ()
    numbers = (0, len(task.points) - 1)
    zones = [(number, task.points[number].zone) for number in numbers]
    return tuple(CountedEnd(number, zone.shape, crossing_m(zone)) for number, zone in zones)


def _by_zones(task: Task, legs_m: Sequence[float], zones: str) -> ByZones:
    left = list(legs_m)
    for leg in range(len(left)):
        for number in (leg, leg + 1):
            is_turn = 0 < number < len(left)
            at_turns = CYLINDER_CORRECTION_M if zones == "cylinders" else 0.0
            left[leg] = max(0.0, left[leg] - (at_turns if is_turn else crossing_m(task.points[number].zone)))
    distance = math.fsum(left)
    return ByZones(zones, distance, allowed_loss_m(distance))


def _close_pairs(task: Task) -> tuple[ClosePair, ...]:
    turns = list(enumerate(task.points))[1:-1]
    pairs = (
        ClosePair(i, j, length_m(a.place.position, b.place.position, task.rules.earth))
        for (i, a), (j, b) in combinations(turns, 2)
    )
    return tuple(pair for pair in pairs if pair.distance_m < TURN_POINTS_APART_M)


def _obstacles(task: Task, close: Sequence[ClosePair]) -> tuple[str, ...]:
    found = []
    if len(task.points) < 2:
        found.append("a course has a start and a finish")
    if len(task.points) - 2 > MOST_TURN_POINTS:
        found.append(f"it has {len(task.points) - 2} turn points; a declared course has at most {MOST_TURN_POINTS}")
    for pair in close:
        first, second = (task.points[n].place.code for n in (pair.first_number, pair.second_number))
        found.append(f"the turn points {first} and {second} are {pair.distance_m / 1000:.1f} km apart, not 10 km")
    return tuple(found)


_OFFICIAL = "a declaration before take-off, a flight recorder and an official observer; the Sporting Code in force"


def _awards(task: Task, sectors: ByZones, cylinders: ByZones, shape: CourseShape) -> tuple[Award, ...]:
    found = [_silver(task)]
    gold = ("5 hours and 3000 m gain of height are Gold's other parts", _height(GOLD_M), _OFFICIAL)
    found.append(_award("Gold distance, 300 km", GOLD_M, sectors, cylinders, gold))
    # The tolerance of a contest does not hold here: start and finish are the same point.
    if shape.gap_m <= 0 and shape.kind in (ShapeKind.OUT_AND_RETURN, ShapeKind.TRIANGLE):
        goal = ("the declared course completed, start and finish at the same point", _height(DIAMOND_GOAL_M), _OFFICIAL)
        found.append(_award("Diamond goal, 300 km", DIAMOND_GOAL_M, sectors, cylinders, goal))
    diamond = ("the declared turn points in order", _height(DIAMOND_DISTANCE_M), _OFFICIAL)
    found.append(_award("Diamond distance, 500 km", DIAMOND_DISTANCE_M, sectors, cylinders, diamond))
    found.extend(_diplomas(sectors, cylinders))
    return tuple(award for award in found if award is not None)


def _award(
    name: str, required_m: float, sectors: ByZones, cylinders: ByZones, requires: tuple[str, ...]
) -> Award | None:
    by_sectors, by_cylinders = sectors.distance_m >= required_m, cylinders.distance_m >= required_m
    if not (by_sectors or by_cylinders):
        return None
    return Award(name, required_m, sectors.distance_m, by_sectors, by_cylinders, requires)


def _silver(task: Task) -> Award | None:
    """Return Silver's straight distance: the finish at least 50 km from the start, and from the take-off if declared.

    Wording of the British association's page on badges (version 1.5, 2024-11-20): from release and from take-off.
    """
    finish = task.points[-1].place.position
    origins = [task.points[0].place.position]
    if task.take_off is not None:
        origins.append(task.take_off.position)
    straight = min(length_m(origin, finish, task.rules.earth) for origin in origins)
    if straight < SILVER_M:
        return None
    requires = (
        "the finish at least 50 km from the release and from the take-off, in a straight line",
        f"loss of height at most {allowed_loss_m(straight):.0f} m",
        "5 hours and 1000 m gain of height are Silver's other parts",
        _OFFICIAL,
    )
    return Award("Silver distance, 50 km", SILVER_M, straight, True, True, requires)


def _diplomas(sectors: ByZones, cylinders: ByZones) -> list[Award | None]:
    """Return the largest step of 250 km from 750 km on for each kind of zone; one award where they agree."""
    reached = {math.floor(way.distance_m / DIPLOMA_STEP_M) * DIPLOMA_STEP_M for way in (sectors, cylinders)}
    awards = []
    for required in sorted(step for step in reached if step >= FIRST_DIPLOMA_M):
        requires = ("the award is the step below the flown distance", _height(required), _OFFICIAL)
        awards.append(_award(f"Diploma, {required / 1000:.0f} km", required, sectors, cylinders, requires))
    return awards


def _height(required_m: float) -> str:
    return f"loss of height at most {allowed_loss_m(required_m):.0f} m, or 100 m of distance for each metre more"
