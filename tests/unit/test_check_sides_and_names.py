"""On which side the fault is, and what makes two places counterparts: names, kinds, and chance."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from taskdb.core.checks.given import CheckInput, Reference
from taskdb.core.checks.misread import find_misread_groups
from taskdb.core.checks.rules import run_checks
from taskdb.core.model import Finding, Landable, Position, Severity, Typed, Waypoint
from tests.unit.check_sets import GROUND, OUTLINES, findings, point, region
from tests.unit.test_check_with_references import found, last, moved


def in_seconds_as_decimals(one: Waypoint) -> Waypoint:
    """The point as DD.MMSS taken for decimals of a degree."""
    values = []
    for value in (one.position.latitude_deg, one.position.longitude_deg):
        seconds = round(value * 3600)
        values.append(float(f"{seconds // 3600}.{seconds // 60 % 60:02d}{seconds % 60:02d}"))
    return replace(one, position=Position.at(*values))


def whole_seconds(one: Waypoint) -> Waypoint:
    values = (one.position.latitude_deg, one.position.longitude_deg)
    return replace(one, position=Position.at(*(round(value * 3600) / 3600 for value in values)))


def misread_reference() -> tuple[list[Waypoint], Reference]:
    """A right set, and a list in which the first fifteen points were read in the wrong notation."""
    rows = [whole_seconds(one) for one in region()]
    listed = [in_seconds_as_decimals(one) if k < 15 else replace(one, country="BB") for k, one in enumerate(rows)]
    return rows, last(listed, "list", "file")


@pytest.mark.parametrize("notation", [None, "decimal-degrees", "degrees-minutes"])
def test_a_reference_that_was_misread_as_a_group_is_the_wrong_side(notation: str | None) -> None:
    rows, listed = misread_reference()
    rows = [replace(one, typed=Typed(notation=notation)) for one in rows]
    told = found(rows, listed)
    assert len(told) == 15
    assert {(one.rule, one.severity, one.evidence["side"]) for one in told} == {
        ("typing-slip", Severity.NOTE, "reference")
    }
    assert all(one.suggestion is None for one in told)
    assert "there the coordinates look like minutes and seconds read as decimals of a degree" in told[0].message
    assert "15 points of list read so" in told[0].message
    assert told[0].evidence["slip"]["in"] == "reference"


def test_a_point_that_no_row_of_a_misread_group_fits_is_not_put_down_to_the_reference() -> None:
    # The list's row belongs to where the point stood before it was moved by more than a slip.
    rows, listed = misread_reference()
    rows[3] = moved(rows[3], 0.6173, 0.5217)
    told = {one.codes[0]: one for one in found(rows, listed)}
    assert (told["P003"].severity, told["P003"].evidence["side"]) == (Severity.WARNING, "either")
    assert (told["P004"].severity, told["P004"].evidence["side"]) == (Severity.NOTE, "reference")


def test_one_row_of_a_reference_that_looks_misread_is_no_group() -> None:
    rows = [whole_seconds(one) for one in region()]
    (finding,) = found(rows, last([in_seconds_as_decimals(rows[0]), *rows[1:]], "list", "file"))
    assert (finding.severity, finding.evidence["side"]) == (Severity.ERROR, "either")


def test_a_slip_that_is_possible_in_the_reference_alone_is_looked_for_there() -> None:
    # 47.5 with its point misplaced is 4.75; nothing that one types for 47.5 in minutes gives 4.75.
    typed = Typed("47°30′00″N", "011°07′12″E", "degrees-minutes-seconds")
    rows = [point("HILL", 47.5, 11.12, typed=typed), *region()]
    listed = [point("HILL", 4.75, 11.12, typed=Typed("4.75", "11.12", "decimal-degrees")), *region()]
    (finding,) = found(rows, last(listed, "chart", "file"))
    assert (finding.severity, finding.evidence["side"]) == (Severity.NOTE, "reference")
    assert "there the latitude 4.75 looks like 47.5 with the decimal point misplaced" in finding.message


def test_a_slip_that_is_possible_here_alone_is_no_error_where_two_lists_say_that_the_point_is_right() -> None:
    # 4.75 may be 47.5 with its point misplaced; but another list has the point at 4.75 as well.
    rows = [point("HILL", 4.75, 11.12, typed=Typed("4.75", "11.12", "decimal-degrees")), *region()]
    typed = Typed("47°30′00″N", "011°07′12″E", "degrees-minutes-seconds")
    chart = last([point("HILL", 47.5, 11.12, typed=typed), *region()], "chart", "file")
    (finding,) = found(rows, chart, last(rows, "club", "file"))
    assert (finding.rule, finding.severity, finding.evidence["side"]) == ("typing-slip", Severity.NOTE, "reference")
    assert finding.suggestion is None and finding.evidence["opposed"] == ["club"]
    assert "in" not in finding.evidence["slip"]


def test_decimals_that_a_program_made_of_mistyped_minutes_are_not_put_down_to_the_reference() -> None:
    # 48°36.391′ for 48°26.389′: ten minutes are no slip of the digits 48.6065167, but of those they were made of.
    typed = Typed("48.6065167", "12.1280000", "decimal-degrees", 7)
    rows = [point("HILL", 48.6065167, 12.128, typed=typed), *region()]
    listed = Typed("48°26.389'N", "012°07.682'E", "degrees-minutes", 3)
    theirs = [point("HILL", 48.4398167, 12.1280333, typed=listed), *region()]
    (finding,) = found(rows, last(theirs, "chart", "file"))
    assert (finding.severity, finding.evidence["side"]) == (Severity.WARNING, "either")


def test_the_place_that_most_sources_have_is_the_one_that_is_told() -> None:
    rows = region(landable=Landable.AERODROME)
    theirs = [moved(rows[0], 0.0123, 0.0217), *rows[1:]]
    airports = Reference("airports", "airports", (moved(rows[0], 1.0), *rows[1:]))
    (finding,) = found(rows, airports, last(theirs, "chart", "file"), last(theirs, "club", "file"))
    assert finding.rule == "differs-from-reference"
    assert finding.evidence["reference"] == "chart" and finding.evidence["agreeing"] == ["club"]
    assert finding.suggestion is not None and finding.suggestion.position == theirs[0].position


def test_airports_never_mend_what_two_lists_agree_on() -> None:
    rows = region(landable=Landable.AERODROME)
    airports = Reference("airports", "airports", (moved(rows[0], 1.0), *rows[1:]))
    # The other list is coarse, and still says that the set is right.
    coarse = [moved(rows[0], 0.005, 0.005), *rows[1:]]
    (finding,) = found(rows, airports, last(coarse, "chart", "file"))
    assert (finding.severity, finding.suggestion) == (Severity.NOTE, None)
    assert finding.evidence["opposed"] == ["chart"]


def test_a_name_alone_makes_no_counterpart_of_places_far_apart() -> None:
    rows = region()
    here, near = point("NEW", 47.5123, 13.3217, "Sankt Florian"), point("OLD", 47.6219, 13.4431, "Sankt Florian")
    far = point("OLD", -33.1219, 151.4431, "Sankt Florian")
    assert [one.codes for one in found([*rows, here], last([*rows, near]))] == [("NEW",)]
    assert found([*rows, here], last([*rows, far])) == []


AIRFIELD = point("EDXX", 47.6431, 12.7719, "Some airfield", landable=Landable.AERODROME)
TOWN = point("T1", 47.5431, 12.7719, "Altdorf", country="AA")
KINDS: list[tuple[str, dict[str, Any], int]] = [
    ("a town", {"feature": "settlement"}, 0),
    ("said to be no place to land", {"landable": Landable.NO}, 0),
    ("an aerodrome", {"landable": Landable.AERODROME}, 1),
    ("nothing said, named otherwise", {}, 0),
    ("nothing said, named alike", {"name": "Some air field"}, 1),
]


@pytest.mark.parametrize("case", KINDS, ids=[case[0] for case in KINDS])
def test_a_town_is_no_slip_of_an_aerodrome(case: tuple[str, dict[str, Any], int]) -> None:
    _, said, count = case
    checked = [*region(), replace(TOWN, **said)]
    assert len(found(checked, Reference("airports", "airports", (AIRFIELD,)))) == count
    if said:
        assert len(found(checked, last([AIRFIELD, *region()], "list", "file"))) == count


def test_a_chance_fit_of_a_few_hundred_metres_is_no_error_where_strangers_lie_near() -> None:
    # Each point has a stranger some 600 m away: by chance a slip leads to one of them.
    rows = region()
    strangers = [moved(one, 0.0043, 0.0041, code=f"S{k}", name=f"stranger {k}") for k, one in enumerate(rows[1:])]
    fit = moved(rows[0], 0.006, code="S", name="stranger")
    (finding,) = found(rows, last([fit, *strangers], "list", "file"))
    assert (finding.codes, finding.severity) == (("P000",), Severity.NOTE)
    assert finding.evidence["by_chance"] > 5e-3
    # Where no stranger is near, the same fit says more.
    (finding,) = found(rows, last([fit, *rows[1:]], "list", "file"))
    assert finding.severity is Severity.WARNING


def test_a_mend_goes_to_the_own_place_and_not_to_the_centre_that_a_coarse_reference_has() -> None:
    rows = region()
    centres = [moved(one, 0.006 * (-1) ** k, 0.005 * (-1) ** (k // 2)) for k, one in enumerate(rows)]
    wrong = [moved(rows[0], 1.0), *rows[1:]]
    finding = next(one for one in found(wrong, last(centres, "towns", "file")) if one.rule == "typing-slip")
    assert (finding.codes, finding.severity) == (("P000",), Severity.WARNING)
    assert finding.suggestion is not None and finding.suggestion.position == rows[0].position
    assert [one.position for one in finding.alternatives] == [centres[0].position]


def test_where_many_differ_by_as_much_a_slip_that_explains_one_is_no_error() -> None:
    rows = region()
    slipped = moved(rows[0], 0.006, name="Another name")
    others = [moved(one, 0.0043, 0.0041) for one in rows[1:40]]
    told = {one.codes[0]: one for one in found(rows, last([slipped, *others, *rows[40:]]))}
    assert told["P000"].rule == "typing-slip" and told["P000"].severity is Severity.WARNING
    assert told["P001"].rule == "differs-from-reference"
    (alone,) = found(rows, last([slipped, *rows[1:]]))
    assert alone.severity is Severity.ERROR


def group_with_a_neighbour() -> list[Waypoint]:
    """Fifteen points near the border that were misread, and one right one beyond it that reads so by chance."""
    rows = [
        in_seconds_as_decimals(point(f"{k:03d}", 47.2137 + 0.1057 * k, 13.0543 + 0.0137 * k, source="old list"))
        for k in range(15)
    ]
    return [*rows, point("200", 48.1234, 15.2345, source="old list", country="BB")]


def misread(rows: list[Waypoint], *references: Reference) -> dict[str, Finding]:
    return {one.codes[0]: one for one in findings(rows, "misread-group", references=references)}


def test_a_right_neighbour_of_a_misread_group_gets_no_error() -> None:
    told = misread(group_with_a_neighbour())
    assert told["000"].severity is Severity.ERROR
    assert told["200"].severity is Severity.WARNING
    assert "not where the others do" in told["200"].message


@pytest.mark.parametrize(("beyond", "doubtful"), [(3, 3), (4, 0)])
def test_where_the_others_lie_says_something_from_four_fifths_of_them_on(beyond: int, doubtful: int) -> None:
    # Fifteen points of a misread group on both sides of the border, each in the country that it states.
    rows = []
    for k in range(15):
        longitude, country = (14.1543, "BB") if k < beyond else (13.0543, "AA")
        true = point(f"{k:03d}", 47.2137 + 0.1057 * k, longitude + 0.0137 * k, source="old list", country=country)
        rows.append(in_seconds_as_decimals(true))
    told = misread(rows)
    assert len(told) == 15
    assert sum(one.severity is Severity.WARNING for one in told.values()) == doubtful
    assert sum("not where the others do" in one.message for one in told.values()) == doubtful


def test_what_a_reference_confirms_is_no_error_of_a_misread_group() -> None:
    rows = group_with_a_neighbour()
    told = misread(rows, last(rows[:1], "list", "file"))
    assert (told["000"].severity, told["001"].severity) == (Severity.WARNING, Severity.ERROR)
    assert "a reference has it where it stands" in told["000"].message


def test_the_engine_takes_references_that_hold_nothing() -> None:
    given = CheckInput("region", 1, tuple(region()), (last([]),), outlines=OUTLINES, elevation=GROUND)
    assert [one for one in run_checks(given) if one.rule in ("typing-slip", "differs-from-reference")] == []


@pytest.mark.parametrize(
    ("latitude_step", "longitude_step", "by_chance"),
    [
        # Whole latitudes say nothing. A fraction is below 0.6 by chance in 0.6 of all cases where the points spread
        # over three degrees and more, and always in a district that has no others.
        (1.0, 0.19, 0.6),
        (1.0, 0.012, None),
        (1.19, 1.19, 0.36),
    ],
)
def test_what_reads_by_chance_goes_by_the_digits_that_say_something(
    latitude_step: float, longitude_step: float, by_chance: float | None
) -> None:
    def spread(first: int, step: float) -> list[float]:
        """Forty values from `first` on whose first two decimals are below 60."""
        values = [first + round(number * step, 2) for number in range(200)]
        return [value for value in values if value % 1 < 0.595][:40]

    places = zip(spread(10, latitude_step), spread(100, longitude_step), strict=True)
    groups = find_misread_groups([point(f"{k:03d}", *place) for k, place in enumerate(places)])
    assert [round(group.by_chance, 2) for group in groups[:1]] == ([] if by_chance is None else [by_chance])
