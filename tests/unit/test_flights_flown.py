"""What flights make of tasks: starts, zones, finishes and distances of ways whose truth is known.

The expected times follow from the way alone: straight at even speed, so that a moment is a distance.
"""

from __future__ import annotations

import pytest

from taskdb.core.flights.fixes import Log
from taskdb.core.flights.flight import Flight, Flown
from taskdb.core.flights.flown import fly
from taskdb.core.flights.pieces import Pieces
from taskdb.core.flights.plain import flight_plain, utc_text
from taskdb.core.flights.visits import Visits
from taskdb.core.flights.which_task import read_flown
from taskdb.core.model import Position, Task, TaskType
from tests.building import task
from tests.flying import GEOD, Fix, Spot, Way, away, spoil, track

HOME, NORTH, EAST = (48.0, 11.0), (48.4, 11.0), (48.2, 11.6)
V = 30.0


def flown(made: Task, fixes: list[Fix]) -> Flown:
    return fly(made, Visits(Pieces.of(track(fixes))))


def length(a: Spot, b: Spot) -> float:
    return float(GEOD.inv(a[1], a[0], b[1], b[0])[2])


def out_and_back(start: str = "line 1km", turn: str = "cylinder 500m", finish: str = "cylinder 3km") -> Task:
    return task((HOME, start), (NORTH, turn), (HOME, finish))


def there_and_back(before_m: float = 3_000.0, beyond_m: float = 0.0) -> Way:
    """Fly from south of home over it, north along its meridian to the turn or beyond it, and back to home."""
    return Way(away(HOME, 180, before_m)).to(HOME, V).to(away(NORTH, 0, beyond_m), V).to(HOME, V)


def past_the_turn() -> Way:
    """Fly straight over the turn, and back to home far beside it."""
    beyond = Way(away(HOME, 180, 3_000)).to(away(NORTH, 0, 4_000), V)
    return beyond.to(away(NORTH, 90, 6_000), V).to(HOME, V)


LEG = length(HOME, NORTH)


@pytest.mark.parametrize("interval_s", [1, 4, 10, 59])
def test_zones_count_where_the_flight_crosses_them_between_its_fixes(interval_s: float) -> None:
    found = flown(out_and_back(), there_and_back(beyond_m=1_000).fixes(interval_s))
    home_s = 36_000 + 3_000 / V
    assert found.starts == 1 and found.is_finished
    assert found.start_s == pytest.approx(home_s, abs=0.5 if interval_s < 59 else 2)
    assert found.zones[0].at_s == pytest.approx(home_s + (LEG - 500) / V, abs=0.5)
    # The last fix may lie before home: what is not recorded is not flown.
    assert found.finish_s == pytest.approx(home_s + (2 * LEG + 2_000 - 3_000) / V, abs=2.5)
    assert found.distance_m == pytest.approx(2 * LEG - 3_000, abs=1e-3)
    assert found.time_s is not None
    assert found.speed_kmh == pytest.approx(found.distance_m * 3.6 / found.time_s)


@pytest.mark.parametrize(
    ("turn", "at_m"),
    [
        ("cylinder 500m", LEG - 500),
        ("line 1km 0", LEG),
        ("sector 90deg 3km 0", LEG),
        ("sector 90deg 0", LEG),
        ("keyhole 500m 90deg 10km 0", LEG - 500),
        ("area 5km", LEG - 5_000),
        ("area 3km..5km", LEG - 5_000),
        ("area 3km..5km 160..200", LEG - 5_000),
        ("area 3km..5km 300..60", LEG + 3_000),
    ],
)
def test_a_turn_counts_from_where_the_flight_touches_its_zone(turn: str, at_m: float) -> None:
    found = flown(out_and_back(turn=turn), there_and_back(beyond_m=4_000).fixes(7))
    assert found.start_s is not None and found.is_finished
    assert found.zones[0].at_s == pytest.approx(found.start_s + at_m / V, abs=0.5)


