"""Where a country ends, and a fault that a large share of a set has: told once, as a doubt about the column."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from taskdb.core.checks.outlines import Outlines, distance_to_country_m
from taskdb.core.model import Position, Radio, Runway, Severity, Waypoint
from tests.unit.check_sets import OUTLINES, findings, point, region


def test_countries_in_another_code_are_told_once() -> None:
    # As where a list has the two letters of another standard, whose GM is Germany: Gambia in ISO 3166.
    found = findings(region("BB"), "outside-country")
    assert [(finding.severity, len(finding.codes)) for finding in found] == [(Severity.WARNING, 100)]
    assert "100 of 100 points of this set lie outside the country that they state" in found[0].message
    assert "the country column is in doubt" in found[0].message
    assert (found[0].suggestion, found[0].alternatives) == (None, ())
    assert found[0].evidence == {"column": "country", "source": None, "points": 100, "of": 100}


def test_one_source_in_doubt_leaves_the_others_alone() -> None:
    rows = [replace(one, country="BB", source="old list") for one in region()[:25]]
    many = [point(f"Q{n}", 46.5 + n / 150, 11.013 + n / 170, country="AA", source="survey") for n in range(150)]
    lost = point("X", 48.0, -12.0, country="AA", source="survey")
    found = findings([*rows, *many, lost], "outside-country")
    assert sorted(len(finding.codes) for finding in found) == [1, 25]
    doubt = max(found, key=lambda finding: len(finding.codes))
    assert "25 of 25 points of source 'old list'" in doubt.message and doubt.evidence["source"] == "old list"
    single = min(found, key=lambda finding: len(finding.codes))
    assert single.codes == ("X",) and single.suggestion is not None


def test_twenty_wrong_countries_are_told_one_by_one() -> None:
    found = findings([*region("BB")[:20], *region()[20:]], "outside-country")
    assert len(found) == 20


def test_a_border_that_is_drawn_otherwise_is_one_note() -> None:
    # Eight points that state AA, just across the border in BB, where no point states BB: land that both claim.
    across = [point(f"Z{n}", 47.3 + n / 9, 14.06 + n % 3 / 19, country="AA") for n in range(8)]
    beside = [point(f"Y{n:02d}", 47.2 + n / 21, 13.8 + n % 4 / 23, country="AA") for n in range(30)]
    (finding,) = findings([*region(), *beside, *across], "outside-country")
    assert (finding.severity, len(finding.codes)) == (Severity.NOTE, 8)
    assert "8 points that state AA lie together in BB" in finding.message
    three = findings([*region(), *beside, *across[:3]], "outside-country")
    assert [one.severity for one in three] == [Severity.WARNING] * 3
    knows = point("W", 47.9, 14.3, country="BB")
    assert len(findings([*region(), *beside, *across, knows], "outside-country")) == 8


def test_a_summit_across_the_border_without_a_country_is_a_note() -> None:
    beside = [point(f"Y{n:02d}", 47.2 + n / 21, 13.8 + n % 4 / 23, country="AA") for n in range(30)]
    summit = point("S", 47.7, 14.3)
    (finding,) = findings([*region(), *beside, summit], "outside-country")
    assert finding.severity is Severity.NOTE
    (finding,) = findings([*region(), *beside, replace(summit, country="AA")], "outside-country")
    assert finding.severity is Severity.WARNING
    far = replace(summit, position=Position.at(47.7, 17.9))
    (finding,) = findings([*region(), *beside, far], "outside-country")
    assert finding.severity is not Severity.NOTE


def test_in_a_set_of_several_countries_one_that_holds_a_few_points_close_together_is_home_too() -> None:
    vertices = [(x, 46, x + 2, 50) for x in (10, 12, 14, 16)]
    rings = [vertex for w, s, e, n in vertices for vertex in ((w, s), (e, s), (e, n), (w, n), (w, s))]
    outlines = Outlines(
        longitude_e5=np.array([x for x, _ in rings], dtype=np.int32) * 100_000,
        latitude_e5=np.array([y for _, y in rings], dtype=np.int32) * 100_000,
        ring_end=np.array([5, 10, 15, 20], dtype=np.int32),
        country=("AA", "BB", "CC", "DD"),
        territory=("", "", "", ""),
    )
    three = [point(f"P{n:03d}", 47.2 + n % 9 / 7, 10.5 + n // 9 / 2.1) for n in range(99)]
    few = [point(f"Z{n}", 47.3 + n / 9, 16.2 + n / 17) for n in range(4)]
    assert findings([*three, *few], "outside-country", outlines=outlines) == []
    scattered = [point(f"Z{n}", 46.1 + n * 1.2, 16.4 + n * 0.5) for n in range(4)]
    assert len(findings([*three, *scattered], "outside-country", outlines=outlines)) == 4


def test_where_an_outline_is_coarse_a_point_near_it_is_a_note() -> None:
    from taskdb.reference.outlines import load_outlines

    # Goodhouse and the north bank opposite stand on the Orange River, which the outlines cut short by 10 km there;
    # Rietfontein in South Africa stands 3.4 km east of the border, which is a meridian (positions from memory).
    bank = point("B", -28.886, 18.239, country="NA")
    beyond = point("R", -26.745, 20.0333, country="NA")
    found = findings([bank, beyond], "outside-country", outlines=load_outlines())
    assert [(one.codes, one.severity) for one in found] == [(("R",), Severity.WARNING), (("B",), Severity.NOTE)]


def test_what_the_standard_counts_to_a_country_is_no_other() -> None:
    # ISO 3166 has no XK: its RS is where the outlines have RS and XK.
    from taskdb.reference.outlines import load_outlines

    place = point("PRN", 42.573, 21.036, country="RS")
    assert findings([place], "outside-country", outlines=load_outlines()) == []
    assert findings([replace(place, country="BG")], "outside-country", outlines=load_outlines())


CELLS = [
    ("radio-channel", {"radio": (Radio("122.520"),)}, {"radio": (Radio("122.500"),)}),
    ("runway-designator", {"runways": (Runway("09/27", 190.0),)}, {"runways": (Runway("09/27", 90.0),)}),
    ("null-island", {"position": Position.at(0.0, 0.0)}, {}),
]


@pytest.mark.parametrize(("rule", "wrong", "right"), CELLS, ids=[case[0] for case in CELLS])
def test_many_wrong_cells_are_one_doubt(rule: str, wrong: dict, right: dict) -> None:
    def rows(count: int) -> list[Waypoint]:
        return [replace(one, **(wrong if number < count else right)) for number, one in enumerate(region())]

    many = findings(rows(21), rule)
    assert [len(finding.codes) for finding in many] == [21]
    assert many[0].evidence["of"] == 100
    assert len(findings(rows(20), rule)) == 20


def test_rows_that_state_nothing_do_not_make_a_large_share_small() -> None:
    rows = [replace(one, radio=(Radio("122.520"),)) for one in region()[:25]]
    others = [point(f"Q{n:04d}", 46.5 + n / 1500, 11.013 + n / 1700, country="AA") for n in range(900)]
    assert [len(finding.codes) for finding in findings([*rows, *others], "radio-channel")] == [25]


@pytest.mark.parametrize(("wrong", "of_source", "told"), [(21, 1_000, 21), (21, 30, 1), (20, 30, 20)])
def test_a_source_is_in_doubt_from_more_than_twenty_points_and_a_large_share_of_it_on(
    wrong: int, of_source: int, told: int
) -> None:
    rows = [replace(one, radio=(Radio("122.500"),)) for one in region(count=of_source, source="old list")]
    rows[:wrong] = [replace(one, radio=(Radio("122.520"),)) for one in rows[:wrong]]
    others = [point(f"Q{n:04d}", 46.5 + n / 1500, 11.013 + n / 1700, radio=(Radio("122.500"),)) for n in range(900)]
    assert len(findings([*rows, *others], "radio-channel")) == told


def test_whose_country_a_point_lies_outside_is_told() -> None:
    stated = point("X", 47.6137, 14.068, country="AA")
    (finding,) = findings([*region(), stated], "outside-country")
    assert "outside AA, the country that it states" in finding.message
    (finding,) = findings(
        [*region(), replace(stated, position=Position.at(47.6137, 17.9), country=None)], "outside-country"
    )
    assert " outside AA and in BB" in finding.message and "states" not in finding.message


def test_a_slip_that_leads_several_further_away_is_no_explanation() -> None:
    # Three points stand 100 km north of the set's country; in the other hemisphere they would lie in CC, together.
    rings = {"AA": (10, 46, 14, 50), "CC": (10, -52, 14, -50)}
    vertices = [v for w, s, e, n in rings.values() for v in ((w, s), (e, s), (e, n), (w, n), (w, s))]
    outlines = Outlines(
        longitude_e5=np.array([x for x, _ in vertices], dtype=np.int32) * 100_000,
        latitude_e5=np.array([y for _, y in vertices], dtype=np.int32) * 100_000,
        ring_end=np.array([5, 10], dtype=np.int32),
        country=tuple(rings),
        territory=("", ""),
    )
    north = [point(f"N{k}", 50.9137 + 0.0717 * k, 12.0143 + 0.1137 * k) for k in range(3)]
    told = findings([*region(None), *north], "outside-country", outlines=outlines)
    assert [one.codes for one in told] == [("N0",), ("N1",), ("N2",)]
    offered = [mend for one in told for mend in (one.suggestion, *one.alternatives) if mend is not None]
    assert all("more points do" not in mend.reason and mend.position.latitude_deg > 0 for mend in offered)


@pytest.mark.parametrize(
    ("corner", "beyond"),
    [((50, 10), (50.1, 9.9)), ((50, 14), (50.1, 14.1)), ((46, 14), (45.9, 14.1)), ((46, 10), (45.9, 9.9))],
)
def test_off_a_corner_of_a_country_its_distance_is_that_to_the_corner(corner: tuple, beyond: tuple) -> None:
    expected = Geodesic.WGS84.Inverse(*corner, *beyond)["s12"]
    assert distance_to_country_m(OUTLINES, "AA", Position.at(*beyond)) == pytest.approx(expected, abs=0.1)
