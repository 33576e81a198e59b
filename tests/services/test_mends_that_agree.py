"""Several mends of one point: one after another while they hold; what contradicts is refused, with both named."""

from __future__ import annotations

import pytest

from taskdb.core.model import Finding, Position, Severity, Suggestion, Waypoint
from taskdb.errors import RefusedError
from taskdb.services.checks.check import Checked, CheckRequest, check_set
from taskdb.services.checks.fixing import Pick, fix_findings
from taskdb.services.checks.mends import Chosen, take_mends
from taskdb.services.references import SetAt
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.sets.set import show_set
from taskdb.store.sets import SetHead

HEADER = "code,name,latitude_deg,longitude_deg,elevation_m,landable"
# A field in the Alps at 1,532 m, one degree too far north: there the ground lies at 474 m, and 1,532 ft would fit.
SLIPPED = """\
001,Ormsau,48.8720000,11.8105000,389,aerodrome
002,Almboden,48.4510000,11.5220000,1532,aerodrome
003,Tannwöhr,49.0510000,12.4730000,497,
004,Greifenlohe,48.6310000,12.3260000,423,
005,Brüxfeld,49.0350000,11.5790000,470,
"""
# The same, but where the height was typed in feet indeed: both are wrong.
IN_FEET = SLIPPED.replace("48.4510000,11.5220000", "48.5610000,12.5220000")


@pytest.fixture
def slipped(desk, write, csv_file):
    """Return a maker of a set and its reference, which returns the run that finds the faults."""

    def make(rows: str, right: str) -> CheckRequest:
        import_set(desk, ImportRequest(csv_file(rows, HEADER), "region"), write())
        import_set(desk, ImportRequest(csv_file(right, HEADER), "right"), write())
        return CheckRequest("region", against=("right",))

    return make


def mends_of(desk, request):
    return {f.rule: f.id for f in check_set(desk, request).findings if f.suggestion and f.codes == ("002",)}


def the_point(desk):
    return next(w for w in show_set(desk, "region").waypoints if w.code == "002")


@pytest.mark.parametrize("position_first", [True, False])
def test_a_height_that_fits_the_mended_place_is_left_as_it_is(desk, write, slipped, position_first):
    request = slipped(SLIPPED, SLIPPED.replace("48.4510000", "47.4510000"))
    found = mends_of(desk, request)
    assert set(found) == {"typing-slip", "elevation-unit"}
    picks = [Pick(found["typing-slip"]), Pick(found["elevation-unit"])]
    done = fix_findings(desk, request, picks if position_first else picks[::-1], write())
    assert (the_point(desk).position.latitude_deg, the_point(desk).elevation_m) == (47.451, 1532)
    (left,) = done.not_taken
    assert left.finding.rule == "elevation-unit"
    assert found["typing-slip"] in left.reason and "no longer holds" in left.reason


def test_a_height_that_is_wrong_at_the_mended_place_too_is_mended(desk, write, slipped):
    request = slipped(IN_FEET, IN_FEET.replace("12.5220000,1532", "11.5220000,467"))
    found = mends_of(desk, request)
    done = fix_findings(desk, request, [Pick(found["typing-slip"]), Pick(found["elevation-unit"])], write())
    assert (done.revision, len(done.changes), done.not_taken) == (2, 1, ())
    assert (the_point(desk).position.longitude_deg, the_point(desk).elevation_m) == (11.522, 467)


def test_a_finding_named_twice_is_taken_once(desk, write, slipped):
    request = slipped(SLIPPED, SLIPPED.replace("48.4510000", "47.4510000"))
    slip = mends_of(desk, request)["typing-slip"]
    done = fix_findings(desk, request, [Pick(slip), Pick(slip[:6])], write())
    assert (len(done.changes), done.not_taken) == (1, ())


# -- over plain values ---------------------------------------------------------------------------------------------

POINT = Waypoint("1", "Mill", Position.at(48.0, 11.0), 400.0)


def finding(number: int, suggestion: Suggestion) -> Finding:
    return Finding(f"id{number}", f"rule-{number}", Severity.ERROR, ("1",), "", {}, suggestion)


def to(latitude_deg: float, longitude_deg: float) -> Suggestion:
    return Suggestion("1", "a slip", Position.at(latitude_deg, longitude_deg))


def field(name: str, value: object) -> Suggestion:
    return Suggestion("1", "a slip", field=name, value=value)


def run(*mends: Suggestion, later: tuple[Suggestion, ...] = ()):
    """Take mends, one a finding; `later` are what the rules of the second and further ones ask for afterwards."""
    findings = [finding(number, mend) for number, mend in enumerate(mends)]
    at = SetAt(SetHead(1, "my region", 1), 1)
    checked = Checked(at, 1, tuple(findings), {"1": POINT})
    again = Checked(at, 1, tuple(finding(number, mend) for number, mend in enumerate(later, 1)), {"1": POINT})
    return take_mends(checked, [Chosen(f, 0, f.suggestion) for f in findings], lambda mended: again)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (to(49.0, 11.0), to(47.0, 11.0)),
        (to(49.0, 11.0), to(47.0, 12.0)),
        (field("elevation_m", 467.0), field("elevation_m", 153.2)),
    ],
)
def test_mends_that_contradict_each_other_are_refused_with_both_named(first, second):
    with pytest.raises(RefusedError) as refused:
        run(first, second)
    assert refused.value.code == "two-mends"
    for named in ("id0 (rule-0)", "id1 (rule-1)"):
        assert named in refused.value.message
    assert refused.value.details["findings"] == ["id0", "id1"]
    assert "taskdb check fix 'my region' id0" in refused.value.hint


def test_two_that_lead_to_one_place_agree():
    mended, left = run(to(49.0, 11.0), to(49.001, 11.0))
    assert mended["1"].position == Position.at(49.0, 11.0)
    assert [one.finding.id for one in left] == ["id1"]


def test_one_of_the_latitude_and_one_of_the_longitude_are_both_meant():
    mended, left = run(to(49.0, 11.0), to(48.0, 12.0), later=(to(49.0, 12.0),))
    assert mended["1"].position == Position.at(49.0, 12.0)
    assert left == ()


def test_what_the_second_asks_for_after_the_first_must_not_undo_it():
    with pytest.raises(RefusedError) as refused:
        run(to(49.0, 11.0), to(48.0, 12.0), later=(to(47.0, 12.0),))
    assert refused.value.code == "two-mends"


def test_a_place_and_a_field_are_both_mended():
    mended, _ = run(field("elevation_m", 467.0), to(49.0, 11.0), later=(to(49.0, 11.0),))
    assert mended["1"].position == Position.at(49.0, 11.0)