@pytest.mark.parametrize(
    ("turn", "beyond_m"),
    [
        ("sector 90deg 3km 0", -100),
        ("sector 90deg 3km 90", 4_000),
        ("area 1km..5km 20..160", 4_000),
        ("area 4500m..5km 300..60", 4_000),
        ("keyhole 300m 90deg 3km 90", 4_000),
        ("cylinder 300m", 4_000),
        ("line 500m 0", 4_000),
    ],
)
def test_a_turn_whose_zone_the_flight_passes_by_does_not_count(turn: str, beyond_m: float) -> None:
    # 400 m to the west of the turn, from 4 km before it.
    aside = away(NORTH, 270, 400)
    way = Way(away(HOME, 180, 3_000)).to(HOME, V).to(away(aside, 180, 4_000), V).to(away(aside, 0, beyond_m), V)
    found = flown(out_and_back(turn=turn), way.fixes(4))
    assert found.starts == 1 and found.zones[0].at_s is None and not found.is_finished


@pytest.mark.parametrize(
    ("start", "from_m"), [("line 1km", 0), ("cylinder 2km", 2_000), ("sector 90deg 2km", 0), ("area 1km..2km", 2_000)]
)
def test_a_start_is_the_line_crossed_or_the_zone_left(start: str, from_m: float) -> None:
    found = flown(out_and_back(start=start), there_and_back(beyond_m=500).fixes(6))
    assert found.start_s == pytest.approx(36_000 + (3_000 + from_m) / V, abs=0.5)
    assert found.starts == (2 if "area" in start else 1)


def test_a_line_counts_in_its_direction_alone_and_within_its_ends() -> None:
    north_to_south = Way(away(HOME, 0, 3_000)).to(away(HOME, 180, 3_000), V).fixes(5)
    assert flown(out_and_back(), north_to_south).starts == 0
    for aside_m, starts in ((499, 1), (501, 0)):
        aside = away(HOME, 90, aside_m)
        assert flown(out_and_back(), Way(away(aside, 180, 999)).to(away(aside, 0, 999), V).fixes(5)).starts == starts
    # A finish line stands square to the last leg, towards the south; flown over towards the north it is none.
    way = there_and_back(beyond_m=1_000)
    way.to(away(HOME, 180, 1_000), V)
    to_line = out_and_back(finish="line 1km")
    assert flown(to_line, way.fixes(5)).is_finished
    late = Way(away(HOME, 180, 3_000)).to(HOME, V).to(away(NORTH, 0, 1_000), V).to(away(HOME, 90, 2_000), V)
    late.to(away(HOME, 180, 2_000), V).to(away(HOME, 0, 2_000), V)
    assert not flown(to_line, late.fixes(5)).is_finished


def test_of_several_starts_the_one_with_the_least_time_counts() -> None:
    way = Way(away(HOME, 180, 1_000))
    for _ in range(3):
        way.to(away(HOME, 0, 1_000), V).to(away(HOME, 90, 2_000), V).to(away(HOME, 180, 1_000), V)
    last = way.times[-1]
    fixes = way.to(NORTH, V).to(HOME, V).fixes(3)
    found = flown(out_and_back(), fixes)
    assert found.starts == 4
    assert found.start_s == pytest.approx(last + 1_000 / V, abs=0.5)


def test_after_the_finish_no_start_counts_and_none_replaces_the_flown_one() -> None:
    way = there_and_back(beyond_m=500)
    for _ in range(2):
        way.to(away(HOME, 180, 1_000), V).to(away(HOME, 0, 1_000), V)
    found = flown(out_and_back(), way.fixes(3))
    assert found.starts == 1 and found.start_s == pytest.approx(36_100, abs=0.5) and found.is_finished


def test_an_unfinished_flight_came_as_far_as_it_was_nearest_to_the_next_point() -> None:
    # Out to 10 km before the turn at its nearest, 6 km off to the side; then it drifts away and lands.
    nearest = away(away(NORTH, 180, 8_000), 90, 6_000)
    way = Way(away(HOME, 180, 3_000)).to(HOME, V).to(nearest, V).to(away(nearest, 150, 9_000), V).stand(300)
    found = flown(out_and_back(), way.fixes(4))
    assert not found.is_finished and found.finish_s is None and found.time_s is None and found.speed_kmh is None
    assert found.distance_m == pytest.approx(LEG - length(nearest, NORTH), abs=60)
    # At whole seconds of a piece between two fixes it is exact: the nearest point lies between them.
    past = Way(away(HOME, 180, 3_000)).to(HOME, V)
    past.to(away(NORTH, 225, 9_000), V).to(away(NORTH, 315, 9_000), V)
    between = flown(out_and_back(), past.fixes(59))
    assert between.distance_m == pytest.approx(LEG - 9_000 / 2**0.5, abs=60)


