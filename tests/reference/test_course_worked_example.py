"""The worked example: the declaration printed in the IGC "Technical Specification for GNSS Flight Recorders",
Appendix A, section 9 (text of 2008), measured by the rules of the FAI Sporting Code Section 3 (edition of about 2008).

The numbers were computed with pyproj 3.7 and with geographiclib 2.1, which agree to every digit printed here.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from taskdb.core.course.axes import resolve_points
from taskdb.core.course.measure import measure_course
from taskdb.core.course.zones import parse_zone
from taskdb.core.geodesy import arrival_deg, destination
from taskdb.core.model import Earth, Place, Position, Role, Rules, ShapeKind, Task, TaskPoint, TaskType, ZoneFrom

# C5110179N00102644W, C5209092N00255227W, C5230147N00017612W: degrees, minutes and thousandths of minutes.
# Not through Position.at: rounding to 1e-7 degree moves the total by 0.5 mm, which the printed digits show.
LASHAM = Place("LAS", "Lasham Start S", Position(51 + 10.179 / 60, -(1 + 2.644 / 60)))
SARNESFIELD = Place("SAR", "Sarnesfield", Position(52 + 9.092 / 60, -(2 + 55.227 / 60)))
NORMAN_CROSS = Place("NOR", "Norman Cross", Position(52 + 30.147 / 60, -(0 + 17.612 / 60)))


def example(start: str = "line 1km", turn: str = "sector 90deg", finish: str = "line 1km", **fields: object) -> Task:
    course = (
        (LASHAM, Role.START, start),
        (SARNESFIELD, Role.TURN, turn),
        (NORMAN_CROSS, Role.TURN, turn),
        (LASHAM, Role.FINISH, finish),
    )
    points = [TaskPoint(place, role, parse_zone(text), ZoneFrom.OWN) for place, role, text in course]
    task = Task("500K Tri", TaskType.DECLARED, resolve_points(points), "examples", 1)
    return replace(task, **fields)  # type: ignore[arg-type]


def test_the_legs_have_the_printed_lengths_and_courses() -> None:
    legs = measure_course(example(), extremes=False).legs
    assert [round(leg.distance_m, 3) for leg in legs] == [169_673.958, 183_290.068, 157_055.395]
    assert [round(leg.course_true_deg or -1, 5) for leg in legs] == [310.81007, 76.66274, 199.52746]
    at = [LASHAM.position, SARNESFIELD.position, NORMAN_CROSS.position, LASHAM.position]
    arrivals = [arrival_deg(a, b) for a, b in pairwise(at)]
    assert [round(course or -1, 5) for course in arrivals] == [309.33823, 78.74212, 198.93732]


def test_the_total_and_the_shares_are_the_printed_ones() -> None:
    course = measure_course(example(), extremes=False)
    assert round(course.distances.centres_m, 3) == 510_019.421
    assert [round(share, 3) for share in course.shape.side_percent] == [33.268, 35.938, 30.794]
    assert course.shape.kind is ShapeKind.TRIANGLE
    assert course.shape.is_fai_triangle
    # The 28 % rule, for it is shorter than 750 km: the shortest leg has 30.794 %.
    assert course.shape.fai_margin_percent == pytest.approx(2.794, abs=5e-4)


def test_the_fai_sphere_gives_its_own_total() -> None:
    task = example(rules=Rules(earth=Earth.FAI_SPHERE))
    course = measure_course(task, extremes=False)
    # 508 952.1895 from the exact minutes, 508 952.1900 from degrees with 7 decimals: half a unit of the last digit.
    assert course.distances.centres_m == pytest.approx(508_952.190, abs=6e-4)
    # Courses stay on WGS84.
    assert round(course.legs[0].course_true_deg or -1, 5) == 310.81007


def test_the_sectors_open_remote_from_the_bisectors() -> None:
    axes = [p.zone.axis_deg or -1.0 for p in example(start="sector 90deg 1km", finish="sector 90deg 1km").points]
    # The start sector opens away from the first leg, the finish sector goes on beyond the last one (1.2.9).
    assert [round(axis, 4) for axis in axes] == [130.8101, 283.0005, 49.1348, 198.9373]


def test_the_lines_are_crossed_along_the_legs_and_end_where_printed() -> None:
    points = example().points
    assert round(points[0].zone.axis_deg or -1, 4) == 310.8101
    assert round(points[-1].zone.axis_deg or -1, 4) == 198.9373
    ends = [destination(LASHAM.position, bearing, 500) for bearing in (40.8101, 220.8101)]
    assert [(round(e.latitude_deg, 7), round(e.longitude_deg, 7)) for e in ends] == [
        (51.1730516, -1.0393942),
        (51.1662482, -1.0487385),
    ]


def test_two_turn_cylinders_take_two_kilometres_off_a_declared_course() -> None:
    distances = measure_course(example(turn="cylinder 500m"), extremes=False).distances
    assert round(distances.task_m, 3) == 508_019.421
    assert [(taken.number, taken.metres) for taken in distances.deductions] == [(1, 500), (1, 500), (2, 500), (2, 500)]
    # A racing task takes nothing off for them.
    racing = measure_course(example(turn="cylinder 500m", type=TaskType.RACING), extremes=False).distances
    assert round(racing.task_m, 3) == 510_019.421
