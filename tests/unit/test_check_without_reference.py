"""What the checks find without any reference: hits, non-hits and mends, as data."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from taskdb.core.model import Landable, Position, Radio, Runway, Severity, Typed, Waypoint
from tests.unit.check_sets import GROUND, findings, point, region, typed_in_minutes

DM, D = "degrees-minutes", "decimal-degrees"


def test_the_clean_set_has_no_finding_about_any_position() -> None:
    for rule in ("null-island", "outside-country", "outside-region", "elevation-off", "elevation-unit",
                 "misread-group", "odd-form", "round-coordinates", "same-place"):  # fmt: skip
        assert findings(region(elevation_m=410.0), rule) == []


OUTSIDE = [
    # title, position, stated country, severity, country in which it lies
    ("2 km over the border", (47.6137, 14.026), "AA", None, None),
    ("5 km over the border", (47.6137, 14.068), "AA", Severity.WARNING, ["BB"]),
    ("the wrong hemisphere", (47.6137, -11.5), "AA", Severity.ERROR, []),
    ("exchanged", (11.5237, 47.6137), "AA", Severity.ERROR, []),
    ("80 km off and apart from the rest", (47.6137, 15.07), "AA", Severity.ERROR, ["BB"]),
    ("the neighbour's own point", (47.6137, 15.07), "BB", None, None),
    ("no country stated, in the neighbour's country", (47.6137, 15.07), None, Severity.ERROR, ["BB"]),
    ("no country stated, at home", (47.6137, 11.9), None, None, None),
    ("ground without a code", (45.9, 11.5237), "AA", None, None),
    ("a code that has no outline", (47.6137, 11.9), "QQ", None, None),
]


@pytest.mark.parametrize("case", OUTSIDE, ids=[case[0] for case in OUTSIDE])
def test_outside_country(case: tuple) -> None:
    _, position, country, severity, lies_in = case
    found = findings([*region(), point("X", *position, country=country)], "outside-country")
    assert [finding.codes for finding in found] == ([("X",)] if severity else [])
    if severity:
        assert found[0].severity is severity
        assert found[0].evidence["lies_in"] == lies_in
        assert found[0].evidence["outside_m"] > 3000


def test_without_a_country_column_the_countries_with_eight_percent_are_home() -> None:
    neighbours = [point(f"B{k}", 47.3 + 0.1 * k, 14.3, country=None) for k in range(9)]
    assert findings([*region(None), *neighbours], "outside-country") == []
    assert len(findings([*region(None), *neighbours[:6]], "outside-country")) == 6


MENDED = [
    # title, true position, latitude and longitude as they stand, words of the first mend
    ("hemisphere", (48.0, 12.3), ("48°00.000′N", "012°18.000′W"), "the wrong hemisphere"),
    ("exchange", (48.0, 12.3), ("12°18.000′N", "048°00.000′E"), "exchanged"),
    ("degrees left out", (48.0, 12.3), ("48°00.000′N", "2°18.000′E"), "a digit left out"),
    ("degrees swapped", (48.0, 12.3), ("48°00.000′N", "021°18.000′E"), "typed the other way round"),
]


@pytest.mark.parametrize("case", MENDED, ids=[case[0] for case in MENDED])
def test_the_true_place_is_offered_first_without_any_reference(case: tuple) -> None:
    _, truth, text, words = case
    stands = []
    for one in text:
        degrees, minutes = one.rstrip("NSEW′").split("°")
        stands.append((int(degrees) + float(minutes) / 60) * (-1 if one[-1] in "SW" else 1))
    wrong = typed_in_minutes(point("X", *stands, country="AA"), *text)
    (finding,) = findings([*region(), wrong], "outside-country")
    assert finding.suggestion is not None
    assert finding.suggestion.position == Position.at(*truth)
    assert words in finding.suggestion.reason
    assert words in finding.message


def test_a_point_alone_in_its_country_is_a_warning_with_its_gap() -> None:
    alone = point("X", 49.9537, 13.9517, country="AA")
    crowd = [
        replace(one, position=Position.at(one.position.latitude_deg / 10 + 42, one.position.longitude_deg / 10 + 10))
        for one in region()
    ]
    (finding,) = findings([*crowd, alone], "outside-region")
    assert finding.codes == ("X",)
    assert finding.severity is Severity.WARNING
    assert finding.evidence["gap_m"] > 300_000


def test_without_outlines_a_far_group_of_wrong_points_is_found_by_the_company_it_lacks() -> None:
    wrong = [point(f"W{k}", 47.3 + 0.5 * k, -11.1 - 0.4 * k) for k in range(4)]
    found = findings([*region(None), *wrong], "outside-region", outlines=None)
    assert [finding.codes[0] for finding in found] == ["W0", "W1", "W2", "W3"]
    assert all(finding.severity is Severity.ERROR for finding in found)


def test_summits_close_together_do_not_make_an_airfield_lonely() -> None:
    range_ = [point(f"S{n:03d}", 47.71 + n % 12 / 200, 12.01 + n // 12 / 200, country="AA") for n in range(120)]
    lonely = point("X", 47.0, 13.6, country="AA")
    assert findings([*region(), *range_, lonely], "outside-region") == []


def test_two_that_stand_side_by_side_are_led_astray_by_no_slip() -> None:
    far = point("X", 49.85, 10.05, country="AA")
    beacon = point("Y", 49.83, 10.06, country="AA")
    found = findings([*region()[:30], far, beacon], "outside-region")
    assert [finding.severity for finding in found] == [Severity.NOTE] * 2
    copied = replace(far, code="Y")
    found = findings([*region()[:30], far, copied], "outside-region")
    assert [finding.severity for finding in found] == [Severity.WARNING] * 2


def test_on_an_island_a_point_may_stand_alone() -> None:
    values = np.array(GROUND.values)
    far = point("X", 49.85, 10.05, country="AA")
    (finding,) = findings([*region()[:30], far], "outside-region")
    assert finding.severity is Severity.WARNING
    row, column = int((90 - 49.85) * 12), int((180 + 10.05) * 12)
    values[row - 4 : row + 5, column + 1 : column + 5] = 255
    (finding,) = findings([*region()[:30], far], "outside-region", elevation=replace(GROUND, values=values))
    assert finding.severity is Severity.NOTE


def test_in_a_small_set_nothing_is_said_about_company() -> None:
    assert findings([*region(count=10), point("X", 49.9, 13.9, country="AA")], "outside-region") == []


def test_zero_zero_is_a_missing_position() -> None:
    for latitude, longitude in ((0.0, 0.0), (0.0005, -0.0005)):
        (finding,) = findings([*region(), point("X", latitude, longitude)], "null-island")
        assert finding.severity is Severity.ERROR
        assert findings([*region(), point("X", latitude, longitude)], "outside-country") == []
    assert findings([*region(), point("X", 0.0, 11.5)], "null-island") == []


ELEVATIONS = [
    # title, longitude, stated metres, severity: the ground has 400 m, 1,200 m east of 16° E
    ("fits", 12.0, 430.0, None),
    ("above the band", 12.0, 590.0, Severity.NOTE),
    ("far above the band", 12.0, 900.0, Severity.WARNING),
    ("below the band", 12.0, 200.0, Severity.WARNING),
    ("zero is no evidence", 12.0, 0.0, None),
    ("unknown is no evidence", 12.0, None, None),
    ("a valley beside the step", 15.99, 350.0, None),
    ("the same in the flat", 17.0, 700.0, Severity.WARNING),
]


@pytest.mark.parametrize("case", ELEVATIONS, ids=[case[0] for case in ELEVATIONS])
def test_elevation_against_the_ground(case: tuple) -> None:
    _, longitude, elevation, severity = case
    found = findings([*region(), point("X", 48.0, longitude, elevation_m=elevation)], "elevation-off")
    assert [finding.severity for finding in found] == ([severity] if severity else [])


def test_where_many_elevations_are_off_it_is_the_elevations_and_no_places_are_offered() -> None:
    few = findings([*region(elevation_m=400.0)[6:], *region(elevation_m=900.0)[:6]], "elevation-off")
    assert len(few) == 6 and all("elevation or position" in finding.message for finding in few)
    many = findings([*region(elevation_m=400.0)[30:], *region(elevation_m=900.0)[:30]], "elevation-off")
    assert [len(finding.codes) for finding in many] == [30] and not many[0].alternatives
    assert "30 of 100 points of this set" in many[0].message
    assert "the elevations themselves are in doubt" in many[0].message
    assert many[0].evidence == {"column": "elevation_m", "source": None, "points": 30, "of": 100}


def test_places_are_offered_the_same_whether_points_are_looked_at_together_or_one_by_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    wrong = [point(f"W{n}", 47.2137 + n / 7, -11.0143 - n / 9, country="AA", elevation_m=400.0) for n in range(7)]
    together = findings([*region(), *wrong], "outside-country")
    monkeypatch.setattr("taskdb.core.checks.mends._AT_ONCE", 2)
    assert findings([*region(), *wrong], "outside-country") == together
    assert sum(finding.suggestion is not None for finding in together) == 7


def test_where_the_grid_has_no_data_nothing_is_said() -> None:
    assert findings([point("X", -10.0, 12.0, elevation_m=3000.0)], "elevation-off") == []


UNITS = [
    ("feet taken for metres", 1312.0, 399.9),
    ("converted twice", 121.9, 399.9),
    ("simply wrong", 900.0, None),
    ("right", 400.0, None),
]


@pytest.mark.parametrize("case", UNITS, ids=[case[0] for case in UNITS])
def test_an_elevation_in_the_other_unit(case: tuple) -> None:
    _, elevation, mended = case
    found = findings([point("X", 48.0, 12.0, elevation_m=elevation)], "elevation-unit")
    assert len(found) == (mended is not None)
    if found and found[0].suggestion:
        assert (found[0].suggestion.field, found[0].suggestion.position) == ("elevation_m", None)
        assert found[0].suggestion.value == pytest.approx(mended, abs=0.11)


def test_fewer_digits_than_all_others_of_a_source_are_a_digit_left_out() -> None:
    rows = [typed_in_minutes(one, "47°12.345′N", "011°17.500′E") for one in region(source="survey")]
    rows[7] = typed_in_minutes(rows[7], "47°12.345′N", "01°17.500′E")
    rows[8] = typed_in_minutes(rows[8], "47°12.34′N", "011°17.500′E")
    found = findings(rows, "odd-form")
    assert [finding.codes for finding in found] == [("P007",), ("P008",)]
    assert (found[0].evidence["part"], found[1].evidence["part"]) == ("degrees", "decimals")


def test_degrees_that_nothing_fills_up_have_one_digit_or_two() -> None:
    rows = [typed_in_minutes(one, "9°12.345′S", "141°17.500′E") for one in region()]
    rows[7] = typed_in_minutes(rows[7], "10°12.345′S", "141°17.500′E")
    assert findings(rows, "odd-form") == []
    filled = [typed_in_minutes(one, "09°12.345′S", "141°17.500′E") for one in rows]
    filled[7] = typed_in_minutes(rows[7], "9°12.345′S", "141°17.500′E")
    assert [finding.codes for finding in findings(filled, "odd-form")] == [("P007",)]


def test_where_trailing_zeros_are_dropped_the_form_says_nothing() -> None:
    rows = [typed_in_minutes(one, "47°12.345′N", "011°17.500′E") for one in region()]
    rows[::10] = [typed_in_minutes(one, "47°12.34′N", "011°17.500′E") for one in rows[::10]]
    assert findings(rows, "odd-form") == []


ROUND = [
    ("whole degrees", (48.0, 12.0), Severity.WARNING),
    ("tenths", (48.3, 12.7), Severity.NOTE),
    ("whole minutes", (48 + 7 / 60, 12 + 13 / 60), Severity.NOTE),
    ("only the latitude", (48.0, 12.3457), None),
]


@pytest.mark.parametrize("case", ROUND, ids=[case[0] for case in ROUND])
def test_round_coordinates(case: tuple) -> None:
    _, position, severity = case
    found = findings([*region(), point("X", *position)], "round-coordinates")
    assert [finding.severity for finding in found] == ([severity] if severity else [])


def test_where_the_whole_set_is_round_no_point_stands_out_but_the_set_does() -> None:
    rows = [point(f"P{k:02d}", 47 + k / 60, 11 + (k % 7 + 1) / 60) for k in range(1, 51)]
    (found,) = findings(rows, "round-coordinates")
    assert found.severity is Severity.NOTE and "50 of 50 points, stands on whole minutes" in found.message
    assert found.codes == tuple(f"P{k:02d}" for k in range(1, 11))
    assert found.evidence["as_round"] == 50


@pytest.mark.parametrize(("whole", "others"), [(5, 0), (6, 5), (30, 20)])
def test_most_of_a_set_on_whole_degrees_is_a_warning(whole: int, others: int) -> None:
    rows = [point(f"W{k:02d}", 40 + k % 7, 5 + k) for k in range(whole)]
    (found,) = findings([*rows, *region(count=others)], "round-coordinates")
    assert found.severity is Severity.WARNING and f"{whole} of {whole + others} points" in found.message


@pytest.mark.parametrize(("whole", "others"), [(4, 0), (5, 5), (0, 100)])
def test_less_than_most_of_a_set_is_none(whole: int, others: int) -> None:
    rows = [point(f"W{k:02d}", 40 + k % 7, 5 + k) for k in range(whole)]
    assert findings([*rows, *region(count=others)], "round-coordinates") == []


def as_decimals_of_a_degree(value: float) -> float:
    """DD.MMSS, which a reader takes for decimal degrees."""
    seconds = round(value * 3600)
    return float(f"{seconds // 3600}.{seconds // 60 % 60:02d}{seconds % 60:02d}")


def test_a_misread_group_gets_its_positions_back() -> None:
    rows = region(source="survey", typed=Typed(notation=D, decimals=4))
    truth = {}
    for k in range(20, 35):
        truth[rows[k].code] = rows[k].position
        wrong = Position.at(
            *map(as_decimals_of_a_degree, (rows[k].position.latitude_deg, rows[k].position.longitude_deg))
        )
        rows[k] = replace(rows[k], position=wrong, source="old list")
    found = findings(rows, "misread-group")
    assert {finding.codes[0] for finding in found} == set(truth)
    for finding in found:
        assert finding.severity is Severity.ERROR
        assert finding.evidence["group"] == found[0].evidence["group"]
        assert finding.suggestion is not None and finding.suggestion.position is not None
        mended = finding.suggestion.position
        assert mended.latitude_deg == pytest.approx(truth[finding.codes[0]].latitude_deg, abs=0.5 / 3600 + 1e-6)
        assert mended.longitude_deg == pytest.approx(truth[finding.codes[0]].longitude_deg, abs=0.5 / 3600 + 1e-6)


def test_fields_round_one_home_are_no_misread_group() -> None:
    # 25 outlanding fields within 6 km: the decimals of all latitudes begin with 20 to 27, of longitudes with 10 to 21.
    fields = [
        point(f"F{n:02d}", 47.2037 + 0.00311 * (n * 7 % 25), 11.1049 + 0.00441 * (n * 11 % 25), source="outlandings")
        for n in range(25)
    ]
    assert findings([*region(), *fields], "misread-group") == []


def test_districts_of_one_town_are_no_misread_group() -> None:
    # 60 places 6 to 8 km apart, 47.02 to 47.54 north and 11.03 to 11.57 east: no first decimals above 59 there.
    places = [point(f"D{n:02d}", 47.0217 + 0.0731 * (n % 8), 11.0371 + 0.0757 * (n // 8)) for n in range(60)]
    assert findings(places, "misread-group") == []


def runway(designator: str | None, heading: float | None = None) -> tuple[Runway, ...]:
    return (Runway(designator, heading),)


RUNWAYS = [
    # Annex 14 Vol I 5.2.2.4, as restated: 183° is 18, 87° is 09, 187° is 19; 185° may be 18 or 19 (FAA AIM 2-3-3).
    ("183 is 18", runway("18", 183), False),
    ("87 is 09", runway("09", 87), False),
    ("185 may be 18", runway("18", 185), False),
    ("185 may be 19", runway("19", 185), False),
    ("one step off", runway("07/25", 82), False),
    ("the other end's heading", runway("07/25", 251), False),
    ("three steps off", runway("07/25", 107), True),
    ("across north", runway("36", 2), False),
    ("01 across north", runway("01", 356), False),
    ("not opposite", runway("07/26"), True),
    ("opposite", runway("07L/25R"), False),
    ("left against left", runway("07L/25L"), True),
    ("no such number", runway("37/19"), True),
    ("a name", runway("main"), False),
    ("none", runway(None, 71), False),
]


@pytest.mark.parametrize("case", RUNWAYS, ids=[case[0] for case in RUNWAYS])
def test_runway_designators(case: tuple) -> None:
    _, runways, is_wrong = case
    assert bool(findings([point("X", 48, 12, runways=runways)], "runway-designator")) is is_wrong


def test_a_known_variation_makes_the_heading_magnetic() -> None:
    canadian = [point("X", 48, 12, runways=runway("09", 70))]
    assert findings(canadian, "runway-designator") != []
    assert findings(canadian, "runway-designator", variation_deg=lambda _: -20.0) == []
    # True less an east variation is magnetic: 70° less 30° east is 40°, five steps from 09.
    (told,) = findings(canadian, "runway-designator", variation_deg=lambda _: 30.0)
    assert "its heading 70° (40° magnetic) is 5 steps of 10° off" in told.message
    (told,) = findings(canadian, "runway-designator")
    assert "its heading 70° is 2 steps of 10° off" in told.message


# Channel names of 25 and 8.33 kHz spacing: ICAO Annex 10 Vol V, from memory.
CHANNELS = [
    ("123.505", None), ("122.475", None), ("122.47", None), ("118.000", None), ("136.990", None), ("123.5", None),
    ("122.480", None), ("113.30", None), ("108.000", None), ("117.970", None), ("117.975", None),
    ("123.520", Severity.WARNING), ("123.545", Severity.WARNING), ("123.501", Severity.WARNING),
    ("123.570", Severity.WARNING), ("tower", Severity.WARNING), ("145.500", Severity.NOTE),
    ("136.995", Severity.WARNING), ("137.000", Severity.NOTE), ("107.995", Severity.NOTE),
]  # fmt: skip


@pytest.mark.parametrize(("channel", "severity"), CHANNELS)
def test_radio_channels(channel: str, severity: Severity | None) -> None:
    found = findings([point("X", 48, 12, radio=(Radio(channel),))], "radio-channel")
    assert [finding.severity for finding in found] == ([severity] if severity else [])


def test_the_neighbours_of_a_channel_that_does_not_exist_are_named() -> None:
    (finding,) = findings([point("X", 48, 12, radio=(Radio("123.520", "launch"),))], "radio-channel")
    assert "123.515 and 123.525" in finding.message


def test_names_that_become_one_when_cut() -> None:
    rows = [point("A", 48, 12, "Neustadt Nord"), point("B", 48, 13, "Neustädt Süd"), point("C", 47, 12, "Neuburg")]
    (finding,) = findings(rows, "short-names", short_name_length=8)
    assert finding.codes == ("A", "B")
    assert findings(rows, "short-names", short_name_length=11) == []
    assert findings(rows, "short-names") == []


LANDABLE: list[tuple[str, dict[str, Any], bool]] = [
    ("a field seen before", {"landable": Landable.FIELD, "inspected_on": "2024-12-31"}, True),
    ("a field seen on the day", {"landable": Landable.FIELD, "inspected_on": "2025-01-01"}, False),
    ("a field never seen", {"landable": Landable.EMERGENCY}, True),
    ("no field", {"landable": Landable.NO}, False),
    ("nothing known", {}, False),
]


@pytest.mark.parametrize("case", LANDABLE, ids=[case[0] for case in LANDABLE])
def test_inspection(case: tuple) -> None:
    _, more, is_told = case
    assert bool(findings([point("X", 48, 12, **more)], "not-inspected", inspected_since="2025-01-01")) is is_told


def test_the_id_of_a_country_finding_goes_with_its_country() -> None:
    wrong: list[Waypoint] = [*region(), point("X", 47.6137, 14.068, country="AA")]
    (before,) = findings(wrong, "outside-country")
    (after,) = findings([*wrong[:-1], replace(wrong[-1], description="seen")], "outside-country")
    assert before.id == after.id


def islands(count: int) -> list[Waypoint]:
    """Points of a country that the set does not know, all of them in the wrong hemisphere."""
    return [point(f"I{k}", -47.6137 - 0.0713 * k, 17.2179 + 0.0517 * k) for k in range(count)]


def test_points_that_share_an_explanation_support_each_other() -> None:
    told = findings([*region(None), *islands(4)], "outside-country")
    assert [one.codes[0] for one in told] == ["I0", "I1", "I2", "I3"]
    for one, wrong in zip(told, islands(4), strict=True):
        assert one.suggestion is not None and one.suggestion.position is not None
        assert one.suggestion.position.latitude_deg == -wrong.position.latitude_deg
        assert one.suggestion.position.longitude_deg == wrong.position.longitude_deg
        assert "the wrong hemisphere, as 3 more points do" in one.suggestion.reason


def test_two_points_are_no_company() -> None:
    for one in findings([*region(None), *islands(2)], "outside-country"):
        offered = [one.suggestion, *one.alternatives]
        assert not any(mend and mend.position and mend.position.longitude_deg > 14 for mend in offered)


def test_at_most_three_mends_are_offered_each_with_its_reason() -> None:
    rows = region()
    wrong = replace(rows[50], position=Position.at(47.6137, 15.07))
    (finding,) = findings([*rows[:50], wrong, *rows[51:]], "outside-country")
    offered = [one for one in (finding.suggestion, *finding.alternatives) if one]
    assert len(offered) == 3
    assert all(one.reason for one in offered)
