"""Radii that suit a minimum time: where they end, how areas grow together, what is said where none suits."""

from __future__ import annotations

import pytest

from taskdb.core.course.wind import CALM
from taskdb.core.course.zones import is_round, parse_zone, with_radius
from taskdb.core.geodesy import destination, distance_m
from taskdb.core.judgement.fit import Asked, Fit, fit, time_near
from taskdb.core.judgement.sizes import (
    Sizes,
    cap_of,
    common,
    in_proportion,
    in_shares,
    resized,
    unsized,
    whole_steps,
)
from taskdb.core.judgement.suited import suited_speeds
from taskdb.core.model import Position, Task, TaskType
from taskdb.core.quantities import Step, Wind, parse_step
from taskdb.errors import UsageError
from tests import building

HOME = Position.at(50.0, 10.0)
KM, MILE, NAUTICAL = Step(1.0, "km"), Step(1.0, "mi"), Step(1.0, "nmi")


def off(km: float, bearing: float, of: Position = HOME) -> Position:
    return destination(of, bearing, km * 1000)


EAST, NORTH = off(60, 90), off(60, 0)


def areas(first: str = "area 20km", second: str = "area 20km", finish: str = "line 1km") -> Task:
    """Two areas 60 km from HOME, to the east and to the north, about 85 km apart."""
    stops = ((HOME, "line 1km"), (EAST, first), (NORTH, second), (HOME, finish))
    return building.task(*stops, type=TaskType.ASSIGNED_AREA)


def asked(slowest: float, fastest: float, hours: float, wind: Wind = CALM) -> Asked:
    return Asked(slowest, fastest, wind, hours * 3600)


def fitted(task: Task, wanted: Asked, step: Step = KM) -> Fit:
    return fit(task, common(task, step), wanted)


# -- up to where ------------------------------------------------------------------------------------------------------


def test_the_cap_is_where_two_areas_begin_to_overlap() -> None:
    task = areas()
    cap = cap_of(task, common(task, KM))
    assert cap.metres == pytest.approx(distance_m(EAST, NORTH) / 2, abs=1e-6)
    assert (cap.numbers, cap.is_overlap) == ((1, 2), True)
    assert whole_steps(task, common(task, KM)) == range(1, 43)


def test_the_cap_is_where_an_area_begins_to_hold_the_start() -> None:
    task = building.task((HOME, "line 1km"), (EAST, "area 20km"), (NORTH, "line 1km"), type=TaskType.ASSIGNED_AREA)
    cap = cap_of(task, common(task, KM))
    assert cap.metres == pytest.approx(60_000, abs=1e-3)
    assert (cap.numbers, cap.is_overlap) == ((1, 0), False)
    # 60 km from HOME to the millimetre: 60 whole kilometres would hold it.
    assert max(whole_steps(task, common(task, KM))) in (59, 60)


def test_an_area_that_keeps_its_zone_takes_its_room() -> None:
    task = areas("area 35km")
    cap = cap_of(task, common(task, KM, kept=(1,)))
    assert cap.metres == pytest.approx(distance_m(EAST, NORTH) - 35_000, abs=1e-6)


def test_a_place_that_is_turned_twice_may_be_shared_but_not_by_areas_that_follow_each_other() -> None:
    between = (off(60, 45), "area 20km")
    stops = ((HOME, "line 1km"), (EAST, "area 20km"), between, (EAST, "area 20km"), (HOME, "line 1km"))
    twice = building.task(*stops, type=TaskType.ASSIGNED_AREA)
    assert cap_of(twice, common(twice, KM)).metres > 20_000
    following = building.task(*stops[:2], stops[3], stops[4], type=TaskType.ASSIGNED_AREA)
    assert cap_of(following, common(following, KM)).metres == 0.0


def test_a_ring_is_never_smaller_than_its_inside() -> None:
    task = areas("area 5km..20km")
    sizes = common(task, KM)
    assert whole_steps(task, sizes).start == 6
    assert resized(task, sizes.radii(6)).points[1].zone.inner_radius_m == 5000