def test_beyond_a_turn_reached_the_next_leg_counts_and_what_the_rules_take_off_the_start() -> None:
    made = task((HOME, "cylinder 2km"), (NORTH, "cylinder 500m"), (EAST, "cylinder 500m"), (HOME, "cylinder 3km"))
    way = Way(away(HOME, 180, 5_000)).to(HOME, V).to(NORTH, V)
    leg = length(NORTH, EAST)
    azimuth = GEOD.inv(NORTH[1], NORTH[0], EAST[1], EAST[0])[0]
    found = flown(made, way.along(azimuth, leg / 2, V).stand(400).fixes(5))
    assert [zone.at_s is not None for zone in found.zones] == [True, False]
    assert found.distance_m == pytest.approx(LEG - 2_000 + leg / 2, abs=V * 5)


def test_a_gap_over_a_minute_proves_nothing() -> None:
    made = out_and_back()
    fixes = past_the_turn().fixes(2)
    turn_s = 36_000 + (3_000 + LEG) / V
    near = [fix for fix in fixes if not turn_s - 29 < fix.time_s < turn_s + 29]
    assert flown(made, near).is_finished
    # The geodesic between fixes leads over the turn's zone or not: beyond a minute that is not asked.
    gone = [fix for fix in fixes if not turn_s - 31 < fix.time_s < turn_s + 31]
    assert gone[1].time_s - gone[0].time_s == 2
    assert flown(made, gone).zones[0].at_s is None
    start_gone = [fix for fix in fixes if not 36_068 < fix.time_s < 36_132]
    assert flown(made, start_gone).starts == 0


def test_what_is_not_valid_proves_nothing_and_breaks_nothing_within_a_minute() -> None:
    fixes = past_the_turn().fixes(2)
    turn_s = 36_000 + (3_000 + LEG) / V
    few = spoil(fixes, lambda fix: abs(fix.time_s - turn_s) < 25, validity="V")
    many = spoil(fixes, lambda fix: abs(fix.time_s - turn_s) < 40, validity="V")
    assert flown(out_and_back(), few).is_finished
    assert flown(out_and_back(), many).zones[0].at_s is None


def test_zones_that_are_touched_out_of_order_do_not_count() -> None:
    made = task((HOME, "line 1km"), (NORTH, "cylinder 1km"), (EAST, "cylinder 1km"), (HOME, "cylinder 1km"))
    way = Way(away(HOME, 180, 2_000)).to(away(HOME, 0, 1_500), V).to(EAST, V).to(NORTH, V).to(HOME, V)
    found = flown(made, way.fixes(5))
    assert [zone.at_s is not None for zone in found.zones] == [True, False]


@pytest.mark.parametrize("longitude", [179.9, -180.0, 179.999])
def test_the_antimeridian_and_midnight_are_no_borders(longitude: float) -> None:
    def moved(spot: Spot) -> Spot:
        return spot[0], (spot[1] - 11.0 + longitude + 180) % 360 - 180

    made = task((moved(HOME), "line 1km"), (moved(EAST), "cylinder 500m"), (moved(HOME), "cylinder 3km"))
    plain = task((HOME, "line 1km"), (EAST, "cylinder 500m"), (HOME, "cylinder 3km"))
    back = away(HOME, 250, 3_000)
    results = []
    for shift, course in ((lambda spot: spot, plain), (moved, made)):
        way = Way(shift(back), 86_000.0).to(shift(HOME), V).to(shift(EAST), V).to(shift(HOME), V)
        results.append(flown(course, way.fixes(5)))
    first, second = results
    assert first.is_finished and second.is_finished and first.finish_s is not None and first.finish_s > 86_400
    assert (second.start_s, second.finish_s) == pytest.approx((first.start_s, first.finish_s), abs=1e-3)
    assert second.distance_m == pytest.approx(first.distance_m, abs=1e-3)


def test_a_second_flight_and_the_way_home_by_road_are_not_part_of_the_first() -> None:
    # Started, landed at the turn's foot 3 km short of it; after an hour the trailer leads through the zone and home.
    short = away(NORTH, 180, 3_000)
    way = Way(away(HOME, 180, 3_000)).to(HOME, V).to(short, V).stand(3_600).to(NORTH, 20.0).to(HOME, 20.0).stand(600)
    found = flown(out_and_back(), way.fixes(4))
    assert found.zones[0].at_s is None and not found.is_finished
    assert found.distance_m == pytest.approx(LEG - 3_000, abs=1)
    flight = read_flown(Log("2027-06-14", track(way.fixes(4))), [out_and_back()])
    assert flight.ended_at is not None
    assert length((flight.ended_at.latitude_deg, flight.ended_at.longitude_deg), short) < 10
    # A second flight of the day that finishes counts, its start with it.
    again = Way(away(HOME, 180, 3_000)).to(HOME, V).to(short, V).to(HOME, V).stand(1_200).to(away(HOME, 180, 3_000), V)
    second = again.times[-1]
    found = flown(out_and_back(), again.to(HOME, V).to(NORTH, V).to(HOME, V).fixes(4))
    assert found.is_finished and found.start_s == pytest.approx(second + 100, abs=0.5)


