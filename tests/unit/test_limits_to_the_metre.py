"""Every limit of nearness holds just below and gives way just above; distances by geographiclib.

The limits are the project's own (design of matching and of the checks), no standard's.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from geographiclib.geodesic import Geodesic

from taskdb.core.checks.gazetteer import Gazetteer, Place
from taskdb.core.checks.given import Reference
from taskdb.core.checks.mends import distinct
from taskdb.core.checks.region import home_countries
from taskdb.core.history.facts import facts_of, small_moves
from taskdb.core.history.import_doubts import RowMatch, is_questionable, sort_matches
from taskdb.core.history.locate import Located, is_same_place, locate
from taskdb.core.matching.match import Match, MatchRound
from taskdb.core.matching.points import Points
from taskdb.core.model import Position, Severity, Suggestion, Typed, Waypoint
from taskdb.core.packed_waypoints import CodedValues
from taskdb.formats.text.intake import Record
from tests.unit.check_sets import findings, point, region, typed_in_minutes

MILL = Waypoint("1", "Mill", Position.at(48.0137, 11.0243), identity="a")
GIVEN = frozenset({"code", "name", "position"})


def off(waypoint: Waypoint, metres: float, azimuth_deg: float = 60.0, **values: object) -> Waypoint:
    at = waypoint.position
    end = Geodesic.WGS84.Direct(at.latitude_deg, at.longitude_deg, azimuth_deg, metres)
    return replace(waypoint, position=Position.at(end["lat2"], end["lon2"]), **values)  # type: ignore[arg-type]


def row(waypoint: Waypoint) -> Record:
    return Record(2, waypoint, GIVEN, frozenset())


@pytest.mark.parametrize(("metres", "is_asked"), [(29.9, False), (30.1, True)])
def test_a_name_alone_is_asked_about_from_thirty_metres_on(metres: float, is_asked: bool) -> None:
    assert is_questionable(Match(0, 0, MatchRound.NAME, metres)) is is_asked


@pytest.mark.parametrize(
    ("metres", "taken", "is_doubtful"),
    [(29.9, "rival", False), (30.1, None, True), (999.0, None, True), (1_001.0, "named", False)],
)
def test_a_row_with_the_old_code_is_it_within_thirty_metres_and_a_rival_within_a_kilometre(
    metres: float, taken: str | None, is_doubtful: bool
) -> None:
    named = RowMatch(MILL, 0, row(off(MILL, 2_000, code="9")), MatchRound.NAME, 2_000.0)
    rival = row(off(MILL, metres, 200.0, name="Other"))
    sorted_ = sort_matches([named], {"1": 1}, lambda _: rival, lambda _: True)
    assert [{0: "named", 1: "rival"}[match.row] for match in sorted_.sure] == ([taken] if taken else [])
    assert bool(sorted_.doubtful) is is_doubtful


@pytest.mark.parametrize(("metres", "is_found"), [(249.0, True), (251.0, False)])
def test_what_a_patch_means_lies_within_250_metres_unless_code_and_name_agree(metres: float, is_found: bool) -> None:
    ours = off(MILL, metres, code="9", identity="b")
    assert bool(locate([MILL], [None], [ours], ())) is is_found
    assert locate([MILL], [None], [off(MILL, 90_000, identity="b")], ())
    assert is_same_place(MILL, off(MILL, metres, name="Tower")) is is_found


@pytest.mark.parametrize(("metres", "is_same"), [(4_999.0, True), (5_001.0, False)])
def test_one_code_and_name_are_one_place_within_five_kilometres(metres: float, is_same: bool) -> None:
    assert is_same_place(MILL, off(MILL, metres)) is is_same


@pytest.mark.parametrize(("metres", "is_told"), [(999.0, False), (1_001.0, True)])
def test_a_match_by_code_and_name_is_told_over_a_kilometre(metres: float, is_told: bool) -> None:
    found = Located(MILL, off(MILL, metres), MatchRound.CODE_AND_NAME, metres)
    assert found.is_worth_telling is is_told
    assert replace(found, round=MatchRound.IDENTITY).is_worth_telling is False


@pytest.mark.parametrize(("metres", "small"), [(0.9, 1), (1.1, 0)])
def test_a_move_below_a_metre_is_small(metres: float, small: int) -> None:
    assert small_moves([facts_of((MILL, off(MILL, metres)))]) == (small, 1)


@pytest.mark.parametrize(("points", "is_home"), [(8, True), (7, False)])
def test_a_country_with_eight_percent_of_the_points_is_home(points: int, is_home: bool) -> None:
    # Scattered, so that they are no block of points close together.
    positions = [Position.at(47 + n / 100, 11.0) for n in range(100 - points)]
    positions += [Position.at(40 - 3 * n, 60 + 5 * n) for n in range(points)]
    countries = [frozenset({"AA"})] * (100 - points) + [frozenset({"BB"})] * points
    assert ("BB" in home_countries(CodedValues(countries), Points.of(positions))) is is_home


@pytest.mark.parametrize(("metres", "is_told"), [(299.0, False), (301.0, True)])
def test_a_reference_differs_from_300_metres_on(metres: float, is_told: bool) -> None:
    before = region()
    now = [off(before[0], metres, 37.0), *before[1:]]
    told = [
        finding
        for rule in ("typing-slip", "differs-from-reference")
        for finding in findings(now, rule, references=(Reference("last@1", "set", before),))
    ]
    assert bool(told) is is_told


@pytest.mark.parametrize(("kilometres", "is_told"), [(2.9, False), (3.1, True)])
def test_outside_a_country_is_three_kilometres_outside(kilometres: float, is_told: bool) -> None:
    border = point("X", 48.0137, 14.0, country="AA")
    told = findings([*region(), off(border, kilometres * 1_000, 90.0)], "outside-country")
    assert bool(told) is is_told


@pytest.mark.parametrize(("e7", "is_zero"), [(10_000, True), (10_001, False)])
def test_zero_is_within_a_thousandth_of_a_degree(e7: int, is_zero: bool) -> None:
    assert bool(findings([replace(MILL, position=Position.from_e7(e7, -e7))], "null-island")) is is_zero


@pytest.mark.parametrize(("metres", "places"), [(199.0, 1), (201.0, 2)])
def test_mends_within_200_metres_offer_one_place(metres: float, places: int) -> None:
    mends = [Suggestion("1", "a", MILL.position), Suggestion("1", "b", off(MILL, metres).position)]
    assert len(distinct(mends)) == places
    assert len(distinct([Suggestion("1", "far", off(MILL, 900.0 * n).position) for n in range(5)])) == 3


@pytest.mark.parametrize(("kilometres", "severity"), [(49.0, Severity.WARNING), (51.0, Severity.ERROR)])
def test_apart_from_the_set_an_error_begins_50_kilometres_outside(kilometres: float, severity: Severity) -> None:
    border = point("X", 47.6137, 14.0, country="AA")
    (told,) = findings([*region(), off(border, kilometres * 1_000, 90.0)], "outside-country")
    assert told.severity is severity


@pytest.mark.parametrize(("metres", "is_told"), [(7_990.0, False), (8_010.0, True)])
def test_a_namesake_within_eight_kilometres_is_the_place(metres: float, is_told: bool) -> None:
    # One digit wrong leads from HOME to the point; another place of the name lies so far from it.
    typed = Typed(notation="decimal-degrees", decimals=4)
    stands = point("ALT", 47.6181, 12.5201, name="Altdorf", country="AA", typed=typed)
    home = Place("Altdorf", "AA", Position.at(47.6137, 11.5237))
    namesake = Place("Altdorf", "AA", off(stands, metres).position)
    listed = Gazetteer("a list", {"altdorf": (home, namesake)})
    assert bool(findings([*region(), stands], "away-from-namesake", places=listed)) is is_told


@pytest.mark.parametrize(("metres", "severity"), [(9_990.0, Severity.NOTE), (10_010.0, Severity.WARNING)])
def test_company_within_ten_kilometres_makes_a_lonely_point_a_note(metres: float, severity: Severity) -> None:
    far = point("X", 49.85, 10.05, country="AA")
    found = findings([*region()[:30], far, off(far, metres, code="Y")], "outside-region")
    assert [finding.severity for finding in found] == [severity] * 2


@pytest.mark.parametrize(("count", "is_told"), [(18, False), (19, True)])
def test_company_is_judged_from_twenty_points_on(count: int, is_told: bool) -> None:
    far = point("X", 49.85, 13.9, country="AA")
    assert bool(findings([*region(count=count), far], "outside-region")) is is_told


@pytest.mark.parametrize(("rows", "odd", "told"), [(39, 1, 0), (40, 1, 1), (100, 3, 3), (100, 4, 0)])
def test_a_form_is_usual_from_forty_rows_and_97_percent_on(rows: int, odd: int, told: int) -> None:
    typed = [typed_in_minutes(one, "47°12.345′N", "011°17.500′E") for one in region(count=rows, source="survey")]
    typed[:odd] = [typed_in_minutes(one, "47°12.345′N", "01°17.500′E") for one in typed[:odd]]
    assert len(findings(typed, "odd-form")) == told


@pytest.mark.parametrize(("wrong", "told"), [(20, 20), (21, 1)])
def test_more_than_twenty_faults_are_told_once(wrong: int, told: int) -> None:
    rows = region()
    rows[:wrong] = [replace(one, country="BB") for one in rows[:wrong]]
    assert len(findings(rows, "outside-country")) == told