# -- how areas grow together ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("step", "text", "metres"),
    [("1km", "12km", 12_000.0), ("1mi", "12mi", 19312.128), ("0.5nmi", "6nmi", 11112.0), ("500 m", "6000m", 6000.0)],
)
def test_steps_keep_the_unit_that_was_typed(step: str, text: str, metres: float) -> None:
    assert parse_step(step).text(12) == text
    assert parse_step(step).metres(12) == pytest.approx(metres, abs=1e-9)


@pytest.mark.parametrize("text", ["1", "0km", "0.5m", "km", "-1km"])
def test_a_step_needs_a_unit_and_a_size(text: str) -> None:
    with pytest.raises(UsageError):
        parse_step(text)


def test_shares_are_whole_steps_of_the_largest() -> None:
    sizes = in_shares({1: 3.0, 2: 2.0, 3: 0.01}, KM)
    assert sizes.radii(15) == {1: 15_000, 2: 10_000, 3: 1000}
    assert sizes.radii(10) == {1: 10_000, 2: 7000, 3: 1000}
    assert sizes.exact(12_345) == pytest.approx({1: 12_345, 2: 8230, 3: 41.15})


def test_radii_in_proportion_are_those_of_the_task() -> None:
    task = areas("area 5km..30km", "cylinder 20km")
    assert in_proportion(task, KM).shares == {1: 1.0, 2: pytest.approx(2 / 3)}
    assert whole_steps(task, in_proportion(task, KM)) == range(6, 51)  # 50 + 33 km; the points are 84.8 km apart


def test_only_round_zones_are_sized() -> None:
    task = areas("sector 90deg 20km 45", "area 0km..30km 040..110")
    assert unsized(task, ()) == [1] and unsized(task, (1,)) == []
    assert not is_round(parse_zone("keyhole 500m 90deg 10km"))


@pytest.mark.parametrize(
    ("zone", "after"),
    [
        ("area 20km", "area 12mi"),
        ("cylinder 20km", "cylinder 12mi"),
        ("area 5 km .. 30 km", "area 5km..12mi"),
        ("area 5km..30km 040..110", "area 5km..12mi 040..110"),
    ],
)
def test_a_round_zone_takes_another_radius_and_keeps_the_rest(zone: str, after: str) -> None:
    assert with_radius(parse_zone(zone), "12mi") == parse_zone(after)


def test_a_ring_takes_no_radius_below_its_inside() -> None:
    with pytest.raises(UsageError, match="inner radius"):
        with_radius(parse_zone("area 5km..30km"), "4km")


# -- what suits -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("step", [KM, MILE, NAUTICAL, Step(250.0, "m")], ids=lambda step: step.text(1))
def test_both_suit_at_what_is_found_and_not_a_step_below(step: Step) -> None:
    task, wanted = areas(finish="cylinder 3km"), asked(65, 85, 2.4, Wind(250, 25))
    found = fitted(task, wanted, step)
    assert found.steps is not None and found.evaluations <= 8
    assert found.figures.fits and found.figures.radii == {n: step.metres(found.steps) for n in (1, 2)}
    below = fit(task, Sizes({1: 1.0, 2: 1.0}, Step(step.metres(found.steps - 1), "m")), wanted)
    assert below.steps is not None and below.steps > 1  # one step of the radius below does not do
    slow, fast = found.figures.window_s
    assert slow is not None and fast is not None and slow <= wanted.time_s <= fast


def test_what_comes_off_at_a_finish_cylinder_is_not_flown() -> None:
    wanted = asked(65, 85, 2.4)
    line, cylinder = (fitted(areas(finish=zone), wanted) for zone in ("line 1km", "cylinder 15km"))
    assert line.steps != cylinder.steps


def test_the_smallest_radius_does_where_it_suits_both_already() -> None:
    # 206 km through the points: 2:40 at 77 km/h.
    found = fitted(areas(), asked(77.0, 78.0, 206 / 77.5))
    assert found.steps == 1


def test_where_none_suits_the_figures_are_those_at_the_cap_and_another_time_is_named() -> None:
    found = fitted(areas(), asked(60, 80, 0.5))
    assert found.steps is None
    assert found.figures.radii[1] == found.cap.metres
    assert (found.figures.slowest.fits, found.figures.fastest.fits) == (False, True)
    assert found.time_that_fits_s is not None and found.time_that_fits_s % 300 == 0
    assert fitted(areas(), asked(60, 80, found.time_that_fits_s / 3600)).steps is not None
    # One step of the rounding earlier, nothing would.
    assert fitted(areas(), asked(60, 80, (found.time_that_fits_s - 300) / 3600)).steps is None