def test_where_it_stood_is_the_median_of_the_still_fixes() -> None:
    grid, field = away(HOME, 80, 700), away(HOME, 200, 20_000)
    way = (
        Way(away(HOME, 80, 300))
        .stand(400)
        .to(grid, 4.0)
        .stand(1_200)
        .to(away(HOME, 0, 9_000), V)
        .to(field, V)
        .stand(90)
    )
    flight = read_flown(Log("2027-06-14", track(way.fixes(3))), [])
    assert flight.task is None and flight.flown is None
    assert flight.stood_before is not None and flight.stood_after is not None
    assert flight.stood_before.position == Position.at(*grid)
    assert flight.stood_before.gnss_altitude_m == 548
    assert flight.stood_after.position == Position.at(*field)
    moving = read_flown(Log("2027-06-14", track(there_and_back().fixes(4))), [])
    assert (moving.stood_before, moving.stood_after) == (None, None)


def test_area_tasks_credit_the_fixes_of_the_longest_way() -> None:
    made = task(
        (HOME, "line 1km"), (NORTH, "area 10km"), (EAST, "area 10km"), (HOME, "cylinder 3km"),
        type=TaskType.ASSIGNED_AREA, time_s=3 * 3600,
    )  # fmt: skip
    north, east = away(NORTH, 350, 6_000), away(EAST, 90, 7_000)
    way = Way(away(HOME, 180, 3_000)).to(HOME, V).to(north, V).to(away(NORTH, 90, 4_000), V).to(east, V).to(HOME, V)
    found = flown(made, way.fixes(1))
    assert found.is_finished and found.credited is not None
    assert [credited.number for credited in found.credited] == [1, 2]
    for credited, true in zip(found.credited, (north, east), strict=True):
        assert length((credited.position.latitude_deg, credited.position.longitude_deg), true) <= V
    best = length(HOME, north) + length(north, east) + length(east, HOME) - 3_000
    assert found.distance_m == pytest.approx(best, abs=2 * V)
    # The minimum time counts where the flight was quicker.
    assert found.time_s is not None and found.time_s < 3 * 3600
    assert found.speed_kmh == pytest.approx(found.distance_m * 3.6 / (3 * 3600))


def test_an_area_that_is_only_clipped_between_two_fixes_is_credited_where_it_is_crossed() -> None:
    made = task(
        (HOME, "line 1km"), (NORTH, "area 500m"), (HOME, "cylinder 3km"), type=TaskType.ASSIGNED_AREA, time_s=600
    )  # fmt: skip
    beside = away(NORTH, 90, 480)
    way = Way(away(HOME, 180, 3_000)).to(HOME, V).to(away(beside, 180, 6_000), V)
    before = way.times[-1]
    fixes = way.to(away(beside, 0, 6_000), V).to(away(HOME, 90, 9_000), V).to(HOME, V).fixes(1)
    crossing = before + 200
    sparse = [fix for fix in fixes if abs(fix.time_s - crossing) > 20]
    found = flown(made, sparse)
    assert found.credited is not None and found.is_finished
    (credited,) = found.credited
    at = credited.position.latitude_deg, credited.position.longitude_deg
    assert length(at, NORTH) == pytest.approx(500, abs=0.1)
    assert found.distance_m == pytest.approx(length(HOME, at) * 2 - 3_000, abs=0.1)


