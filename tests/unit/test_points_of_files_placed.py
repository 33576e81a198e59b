"""Points of task files against a set: which waypoint each is, what speaks for it, and what is left to a person."""

from __future__ import annotations

from taskdb.core.geodesy import destination, distance_m
from taskdb.core.matching.placed import FilePoint, place_points
from taskdb.core.model import Position, Waypoint

HOME = Waypoint("001", "Ormsau", Position.at(48.872, 11.8105))
TOWER = Waypoint("003", "Tannwöhr", Position.at(49.051, 12.473))
QUARRY = Waypoint("004", "Greifenlohe", Position.at(48.631, 12.326))
SET = (HOME, TOWER, QUARRY)


def off(waypoint: Waypoint, metres: float) -> Position:
    return destination(waypoint.position, 90.0, metres)


def placed(*points: FilePoint, confirm_far: bool = False):
    found = place_points(points, SET, confirm_far=confirm_far)
    return [found[point] for point in points]


def test_the_only_name_of_a_format_may_be_code_name_or_both_and_in_plain_letters():
    spelled = ["001", "Ormsau", "001 Ormsau", "ORMSAU", "003 Tannwohr"]
    points = [FilePoint("", text, off(TOWER if "003" in text else HOME, 20.0)) for text in spelled]
    assert [p.waypoint and p.waypoint.code for p in placed(*points)] == ["001", "001", "001", "001", "003"]


def test_how_far_off_is_told_for_each_spelling_by_itself():
    near, further = FilePoint("001", "Ormsau", off(HOME, 1.0)), FilePoint("001", "Ormsau", off(HOME, 400.0))
    first, second = placed(near, further)
    assert first.waypoint is HOME and second.waypoint is HOME
    assert abs((first.off_m or 0) - 1.0) < 0.02 and abs((second.off_m or 0) - 400.0) < 0.02
    assert (first.matched_by, second.matched_by) == ("code", "code")


def test_a_place_without_a_name_is_matched_within_thirty_metres_only():
    near, beyond = placed(FilePoint("", "", off(HOME, 29.0)), FilePoint("", "", off(TOWER, 31.5)))
    assert near.waypoint is HOME and near.matched_by == "position"
    assert beyond.waypoint is None and "003 Tannwöhr, 32 m away" in (beyond.reason or "")


def test_a_code_counts_alone_but_not_against_a_name():
    code_only, contradicted = FilePoint("", "001", off(HOME, 300.0)), FilePoint("004", "Silo", off(QUARRY, 300.0))
    found, left = placed(code_only, contradicted)
    assert found.waypoint is HOME and found.matched_by == "code"
    assert left.waypoint is None and left.reason == "only its code speaks for 004 Greifenlohe, 300 m away"


def test_a_kilometre_is_the_limit_to_the_metre():
    near, far = FilePoint("001", "Ormsau", off(HOME, 999.0)), FilePoint("003", "Tannwöhr", off(TOWER, 1_001.0))
    first, second = placed(near, far)
    assert first.waypoint is HOME
    assert second.waypoint is None and second.reason == "003 Tannwöhr lies 1.0 km away; --yes takes it all the same"


def test_the_nearest_waypoint_is_told_within_ten_kilometres():
    for metres, told in (
        (9_999.0, "the nearest is 001 Ormsau, 10.0 km away"),
        (10_001.0, "no waypoint of the set is near it"),
    ):
        (left,) = placed(FilePoint("", "Weiher", off(HOME, metres)))
        assert left.waypoint is None and told in (left.reason or "")


def test_a_waypoint_over_a_kilometre_away_waits_for_a_person():
    slip = FilePoint("001", "Ormsau", off(HOME, 5_000.0))
    (left,) = placed(slip)
    assert left.waypoint is None and "--yes" in (left.reason or "")
    (taken,) = placed(slip, confirm_far=True)
    assert taken.waypoint is HOME


def test_a_name_of_the_set_that_lies_elsewhere_does_not_take_the_place_of_the_right_one():
    right, slip = FilePoint("001", "Ormsau", off(HOME, 2.0)), FilePoint("001", "Ormsau", off(HOME, 7_000.0))
    first, second = placed(right, slip)
    assert first.waypoint is HOME and second.waypoint is None


def test_what_rounding_parts_is_one_own_point():
    # IGC positions end at 0.001 minute, 1.855 m (1852 m / 1000).
    exact, rounded = FilePoint("", "Pond", Position.at(47.5, 11.0)), FilePoint("", "Pond", Position.at(47.50001, 11.0))
    first, second = placed(exact, rounded)
    assert first.waypoint is None and first.position == second.position == exact.position
    assert 1.0 < distance_m(exact.position, rounded.position) < 1.3


def test_no_points_give_nothing():
    assert place_points([], SET) == {}


def test_roundings_of_one_place_are_one_place_across_every_parallel():
    for latitude in (0.0, 48.8720, 48.8721, 48.87205, -33.9, 89.0):
        points = [
            FilePoint("", "", destination(Position.at(latitude, 10.0), 0.0, metres)) for metres in (0.0, 2.9, 5.0)
        ]
        first, second, third = (place_points(points, SET)[point].position for point in points)
        # No waypoint is near: where it lies is where the first rounding of it does; 5 m from that is another place.
        assert first == second == points[0].position and third == points[2].position


def test_a_point_between_two_places_goes_to_the_one_that_came_first():
    # 5 m apart they are two places; the third is a rounding of either (3 m).
    first, second, between = (
        FilePoint("", "", destination(Position.at(47.5, 11.0), 0.0, metres)) for metres in (0.0, 5.0, 2.5)
    )
    found = place_points([first, second, between], SET)
    assert found[between].position == found[first].position != found[second].position
