"""Several mends of one point: one after another while they hold."""

from __future__ import annotations

import pytest

from taskdb.services.checks.check import CheckRequest, check_set
from taskdb.services.checks.fixing import Pick, fix_findings
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.sets.set import show_set

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