def test_the_start_of_an_area_task_is_that_of_the_greatest_speed_over_the_longer_of_flown_and_minimum_time() -> None:
    def made(minutes: int) -> Task:
        return task(
            (HOME, "line 1km"), (NORTH, "area 8km"), (HOME, "cylinder 3km"),
            type=TaskType.ASSIGNED_AREA, time_s=60 * minutes,
        )  # fmt: skip

    # First far into the area and back, then again, less far: 20 minutes later.
    way = Way(away(HOME, 180, 1_000)).to(away(NORTH, 0, 7_000), V).to(away(HOME, 90, 6_000), V)
    way.to(away(HOME, 180, 1_000), V)
    second = way.times[-1] + 1_000 / V
    fixes = way.to(away(NORTH, 180, 6_000), V).to(HOME, V).fixes(2)
    quick, slow = flown(made(10), fixes), flown(made(240), fixes)
    assert quick.start_s == pytest.approx(second, abs=0.5)
    # Where the minimum time is longer than either, the way that leads further counts.
    assert slow.start_s == pytest.approx(36_000 + 1_000 / V, abs=0.5)
    assert slow.distance_m > quick.distance_m + 10_000


def test_an_unfinished_area_task_counts_the_areas_reached_and_the_way_towards_the_next() -> None:
    made = task(
        (HOME, "line 1km"), (NORTH, "area 10km"), (EAST, "area 10km"), (HOME, "cylinder 3km"),
        type=TaskType.ASSIGNED_AREA, time_s=3 * 3600,
    )  # fmt: skip
    deep, short = away(NORTH, 340, 6_000), away(EAST, 330, 15_000)
    way = Way(away(HOME, 180, 3_000)).to(HOME, V).to(deep, V).to(short, V).stand(300)
    found = flown(made, way.fixes(1))
    assert not found.is_finished and found.credited is not None
    assert [credited.number for credited in found.credited] == [1]
    expected = length(HOME, deep) + length(deep, EAST) - 15_000
    assert found.distance_m == pytest.approx(expected, abs=2 * V)


def test_which_task_was_flown_is_told_by_the_zones_reached() -> None:
    short = out_and_back()
    long = task((HOME, "line 1km"), (NORTH, "cylinder 500m"), (EAST, "cylinder 500m"), (HOME, "cylinder 3km"), name="B")
    areas = task(
        (HOME, "line 1km"), (NORTH, "area 20km"), (HOME, "cylinder 3km"), type=TaskType.ASSIGNED_AREA,
        time_s=60, name="C",
    )  # fmt: skip
    back = there_and_back(beyond_m=500)
    round_ = Way(away(HOME, 180, 3_000)).to(HOME, V).to(NORTH, V).to(EAST, V).to(HOME, V)

    def taken(way: Way, tasks: list[Task], declared: tuple[Position, ...] = ()) -> int | None:
        return read_flown(Log("2027-06-14", track(way.fixes(4)), declared), tasks).task

    assert taken(back, [areas, long, short]) == 2
    assert taken(round_, [areas, short, long]) == 2
    assert taken(Way(away(HOME, 90, 2_000)).to(EAST, V), [short]) is None
    # Started and nothing reached: among several nothing tells, of one it is that one.
    outland = Way(away(HOME, 180, 3_000)).to(HOME, V).to(away(HOME, 0, 10_000), V).stand(300)
    assert taken(outland, [short]) == 0 and taken(outland, [short, long]) is None
    declared = tuple(point.place.position for point in long.points)
    assert taken(outland, [short, long], declared) == 1


def test_a_flight_that_fits_two_courses_alike_is_told_and_not_decided() -> None:
    west = (48.2, 10.4)
    tasks = [
        task((HOME, "line 1km"), (NORTH, "cylinder 500m"), (spot, "cylinder 500m"), (HOME, "cylinder 3km"), name=name)
        for spot, name in ((EAST, "A"), (west, "B"), (EAST, "C"))
    ]
    between = Way(away(HOME, 180, 3_000)).to(HOME, V).to(NORTH, V).to(away(NORTH, 180, 6_000), V).stand(300)
    flight = read_flown(Log("2027-06-14", track(between.fixes(4))), tasks)
    assert flight.task is None and "alike" in flight.problems[-1] and "'B'" in flight.problems[-1]
    eastward = Way(away(HOME, 180, 3_000)).to(HOME, V).to(NORTH, V).to(away(EAST, 270, 9_000), V).stand(300)
    flight = read_flown(Log("2027-06-14", track(eastward.fixes(4))), tasks)
    assert flight.task == 0 and "'C'" in flight.problems[-1]


