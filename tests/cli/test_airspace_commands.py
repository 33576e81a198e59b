"""`taskdb airspace …` and who asks it: JSON by the contract, exit codes, what is typed, completion, sheet and map."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from taskdb.errors import ExitCode
from taskdb.store.peek import peek_names

pytestmark = pytest.mark.both_engines

DEMO = Path(__file__).parents[2] / "demo"


@pytest.fixture
def air(taskdb):
    for words in (
        ("set", "import", DEMO / "region.csv", "--into", "region"),
        ("airspace", "import", DEMO / "airspace.geojson", "--into", "varn"),
        ("contest", "new", "Cup", "--set", "region", "--site", "001"),
        ("task", "new", "A", "001", "004", "003", "001", "--contest", "Cup", "--day", "1"),
    ):
        assert taskdb(*words).exit_code is ExitCode.DONE
    return taskdb


def test_a_volume_is_shown_in_the_form_of_the_contract(air):
    shown = air("airspace", "show", "varn", "--json").result()
    assert (shown["airspace"], shown["revision"], shown["count"], shown["source"]) == ("varn", 1, 3, "airspace.geojson")
    drawn = json.loads((DEMO / "airspace.geojson").read_text(encoding="utf-8"))["features"][0]
    volume = next(one for one in shown["volumes"] if one["name"] == "Brüxfeld zone")
    assert list(volume) == ["name", "kind", "floor", "ceiling", "times", "frequency", "polygons"]
    assert volume["floor"] == {"value_m": None, "reference": "GND", "text": "GND"}
    # A foot is 0.3048 m (international foot).
    assert volume["ceiling"] == {"value_m": pytest.approx(1066.8, abs=0.05), "reference": "MSL", "text": "3500ft MSL"}
    assert (volume["kind"], volume["times"], volume["frequency"]) == ("controlled", None, "119.005")
    (rings,) = volume["polygons"]
    assert {tuple(vertex) for vertex in rings[0]} == {tuple(v) for v in drawn["geometry"]["coordinates"][0]}


def test_points_follow_one_through_and_stray_ones_are_refused(air):
    done = air("airspace", "add", "own", "Hills", "--through", "001", "003", "004", "--kind", "danger", "--json")
    assert done.result()["volumes"][0]["kind"] == "danger"
    by_place = air("airspace", "add", "own", "Box", "--through", "48.4,11.9", "48.4,12.0", "48.5,12.0", "--json")
    assert [volume["name"] for volume in by_place.result()["volumes"]] == ["Box", "Hills"]
    for words in (
        ("airspace", "add", "own", "C", "001", "003", "004"),
        ("airspace", "add", "own", "C", "--through", "001", "--through", "003", "004"),
        ("airspace", "add", "own", "C"),
        ("airspace", "add", "own", "C", "--round", "001"),
        ("airspace", "add", "own", "C", "--round", "001", "--radius", "3km", "--floor", "1500"),
        ("airspace", "add", "own", "C", "--round", "001", "--radius", "3km", "--floor", "FL95", "--ceiling", "FL65"),
    ):
        assert air(*words).exit_code is ExitCode.USAGE, words
    assert air("airspace", "add", "own", "Hills", "--round", "001", "--radius", "3km").exit_code is ExitCode.REFUSED
    assert air("airspace", "add", "own", "C", "--round", "nowhere", "--radius", "3km").exit_code is ExitCode.NOT_FOUND


def test_every_problem_of_a_file_is_listed_and_nothing_is_kept(air, tmp_path):
    bad = tmp_path / "bad.geojson"
    ring = [[11.9, 48.7], [12.1, 48.8], [12.1, 48.7], [11.9, 48.8], [11.9, 48.7]]
    features = [
        {"type": "Feature", "properties": properties, "geometry": {"type": "Polygon", "coordinates": [ring]}}
        for properties in ({"name": "Bow"}, {"floor": "GND"}, {"name": "Bare", "floor": "1500"})
    ]
    bad.write_text(json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8")
    done = air("airspace", "import", bad, "--into", "varn", "--json")
    assert done.exit_code is ExitCode.INPUT_UNUSABLE and done.error()["code"] == "volumes-rejected"
    codes = {row["code"] for row in done.error()["details"]["rejected"]}
    assert {"crosses-itself", "no-name"} <= codes and done.error()["details"]["total"] >= 4
    assert air("airspace", "show", "varn", "--json").result()["revision"] == 1
    said = air("airspace", "import", bad, "--into", "varn")
    assert "Bow: its ring crosses" in said.stderr and "--repair" in said.stderr
    assert air("airspace", "import", tmp_path / "none.geojson", "--into", "varn").exit_code is ExitCode.NOT_FOUND


def test_the_log_and_the_undo_speak_of_airspace(air):
    air("airspace", "add", "varn", "Ring", "--round", "001", "--radius", "3km", "--note", "the other class starts")
    assert "airspace varn@2" in air("log").stdout
    revisions = air("airspace", "log", "varn", "--json").result()["revisions"]
    assert [(one["revision"], one["added"], one["note"]) for one in revisions] == [
        (2, 1, "the other class starts"), (1, 3, None),
    ]  # fmt: skip
    assert "airspace varn@3" in air("undo", "--yes").stdout
    assert air("airspace", "diff", "varn@1", "varn@3", "--exit-code").exit_code is ExitCode.DONE
    differs = air("airspace", "diff", "varn@2", "varn@3", "--exit-code", "--json")
    assert differs.exit_code is ExitCode.ACT
    assert differs.result() == {"from": "varn@2", "to": "varn@3", "added": [], "retired": ["Ring"], "changed": []}


def test_a_contest_shows_its_pin_and_a_review_its_sources(air):
    shown = air("contest", "edit", "Cup", "--airspace", "varn", "--json").result()
    assert shown["airspace"] == ["varn@1"]
    review = air("task", "review", "A", "--json").result()["tasks"][0]
    assert review["airspace"] == ["varn@1"]
    assert re.match(r"airspace varn@1 of \d{4}-\d\d-\d\d, airspace\.geojson: from your own files", review["notes"][0])
    on_leg = next(one for one in review["findings"] if one["rule"] == "airspace-on-leg")
    assert {"leg", "volume", "stretches_m"} <= set(on_leg["evidence"])
    told = air("task", "review", "A").stdout
    assert "airspace as your files have it" in told
    assert air("contest", "edit", "Cup", "--airspace", "varn", "--no-airspace").exit_code is ExitCode.USAGE
    assert air("contest", "edit", "Cup", "--no-airspace", "--json").result()["airspace"] == []
    assert air("task", "review", "A", "--json").result()["tasks"][0]["airspace"] == []
    assert "airspace, NOTAM, weather" in air("task", "review", "A").stdout


def test_sheet_and_map_draw_what_is_named_or_pinned(air, tmp_path):
    def sheet(name: str, *more: str) -> str:
        assert air("sheet", "A", "--to", tmp_path / name, *more).exit_code is ExitCode.DONE
        return (tmp_path / name).read_text(encoding="utf-8")

    assert "Linde range" not in sheet("a.html") and "Linde range" not in sheet("a.svg")
    assert "Linde range" in sheet("b.svg", "--airspace", "varn")
    page = sheet("b.html", "--airspace", "varn@1")
    assert "Linde range" in page and "varn@1 of" in page and "may be old" in page
    air("contest", "edit", "Cup", "--airspace", "varn")
    assert "Linde range" in sheet("c.html")


def test_names_of_airspace_and_volumes_are_completed(air, store_path):
    if not store_path.exists():
        pytest.skip("completion looks into files only")
    assert peek_names(str(store_path), "airspace", "va") == ("varn",)
    assert peek_names(str(store_path), "volume", "Lin") == ("Linde range",)
