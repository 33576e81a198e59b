"""What references say: slips explained, moves told, and the fault looked for on either side."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from taskdb.core.checks.given import CheckInput, Reference
from taskdb.core.checks.rules import run_checks
from taskdb.core.model import Finding, Landable, Position, Severity, Typed, Waypoint
from tests.unit.check_sets import GROUND, OUTLINES, point, region

RULES = ("typing-slip", "differs-from-reference")


def moved(waypoint: Waypoint, latitude: float = 0.0, longitude: float = 0.0, **more: Any) -> Waypoint:
    place = waypoint.position
    position = Position.at(place.latitude_deg + latitude, place.longitude_deg + longitude)
    return replace(waypoint, position=position, **more)


def found(checked: list[Waypoint], *references: Reference, **more: Any) -> list[Finding]:
    given = CheckInput(
        "region", 2, tuple(checked), references, outlines=OUTLINES, elevation=GROUND, **more
    )  # fmt: skip
    return [finding for finding in run_checks(given) if finding.rule in RULES]


def last(waypoints: list[Waypoint], name: str = "region@1", kind: str = "set") -> Reference:
    return Reference(name, kind, tuple(waypoints))


def test_the_same_set_and_a_set_measured_again_differ_in_nothing() -> None:
    rows = region()
    assert found(rows, last(rows)) == []
    assert found([moved(one, 0.001, 0.001) for one in rows], last(rows)) == []


def test_a_slip_is_an_error_with_its_mend_and_the_position_of_the_reference() -> None:
    rows = region()
    wrong = [*rows[:50], moved(rows[50], 1.0), *rows[51:]]
    (finding,) = found(wrong, last(rows))
    assert (finding.rule, finding.severity, finding.codes) == ("typing-slip", Severity.ERROR, ("P050",))
    assert finding.suggestion is not None and finding.suggestion.position == rows[50].position
    assert finding.evidence["slip"]["axis"] == "latitude"
    assert finding.evidence["distance_m"] == pytest.approx(111_200, abs=100)
    assert "P050 'Place P050' in region@1" in finding.message


def test_it_is_said_as_a_person_would() -> None:
    hill = point("HILL", 47 + 12.345 / 60, 11 + 17.5 / 60, typed=Typed(notation="degrees-minutes"))
    stands = point("HILL", 47 + 21.345 / 60, 11 + 17.5 / 60, "Place HILL", typed=Typed(notation="degrees-minutes"))
    (finding,) = found([stands, *region()], last([hill, *region()], "region@4"))
    assert "latitude minutes 21 look like 12 typed the other way round; with 12 the point lies 0 m from HILL" in (
        finding.message
    )


KEPT = [
    # title, what else changed of the slipped point, how it is matched
    ("code and name kept", {}, "code-and-name"),
    ("renamed", {"name": "Other place"}, "code"),
    ("another code", {"code": "X999"}, "name"),
    ("renamed and another code", {"code": "X999", "name": "Other place"}, "coordinates"),
]


@pytest.mark.parametrize("case", KEPT, ids=[case[0] for case in KEPT])
def test_the_counterpart_is_found_whatever_else_was_changed(case: tuple) -> None:
    _, changes, how = case
    rows = region()
    wrong = [*rows[:50], moved(rows[50], longitude=1.0, **changes), *rows[51:]]
    (finding,) = found(wrong, last(rows))
    assert finding.severity is Severity.ERROR
    assert finding.evidence["matched_by"] == how


def test_all_codes_and_names_changed_the_coordinates_alone_tell() -> None:
    rows = region()
    renamed = [replace(one, code=f"N{k}", name=f"other {k}") for k, one in enumerate(rows)]
    wrong = [*renamed[:50], moved(renamed[50], 0.1), *renamed[51:]]
    assert found(renamed, last(rows)) == []
    # 47.9922 for 47.8922: one digit wrong.
    (finding,) = found(wrong, last(rows))
    assert (finding.codes, finding.evidence["matched_by"]) == (("N50",), "coordinates")


def test_a_move_that_no_slip_explains_is_a_warning() -> None:
    rows = region()
    (finding,) = found([moved(rows[0], 0.0123, 0.0217), *rows[1:]], last(rows))
    assert (finding.rule, finding.severity) == ("differs-from-reference", Severity.WARNING)
    assert finding.suggestion is not None and finding.suggestion.position == rows[0].position


def test_rows_that_were_mixed_up_are_told_by_whose_place_they_took() -> None:
    rows = region()
    mixed = [replace(rows[0], position=rows[55].position), *rows[1:55], replace(rows[55], position=rows[0].position),
             *rows[56:]]  # fmt: skip
    findings = found(mixed, last(rows))
    assert [(one.codes, one.severity, one.evidence["sits_on"]) for one in findings] == [
        (("P000",), Severity.ERROR, "P055"),
        (("P055",), Severity.ERROR, "P000"),
    ]


def test_a_renumbered_list_is_no_list_of_moves() -> None:
    rows = region()
    codes = [one.code for one in rows]
    renumbered = [replace(one, code=codes[(k + 1) % 100], name=f"other {k}") for k, one in enumerate(rows)]
    assert found(renumbered, last(rows)) == []


def test_one_name_for_two_places_is_no_counterpart() -> None:
    rows = region()
    here = [*rows, point("NEW", 47.5, 13.5, "Neustadt"), point("NEW2", 48.9, 11.5, "Neustadt")]
    there = [*rows, point("OLD", 48.2, 13.9, "Neustadt"), point("OLD2", 47.05, 13.2, "Neustadt")]
    assert found(here, last(there)) == []


def test_two_sources_against_the_set_are_said() -> None:
    rows = region()
    wrong = [moved(rows[0], 1.0), *rows[1:]]
    (finding,) = found(wrong, last(rows), last(rows, "chart", "file"))
    assert finding.evidence["side"] == "checked"
    assert finding.evidence["agreeing"] == ["chart"]
    assert "chart has it there too" in finding.message


def test_a_reference_has_faults_too() -> None:
    rows = region()
    wrong = [moved(rows[0], 1.0), *rows[1:]]
    (finding,) = found(rows, last(wrong, "chart", "file"), last(rows))
    assert (finding.severity, finding.evidence["side"]) == (Severity.NOTE, "reference")
    assert finding.suggestion is None
    assert "more likely in chart" in finding.message


def test_an_older_state_of_the_set_is_no_witness_for_it() -> None:
    rows = region()
    wrong = [moved(rows[0], 1.0), *rows[1:]]
    (finding,) = found(wrong, last(rows, "chart", "file"), last(wrong, "region@1", "revision"))
    assert (finding.severity, finding.evidence["side"]) == (Severity.ERROR, "either")


def test_a_side_that_leaves_its_country_is_the_wrong_one() -> None:
    rows = region()
    abroad = [*rows[:9], moved(rows[9], longitude=3.0), *rows[10:]]
    (finding,) = found(abroad, last(rows))
    assert finding.evidence["side"] == "checked"
    (finding,) = found(rows, last(abroad))
    assert (finding.severity, finding.evidence["side"]) == (Severity.NOTE, "reference")


def test_a_reference_in_feet_is_told_by_the_elevation() -> None:
    rows = region(elevation_m=410.0)
    wrong = [replace(rows[0], elevation_m=1345.1), *rows[1:]]
    given = CheckInput("region", 2, tuple(wrong), (last(rows),))
    (finding,) = [one for one in run_checks(given) if one.rule == "elevation-unit"]
    assert finding.suggestion is not None
    assert finding.suggestion.value == pytest.approx(410.0, abs=0.1)


def test_what_a_reference_confirms_is_but_a_note() -> None:
    rows = [*region(), point("X", 47.6137, 14.068, country="AA")]
    alone = CheckInput("region", 2, tuple(rows), outlines=OUTLINES)
    (finding,) = run_checks(alone)
    assert finding.severity is Severity.WARNING
    (finding,) = run_checks(replace(alone, references=(last(rows),)))
    assert finding.severity is Severity.NOTE


def test_the_reference_mends_also_what_other_rules_find() -> None:
    rows = region()
    wrong = [*rows[:50], moved(rows[50], longitude=-20.0), *rows[51:]]
    given = CheckInput("region", 2, tuple(wrong), (last(rows),), outlines=OUTLINES)
    (outside,) = [one for one in run_checks(given) if one.rule == "outside-country"]
    assert outside.suggestion is not None
    assert outside.suggestion.position == rows[50].position


def test_a_list_of_aerodromes_has_no_counterpart_for_a_bridge() -> None:
    rows = region()
    airfield = point("EDXX", 47.6431, 12.7719, "Some airfield")
    bridge = point("BRG", 47.5431, 12.7719, "Some bridge", country="AA")
    assert len(found([*rows, bridge], Reference("airports", "airports", (airfield,)))) == 1
    bridge = replace(bridge, landable=Landable.NO)
    assert found([*rows, bridge], Reference("airports", "airports", (airfield,))) == []


def test_where_anything_may_be_the_counterpart_coordinates_alone_are_no_error() -> None:
    rows = region()
    crowd = [point(f"C{k:04d}", 47.2 + 0.00137 * k, 11.0 + (0.01711 * k) % 1.9, f"crowd {k}") for k in range(900)]
    for finding in found(rows, last(crowd, "elsewhere", "file")):
        assert finding.severity is not Severity.ERROR
        assert finding.evidence["by_chance"] > 5e-4


@pytest.mark.parametrize("place", [0, 50, 99])
def test_a_code_is_looked_up_in_every_row_of_a_reference(place: int) -> None:
    # Renamed, and moved by what no slip explains: the code alone speaks, as nearly all of the others are kept.
    rows = region()
    moved_one = moved(rows[place], 0.0523, 0.0617, name="Another name")
    (finding,) = found([*rows[:place], moved_one, *rows[place + 1 :]], last(rows))
    assert (finding.rule, finding.codes) == ("differs-from-reference", (moved_one.code,))
    assert finding.evidence["matched_by"] == "code"


@pytest.mark.parametrize(("metres", "agree"), [(299.0, True), (301.0, False)])
def test_two_references_agree_within_300_metres_where_the_difference_is_small(metres: float, agree: bool) -> None:
    # The difference is 2.5 km: a tenth of it is less than 300 m.
    rows = region()
    chart, club = (moved(rows[0], 0.0173, 0.0217), moved(rows[0], 0.0173 + metres / 111_190, 0.0217))
    told = found(rows, last([chart, *rows[1:]], "chart", "file"), last([club, *rows[1:]], "club", "file"))
    assert [one.evidence["agreeing"] for one in told] == [["club"] if agree else []]


@pytest.mark.parametrize(("kilometres", "agree"), [(2.9, True), (3.1, False)])
def test_coarse_references_agree_within_three_kilometres_of_a_large_difference(kilometres: float, agree: bool) -> None:
    rows = region()
    chart, club = (moved(rows[0], 0.6173, 0.5217), moved(rows[0], 0.6173 + kilometres / 111.19, 0.5217))
    told = found(rows, last([chart, *rows[1:]], "chart", "file"), last([club, *rows[1:]], "club", "file"))
    assert [one.evidence["agreeing"] for one in told] == [["club"] if agree else []]


@pytest.mark.parametrize(("tenths", "rule"), [(8, "differs-from-reference"), (9, "typing-slip")])
def test_a_slip_with_something_left_over_is_believed_from_1500_metres_on(tenths: int, rule: str) -> None:
    # A wrong tenth of a minute: 8 make 1,482 m, 9 make 1,668 m (1' is 1,853 m); beside it 100 m of longitude.
    typed = Typed("47°12.0'N", "011°17.5'E", "degrees-minutes", 1)
    mine = point("HILL", 47.2 + tenths / 600, 11 + 17.5 / 60, typed=typed)
    theirs = point("HILL", 47.2, 11 + 17.5 / 60 + 0.00132)
    (finding,) = found([mine, *region()], last([theirs, *region()]))
    assert finding.rule == rule


@pytest.mark.parametrize("is_known", [True, False])
def test_a_lonely_point_is_moved_only_to_where_a_reference_has_that_very_point(is_known: bool) -> None:
    # It may stand there: what a slip would make of it is a candidate, and another point's reference says nothing.
    rows = region()[:30]
    lonely = point("X", 49.85, 10.05, country="AA")
    listed = [moved(rows[0], 1.0), *rows[1:], moved(lonely, -2.0, 1.0) if is_known else lonely]
    given = CheckInput("region", 2, (*rows, lonely), (last(listed),), outlines=OUTLINES)
    (finding,) = [one for one in run_checks(given) if one.rule == "outside-region" and one.codes == ("X",)]
    assert (finding.suggestion is not None) is is_known
    if finding.suggestion is not None:
        assert finding.suggestion.position == listed[-1].position