def test_a_short_task_whose_zones_lie_on_the_way_of_a_longer_one_is_not_told_as_flown() -> None:
    short = out_and_back(turn="cylinder 500m")
    areas = task(
        (HOME, "line 1km"), (NORTH, "area 25km"), (EAST, "area 25km"), (HOME, "cylinder 3km"),
        type=TaskType.ASSIGNED_AREA, time_s=60, name="B",
    )  # fmt: skip
    way = Way(away(HOME, 180, 3_000)).to(HOME, V).to(NORTH, V).to(EAST, V).to(HOME, V)

    def read(declared: tuple[Position, ...] = ()) -> Flight:
        return read_flown(Log("2027-06-14", track(way.fixes(4)), declared), [short, areas])

    both = read()
    assert both.task is None and "name the one that was flown" in both.problems[-1]
    # Of one task alone it is told; what is declared is.
    assert read_flown(Log("2027-06-14", track(way.fixes(4)), ()), [areas]).task == 0
    assert read(tuple(point.place.position for point in areas.points)).task == 1


def test_the_json_of_a_flight_is_the_contracts_entry() -> None:
    made = out_and_back()
    flight = read_flown(Log("2027-06-14", track(there_and_back(beyond_m=500).fixes(4))), [made])
    shown = flight_plain(flight, file="1.igc", task=made.name, ended_near=None)
    assert list(shown) == [
        "file", "task", "date", "starts", "start_utc", "zones", "finish_utc", "finished", "time_s", "distance_m",
        "speed_kmh", "credited", "ended_near", "stood_before", "stood_after", "problems",
    ]  # fmt: skip
    assert shown["start_utc"] == "2027-06-14T10:01:40Z" and shown["finished"] is True
    assert shown["zones"][0]["number"] == 1 and shown["credited"] is None and shown["problems"] == []
    assert utc_text("2027-12-31", 86_400 + 61.6) == "2028-01-01T00:01:02Z"
    assert utc_text(None, 61.4) == "T00:01:01Z"
    empty = read_flown(Log(None, track([])), [made])
    shown = flight_plain(empty, file="2.igc", task=None, ended_near=None)
    assert shown["zones"] == [] and shown["distance_m"] == 0.0 and "counts" in shown["problems"][-1]


def test_points_of_the_pilots_own_choice_are_not_looked_for_and_that_is_said() -> None:
    made = task(
        (HOME, "line 1km"), (NORTH, "cylinder 500m"), (HOME, "cylinder 3km"), type=TaskType.MODIFIED, time_s=600
    )  # fmt: skip
    way = Way(away(HOME, 180, 3_000)).to(HOME, V).to(NORTH, V).to(EAST, V).to(HOME, V)
    flight = read_flown(Log("2027-06-14", track(way.fixes(4))), [made])
    assert flight.flown is not None and flight.flown.is_finished
    assert flight.flown.distance_m == pytest.approx(2 * LEG - 3_000, abs=1e-3)
    assert "own choice" in flight.problems[-1]


def test_what_is_towed_over_the_ground_is_no_start_and_a_slow_flight_is_one() -> None:
    # Pushed over the start line at 3 m/s, then it stands and flies.
    way = Way(away(HOME, 180, 600)).stand(30).to(away(HOME, 0, 100), 3.0).stand(120).to(away(HOME, 90, 2_000), V)
    way.to(away(HOME, 180, 2_000), V).to(NORTH, V).to(HOME, V)
    assert flown(out_and_back(), way.fixes(4)).starts == 1
    slow = Way(away(HOME, 180, 600)).to(away(HOME, 0, 600), 12.0).to(NORTH, V).to(HOME, V)
    assert flown(out_and_back(), slow.fixes(4)).starts == 1


def test_gaps_and_jumps_in_flight_are_told() -> None:
    fixes = there_and_back(beyond_m=500).fixes(4)
    gone = [fix for fix in fixes if not 36_400 < fix.time_s < 36_500]
    wild = [Fix(fix.time_s, fix.latitude_deg + (fix.time_s == 36_800), fix.longitude_deg) for fix in gone]
    said = " ".join(read_flown(Log("2027-06-14", track(wild)), [out_and_back()]).problems)
    assert "one gap of more than 60 s, up to 100 s" in said and "faster than 500 km/h 2 times" in said
    still = read_flown(Log("2027-06-14", track(Way(HOME).stand(900).fixes(5))), [out_and_back()])
    assert "never flies" in " ".join(still.problems)
    assert read_flown(Log("2027-06-14", track([])), []).ended_at is None
    assert read_flown(Log("2027-06-14", track([Fix(1.0, 48.0, 11.0)])), [out_and_back()]).flown is None
