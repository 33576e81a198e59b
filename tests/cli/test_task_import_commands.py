"""`task import` at the command line: JSON, warnings, and the exit code that says whether there is something to do."""

from __future__ import annotations

from pathlib import Path

import pytest

from taskdb.errors import ExitCode

ROOT = Path(__file__).parents[2]


@pytest.fixture
def cup(built):
    return built(
        ("set", "import", ROOT / "demo/region.csv", "--into", "region"),
        ("contest", "new", "Cup", "--set", "region", "--site", "001"),
        ("contest", "new", "Next", "--set", "region", "--site", "001"),
        ("task", "new", "A", "001", "004", "003", "001", "--contest", "Cup"),
    )


@pytest.fixture
def handout(cup, tmp_path):
    done = cup("export", "task", "Cup:A", "--format", "gpx,geojson,csv,kml,igc", "--to", tmp_path / "out")
    assert done.exit_code is ExitCode.DONE, done.stderr
    return tmp_path / "out"


def test_a_handed_out_folder_is_one_task_again(cup, handout):
    done = cup("task", "import", handout, "--contest", "Next", "--json")
    assert done.exit_code is ExitCode.DONE, done.stderr
    (task,) = done.result()["tasks"]
    assert task["declared_by"] == 5 and len(task["files"]) == 5 and task["revision"] == 1
    assert [(p["number"], p["code"], p["matched_by"]) for p in task["points"]] == [
        (0, "001", "code"), (1, "004", "code"), (2, "003", "code"), (3, "001", "code"),
    ]  # fmt: skip
    assert all(0 <= p["off_m"] < 1.4 for p in task["points"])
    assert task["unmatched"] == [] and done.result()["skipped"] == []
    assert cup("task", "fingerprint", "Next:A").stdout == cup("task", "fingerprint", "Cup:A").stdout


def test_an_unmatched_point_is_something_to_act_on(cup, tmp_path):
    path = tmp_path / "x.gpx"
    path.write_text(
        '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x"><rte><name>X</name>'
        '<rtept lat="48.0" lon="11.0"><name>Pond</name></rtept><rtept lat="48.5" lon="11.5"><name>Mill</name></rtept>'
        "</rte></gpx>"
    )
    done = cup("task", "import", path, "--set", "region", "--json")
    assert done.exit_code is ExitCode.ACT
    (task,) = done.result()["tasks"]
    assert [(p["number"], p["code"]) for p in task["unmatched"]] == [(0, "Pond"), (1, "Mill")]
    assert any("Pond" in text and "own" in text for text in done.json()["warnings"])
    shown = cup("task", "show", "X", "--json").result()
    assert shown["contest"] is None and [p["code"] for p in shown["points"]] == ["Pond", "Mill"]


def test_a_preview_keeps_nothing_and_people_see_a_table(cup, handout):
    done = cup("task", "import", handout, "--contest", "Next", "--preview", "--json")
    assert done.result()["tasks"][0]["task"] == "A" and done.result()["preview"] is True
    assert cup("task", "list", "--contest", "Next", "--json").result()["tasks"] == []
    done = cup("task", "import", handout, "--contest", "Cup")
    assert "0 tasks made in Cup on region@1; 1 stood already" in done.stdout and "--name PATTERN" in done.stderr
    done = cup("task", "import", handout, "--contest", "Cup", "--name", "{name}")
    assert "1 task made in Cup on region@1" in done.stdout and "A (2)" in done.stdout
    assert "There is a task 'A' already" in done.stderr


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("no.gpx", "--contest", "Next"), ExitCode.NOT_FOUND),
        (("{readme}", "--contest", "Next"), ExitCode.INPUT_UNUSABLE),
        (("{readme}", "--contest", "None"), ExitCode.NOT_FOUND),
        (("{readme}", "--contest", "Next", "--set", "region"), ExitCode.USAGE),
        (("{readme}", "--contest", "Next", "--name", "{day}"), ExitCode.USAGE),
    ],
)
def test_what_cannot_be_done_says_so_by_its_exit_code(cup, handout, words, code):
    readme = handout / "A.gpx"
    if code is ExitCode.INPUT_UNUSABLE:
        readme.write_text("nothing\n")
    given = [str(readme) if word == "{readme}" else word for word in words]
    done = cup("task", "import", *given, "--json")
    assert done.exit_code is code, done.stdout
    assert done.error()["hint"]


def test_a_task_goes_out_and_comes_back_in_a_layout_of_ones_own(cup, tmp_path):
    profile = ROOT / "demo/profiles/packed-points.toml"
    done = cup("export", "task", "Cup:A", "--profile", profile, "--to", tmp_path / "out")
    assert done.exit_code is ExitCode.DONE, done.stderr
    (path,) = [path for path in (tmp_path / "out").iterdir() if path.suffix != ".json"]
    back = cup("task", "import", path, "--contest", "Next", "--profile", profile, "--json")
    assert back.exit_code is ExitCode.DONE, back.stdout
    (task,) = back.result()["tasks"]
    assert [point["code"] for point in task["points"]] == ["001", "004", "003", "001"]
    assert any("radius" in warning for warning in back.json()["warnings"])
    folder = cup("task", "import", tmp_path / "out", "--contest", "Next", "--profile", profile, "--json").result()
    assert [(one["task"], one["made"]) for one in folder["tasks"]] == [(task["task"], False)]
    waypoints = ROOT / "demo/profiles/club-spreadsheet.toml"
    refused = cup("task", "import", path, "--contest", "Next", "--profile", waypoints, "--json")
    assert refused.exit_code is ExitCode.INPUT_UNUSABLE and "task-points" in refused.error()["hint"]
