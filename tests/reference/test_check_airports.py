"""The optional airfields: as waypoints where they are installed, with a clear way out where they are not."""

from __future__ import annotations

import sys

import airportsdata
import pytest

from taskdb.errors import ExitCode, UsageError
from taskdb.reference.airports import load_airports


def test_airfields_are_those_of_the_package_in_metres() -> None:
    theirs = airportsdata.load("ICAO")
    ours = {one.code: one for one in load_airports()}
    assert len(ours) == len(theirs)
    frankfurt = ours["EDDF"]
    assert frankfurt.position.latitude_deg == pytest.approx(theirs["EDDF"]["lat"], abs=1e-7)
    assert frankfurt.elevation_m == pytest.approx(theirs["EDDF"]["elevation"] * 0.3048, abs=0.05)
    assert (frankfurt.country, str(frankfurt.landable)) == ("DE", "aerodrome")
    assert all(one.elevation_m != 0 for one in ours.values())


def test_a_missing_package_is_named_with_the_line_that_installs_it(monkeypatch: pytest.MonkeyPatch) -> None:
    load_airports.cache_clear()
    monkeypatch.setitem(sys.modules, "airportsdata", None)
    with pytest.raises(UsageError) as caught:
        load_airports()
    load_airports.cache_clear()
    assert caught.value.exit_code is ExitCode.USAGE
    assert "taskdb[airports]" in (caught.value.hint or "")
