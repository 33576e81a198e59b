"""Findings accepted all at once, by rule and by source: with a reason, and for as long as their values stand."""

from __future__ import annotations

import pytest

from taskdb.errors import NotFoundError, UsageError
from taskdb.services.checks.accepting import Which, accept_findings, accepted_list
from taskdb.services.checks.check import CheckRequest, check_set
from taskdb.services.sets.history import restore_set
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.store.undo import undo

HEADER = "code,name,latitude_deg,longitude_deg,elevation_m,source,landable"
ROWS = """\
001,Ormsau,48.8720000,11.8105000,389,Survey 2026,
002,Ormsau Nord,48.8725000,11.8105000,389,Survey 2026,
003,Kelmried,48.5610000,11.5220000,467,Survey 2026,
004,Kelmried Halle,48.5612000,11.5221000,467,the club,
005,Tannwöhr,49.0510000,12.4730000,1630,Survey 2026,aerodrome
006,Greifenlohe,48.6310000,12.3260000,1388,the club,aerodrome
007,Brüxfeld,49.0350000,11.5790000,470,the club,
"""
RUN = CheckRequest("region")


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(ROWS, HEADER), "region"), write())


@pytest.fixture
def region(built, write, csv_file):
    return built(filled, write, csv_file)


def still_open(desk, request=RUN):
    return [(f.rule, f.codes) for f in check_set(desk, request).findings if f.accepted is None]


PAIRS = [("same-place", ("001", "002")), ("same-place", ("003", "004"))]
HEIGHTS = [("elevation-unit", ("005",)), ("elevation-unit", ("006",))]


def test_all_of_a_rule_are_accepted_with_one_reason_in_one_operation(region, write):
    assert sorted(still_open(region)) == sorted(HEIGHTS + PAIRS)
    done = accept_findings(region, RUN, Which(rules=("same-place",)), "each a field and its hangar", write())
    assert sorted(f.codes for f in done) == [("001", "002"), ("003", "004")]
    assert still_open(region) == HEIGHTS
    _, accepted = accepted_list(region, "region")
    assert [(one.rule, one.acceptance.why) for one in accepted] == [("same-place", "each a field and its hangar")] * 2
    undo(region, None, write("undo"))
    assert len(still_open(region)) == 4


def test_all_of_a_source_are_those_whose_points_all_come_from_it(region, write):
    accept_findings(region, RUN, Which(sources=("SURVEY 2026",)), "surveyed", write())
    # 003 and 004 are of two sources: the survey does not speak for the other.
    assert still_open(region) == [HEIGHTS[1], PAIRS[1]]


def test_a_rule_and_a_source_together_take_what_is_of_both(region, write):
    which = Which(rules=("elevation-unit", "same-place"), sources=("the club",))
    assert [f.codes for f in accept_findings(region, RUN, which, "seen", write())] == [("006",)]


def test_a_reference_is_a_source_too(region, write, csv_file):
    moved = ROWS.replace("49.0350000", "49.1350000").replace(",the club", ",")
    import_set(region, ImportRequest(csv_file(moved, HEADER), "theirs"), write())
    against = CheckRequest("region", against=("theirs",))
    (found,) = accept_findings(region, against, Which(sources=("theirs",)), "their list is old", write())
    assert found.codes == ("007",)


def test_what_is_accepted_stays_so_while_its_values_stand(region, write, csv_file):
    accept_findings(region, RUN, Which(rules=("same-place", "elevation-unit")), "seen", write())
    assert still_open(region) == []
    others = "007,Brüxfeld,49.1350000,11.5790000,471,,\n008,Neuort,48.2000000,11.9000000,,,\n"
    import_set(region, ImportRequest(csv_file(others, HEADER), "region"), write())
    coarser = "001,Ormsau,48.872,11.810,389,,\n"
    import_set(region, ImportRequest(csv_file(coarser, HEADER), "region"), write())
    assert still_open(region) == []
    changed = "005,Tannwöhr,49.0510000,12.4730000,1631,,\n"
    import_set(region, ImportRequest(csv_file(changed, HEADER), "region"), write())
    assert still_open(region) == [HEIGHTS[0]]
    restore_set(region, "region@1", write())
    assert still_open(region) == []


def test_all_of_a_rule_are_taken_back(region, write):
    accept_findings(region, RUN, Which(rules=("same-place",)), "seen", write())
    done = accept_findings(region, RUN, Which(rules=("same-place",)), "", write(), take_back=True)
    assert len(done) == 2 and len(still_open(region)) == 4


def test_what_is_open_already_and_what_is_not_there_is_told(region, write):
    accept_findings(region, RUN, Which(rules=("same-place",)), "seen", write())
    with pytest.raises(NotFoundError) as again:
        accept_findings(region, RUN, Which(rules=("same-place",)), "seen", write())
    assert "elevation-unit" in again.value.hint
    with pytest.raises(NotFoundError):
        accept_findings(region, RUN, Which(rules=("no-such-rule",)), "seen", write())
    with pytest.raises(NotFoundError):
        accept_findings(region, RUN, Which(sources=("nobody",)), "seen", write())


@pytest.mark.parametrize("which", [Which(), Which(("abc",), ("same-place",))])
def test_which_ones_has_to_be_said_one_way(region, write, which):
    with pytest.raises(UsageError) as refused:
        accept_findings(region, RUN, which, "seen", write())
    assert refused.value.code == "which-findings"


def test_a_reason_is_needed_and_a_preview_keeps_nothing(region, write):
    with pytest.raises(UsageError):
        accept_findings(region, RUN, Which(rules=("same-place",)), " ", write())
    accept_findings(region, RUN, Which(rules=("same-place",)), "seen", write(preview=True))
    assert len(still_open(region)) == 4
