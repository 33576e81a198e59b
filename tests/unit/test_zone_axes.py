"""The directions of sectors, keyholes and lines: bearings at the point, and refusals where there is none.

Expected values are simple on the equator and along meridians, where bearings are 0, 90, 180 and 270 by symmetry.
"""

from __future__ import annotations

import shlex

import pytest

from taskdb.core.course.axes import default_orientation, resolve_points
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Orientation, Place, Position, Role, Shape, TaskPoint, ZoneFrom
from taskdb.errors import ExitCode, RefusedError


def course(*stops: tuple[float, float, str]) -> tuple[TaskPoint, ...]:
    last = len(stops) - 1
    roles = [Role.START if n == 0 else Role.FINISH if n == last else Role.TURN for n in range(len(stops))]
    return tuple(
        TaskPoint(Place(f"P{n}", f"P{n}", Position.at(lat, lon)), role, parse_zone(text), ZoneFrom.OWN)
        for n, ((lat, lon, text), role) in enumerate(zip(stops, roles, strict=True))
    )


def axes(*stops: tuple[float, float, str]) -> list[float | None]:
    return [p.zone.axis_deg for p in resolve_points(course(*stops))]


SECTOR, LINE, DOT = "sector 90deg", "line 1km", "cylinder 1km"


def test_defaults_open_away_from_the_course() -> None:
    # East along the equator, then north: the turn's remote side is south-east.
    assert axes((0, 0, SECTOR), (0, 1, SECTOR), (1, 1, SECTOR)) == pytest.approx([270, 135, 0], abs=1e-4)


def test_the_bisector_is_remote_from_it_on_a_left_and_on_a_right_turn_and_in_the_south() -> None:
    assert axes((0, 0, DOT), (0, 1, SECTOR), (-1, 1, DOT))[1] == pytest.approx(45, abs=1e-4)
    assert axes((0, 1, DOT), (0, 0, SECTOR), (-1, 0, DOT))[1] == pytest.approx(315, abs=1e-4)
    # Bearings on either side of north: 350 and 10 meet at 0, not at 180.
    here = (-30.0, 10.0)
    north_west, north_east = (-29.0, 9.8), (-29.0, 10.2)
    assert axes((*north_west, DOT), (*here, SECTOR), (*north_east, DOT))[1] == pytest.approx(180, abs=1e-6)


def test_an_out_and_return_sector_opens_straight_on() -> None:
    assert axes((0, 0, DOT), (1, 0, SECTOR), (0, 0, DOT))[1] == pytest.approx(0, abs=1e-9)


def test_every_orientation_has_its_direction() -> None:
    def at_turn(word: str) -> float | None:
        return axes((0, 0, DOT), (0, 1, f"sector 90deg {word}"), (1, 1, DOT))[1]

    assert at_turn("towards-previous") == pytest.approx(270)
    assert at_turn("away-from-previous") == pytest.approx(90)
    assert at_turn("towards-next") == pytest.approx(0)
    assert at_turn("away-from-next") == pytest.approx(180)
    assert at_turn("235") == 235


def test_bearings_are_taken_at_the_point_and_not_at_its_neighbour() -> None:
    # Over 20 degrees of longitude at 60 north a geodesic turns by 17 degrees.
    start, finish = axes((60, 0, SECTOR), (60, 20, SECTOR))
    assert start == pytest.approx(270 - 8.7, abs=0.1)
    assert finish == pytest.approx(90 + 8.7, abs=0.1)


def test_lines_are_crossed_as_flown() -> None:
    assert axes((0, 0, LINE), (0, 1, DOT), (1, 1, LINE)) == [pytest.approx(90), None, pytest.approx(0)]
    # At a turn a word names the leg to which it is square; the direction is always that of flight.
    assert axes((0, 0, DOT), (0, 1, "line 1km away-from-next"), (1, 1, DOT))[1] == pytest.approx(0)
    assert axes((0, 0, DOT), (0, 1, "line 1km away-from-previous"), (1, 1, DOT))[1] == pytest.approx(90)
    assert axes((0, 0, "line 1km 310"), (0, 1, DOT))[0] == 310


def test_a_direction_that_is_resolved_again_follows_the_new_order() -> None:
    once = resolve_points(course((0, 0, SECTOR), (0, 1, DOT), (1, 1, DOT)))
    again = resolve_points((once[0], once[2], once[1]))
    assert again[0].zone.axis_deg == pytest.approx(225, abs=0.2)
    assert resolve_points(once) == once


def test_the_bearing_runs_to_the_middle_of_a_ring_segment_next_to_it() -> None:
    # The segment's middle lies due west of the start, though its point lies due east.
    stops = course((0, 0, LINE), (0, 0.1, DOT), (0, 1, DOT))
    segment = TaskPoint(stops[1].place, Role.AREA, parse_zone("area 50km..60km 260..280"), ZoneFrom.OWN)
    assert resolve_points((stops[0], segment, stops[2]))[0].zone.axis_deg == pytest.approx(270, abs=0.01)


@pytest.mark.parametrize(
    "stops",
    [
        [(0, 0, DOT), (0, 1, SECTOR), (0, 2, DOT)],
        [(0, 0, DOT), (0, 1, SECTOR), (0.017, 2, DOT)],
        [(0, 0, DOT), (0, 1, SECTOR), (0, 1, DOT)],
        [(0, 0, DOT), (0, 0, SECTOR), (0, 1, DOT)],
        [(0, 0, SECTOR), (0, 0, DOT)],
        [(0, 0, DOT), (0, 0, LINE)],
        [(0, 0, "sector 90deg bisector"), (0, 1, DOT)],
        [(0, 0, "sector 90deg towards-previous"), (0, 1, DOT)],
        [(0, 0, DOT), (0, 1, LINE), (1, 1, DOT)],
        [(0, 0, DOT), (0, 1, "line 1km bisector"), (1, 1, DOT)],
    ],
    ids=[
        "straight through", "straight through within a degree", "next at the same place", "previous at the same place",
        "two points at one place", "a finish line without a leg", "no bisector at a start", "no previous at a start",
        "a line at a turn", "a line along a bisector",
    ],
)  # fmt: skip
def test_a_direction_that_does_not_exist_is_asked_for(stops: list[tuple[float, float, str]]) -> None:
    with pytest.raises(RefusedError) as refused:
        axes(*stops)
    assert refused.value.code == "no-axis"
    assert refused.value.exit_code is ExitCode.REFUSED
    # The hint can be typed: its zone gives the point a bearing.
    number = refused.value.details["number"]
    typed = shlex.split((refused.value.hint or "").partition("--zone ")[2])[0].partition("=")[2]
    assert parse_zone(typed).orientation is Orientation.BEARING
    mended = [(lat, lon, typed if n == number else text) for n, (lat, lon, text) in enumerate(stops)]
    assert axes(*mended)[number] == 235


def test_just_over_a_degree_off_straight_a_bisector_has_its_side() -> None:
    # A little to the right on an eastward course: the remote side is the north; a little to the left: the south.
    assert axes((0, 0, DOT), (0, 1, SECTOR), (-0.02, 2, DOT))[1] == pytest.approx(0, abs=1)
    assert axes((0, 0, DOT), (0, 1, SECTOR), (0.02, 2, DOT))[1] == pytest.approx(180, abs=1)


def test_shapes_without_a_direction_have_no_default() -> None:
    assert default_orientation(Shape.CYLINDER, Role.TURN) is None
    assert default_orientation(Shape.LINE, Role.TURN) is None
    assert default_orientation(Shape.KEYHOLE, Role.AREA) is Orientation.BISECTOR