def test_a_time_too_long_for_the_fastest_is_shortened() -> None:
    found = fitted(areas(), asked(60, 80, 9.0))
    assert (found.steps, found.figures.fastest.fits) == (None, False)
    assert found.time_that_fits_s is not None and found.time_that_fits_s < 9 * 3600
    assert fitted(areas(), asked(60, 80, found.time_that_fits_s / 3600)).steps is not None


def test_no_time_is_named_where_the_range_of_speeds_is_too_wide() -> None:
    small = building.task(
        (HOME, "line 1km"), (EAST, "area 20km"), (off(9, 0, EAST), "area 20km"), (HOME, "line 1km"),
        type=TaskType.ASSIGNED_AREA,
    )  # fmt: skip
    found = fitted(small, asked(50, 150, 2.0))
    assert (found.steps, found.time_that_fits_s) == (None, None)
    assert 0 < found.suited.share < 0.5


def test_a_wind_that_cannot_be_flown_against_is_out_of_reach() -> None:
    found = fitted(areas(), asked(60, 110, 3.0, Wind(90, 70)))
    assert found.steps is None and found.time_that_fits_s is None
    assert found.figures.slowest.time_s is None and not found.figures.slowest.fits


@pytest.mark.parametrize(
    ("wanted", "window", "time"),
    [
        (3600, (9000.5, 14000.0), 9300),
        (3600, (9000.0, 14000.0), 9000),
        (20000, (9000.0, 14000.0), 13800),
        (3600, (9010.0, 9290.0), 9060),
        (3600, (9010.2, 9013.0), 9011),
        (20000, (9010.2, 9013.9), 9013),
        (3600, (9010.2, 9010.4), None),
        (3600, (9000.0, 8000.0), None),
        (3600, (None, 9000.0), None),
    ],
)
def test_a_time_is_rounded_into_the_window(
    wanted: float, window: tuple[float | None, float | None], time: float | None
) -> None:
    assert time_near(wanted, window) == time


# -- which speeds a time suits ----------------------------------------------------------------------------------------


def test_speeds_from_the_shortest_to_the_longest_path_are_suited() -> None:
    # Lengths of 2 × 60 km and 2 × 80 km by hand: in two hours whoever flies 60 to 80 km/h.
    task = building.task((HOME, "line 1km 90"), (off(70, 90), "area 10km"), (HOME, "line 1km 270"),
                         type=TaskType.ASSIGNED_AREA)  # fmt: skip
    shortest, longest = (HOME, off(60, 90), HOME), (HOME, off(80, 90), HOME)
    suited = suited_speeds(task, shortest, longest, CALM, 7200, (50.0, 100.0))
    assert (suited.from_kmh, suited.to_kmh, suited.share) == pytest.approx((60.0, 80.0, 0.4), abs=0.02)
    open_ended = suited_speeds(task, shortest, None, CALM, 7200, (50.0, 100.0))
    assert (open_ended.from_kmh, open_ended.to_kmh) == (pytest.approx(60.0, abs=0.02), 100.0)
    # 20 km/h along the legs: 120 km at v take 60/(v−20) + 60/(v+20) hours; two hours at v = 30 + √(900 + 400) = 66.06.
    windy = suited_speeds(task, shortest, longest, Wind(90, 20), 7200, (50.0, 100.0))
    assert windy.from_kmh == pytest.approx(66.06, abs=0.03)


def test_one_speed_is_suited_wholly_or_not() -> None:
    task = areas()
    shortest, longest = (HOME, off(60, 90), HOME), (HOME, off(80, 90), HOME)
    assert suited_speeds(task, (*shortest, HOME), (*longest, HOME), CALM, 7200, (70.0, 70.0)).share == 1.0
    assert suited_speeds(task, (*shortest, HOME), (*longest, HOME), CALM, 7200, (90.0, 90.0)).share == 0.0
    none = suited_speeds(task, (*shortest, HOME), (*longest, HOME), CALM, 7200, (30.0, 50.0))
    assert (none.from_kmh, none.to_kmh, none.share) == (None, None, 0.0)
