"""`task check`: what a pilot has, held against the official task; exit 1 says that it is another one."""

from __future__ import annotations

from pathlib import Path

import pytest

from taskdb.errors import ExitCode

ROOT = Path(__file__).parents[2]
FORMATS = ("gpx", "geojson", "csv", "kml", "igc")


@pytest.fixture
def cup(built):
    return built(
        ("set", "import", ROOT / "demo/region.csv", "--into", "region"),
        ("contest", "new", "Cup", "--set", "region", "--site", "001"),
        ("task", "new", "A", "001", "004", "003", "001", "--contest", "Cup", "--time", "3:00"),
        ("task", "new", "B", "001", "002", "003", "001", "--contest", "Cup", "--time", "3:00"),
    )


@pytest.fixture
def files(cup, tmp_path):
    done = cup("export", "task", "A", "--format", ",".join(FORMATS), "--to", tmp_path / "out", "--json")
    assert done.exit_code is ExitCode.DONE, done.stderr
    return {file["format"]: tmp_path / "out" / file["path"] for file in done.result()["files"]}


def code_of(run, name):
    return run("task", "fingerprint", name).stdout.strip()


def check(run, name, given, code=ExitCode.ACT):
    done = run("task", "check", name, given, "--json")
    assert done.exit_code is code, done.stdout
    return done.result()


def test_the_task_s_own_fingerprint_is_it_however_it_is_typed(cup):
    spoken = code_of(cup, "A")
    for text in (spoken, spoken.lower(), spoken.replace("-", ""), spoken.replace("-", " ")):
        assert check(cup, "A", text, ExitCode.DONE)["verdict"] == "same"


def test_an_earlier_revision_is_said_to_be_replaced(cup):
    spoken = code_of(cup, "A")
    assert cup("task", "edit", "A", "--point", "1=005").exit_code is ExitCode.DONE
    found = check(cup, "A", spoken)
    assert found["verdict"] == "replaced" and found["revision"] == 2
    assert found["matches"] == [{"task": "A", "contest": "Cup", "revision": 1}]
    assert "replaced by revision 2" in cup("task", "check", "A", spoken).stdout
    assert check(cup, "A@1", spoken, ExitCode.DONE)["verdict"] == "same"


def test_another_task_is_named_and_an_unknown_one_is_not(cup):
    found = check(cup, "A", code_of(cup, "B"))
    assert found["verdict"] == "other-task" and found["matches"][0]["task"] == "B"
    assert check(cup, "A", "7777-7777")["verdict"] == "unknown"


def test_signs_that_are_in_no_fingerprint_were_misheard(cup):
    done = cup("task", "check", "A", "O777-7717", "--json")
    assert done.exit_code is ExitCode.USAGE and done.error()["code"] == "bad-fingerprint"
    assert "1, O" in done.error()["message"]


@pytest.mark.parametrize("format_name", FORMATS)
def test_every_file_of_the_task_is_it(cup, files, format_name):
    found = check(cup, "A", str(files[format_name]), ExitCode.DONE)
    assert found["verdict"] == "same" and found["differences"] == []
    assert ("zones" in found["not_held"]) is (format_name == "igc")


@pytest.mark.parametrize("format_name", FORMATS)
def test_a_file_of_an_earlier_revision_is_said_to_be_one(cup, files, format_name):
    assert cup("task", "edit", "A", "--point", "1=005").exit_code is ExitCode.DONE
    found = check(cup, "A", str(files[format_name]))
    assert found["verdict"] == "replaced" and "revision 1" in found["message"]
    assert found["differences"][0]["number"] == 1 and found["differences"][0]["off_m"] > 1000


def test_the_first_point_that_differs_is_named_with_how_far_off_it_is(cup, files):
    text = files["gpx"].read_text(encoding="utf-8")
    assert text.count("48.6310000") == 1
    files["gpx"].write_text(text.replace("48.6310000", "48.6320000"), encoding="utf-8")
    found = check(cup, "A", str(files["gpx"]))
    assert found["verdict"] == "differs"
    # 0.001° along the meridian at 48.6315°: a(1-e²)/(1-e² sin²φ)^1.5 of WGS84, times π/180,000.
    (difference,) = found["differences"]
    assert (difference["number"], difference["what"]) == (1, "position")
    assert difference["off_m"] == pytest.approx(111.2026, abs=0.001)
    assert "point 1 (004" in cup("task", "check", "A", str(files["gpx"])).stdout


def test_a_zone_that_differs_is_named(cup, files):
    assert cup("task", "edit", "A", "--zone", "turns=cylinder 3km").exit_code is ExitCode.DONE
    text = files["csv"].read_text(encoding="utf-8").replace("cylinder 500m", "cylinder 2km")
    files["csv"].write_text(text, encoding="utf-8")
    found = check(cup, "A", str(files["csv"]))
    assert [(d["number"], d["what"]) for d in found["differences"]] == [(1, "zone"), (2, "zone")]
    assert "'cylinder 2km'" in found["message"] and "'cylinder 3km'" in found["message"]


def test_a_file_of_another_task_is_named(cup, files):
    found = check(cup, "B", str(files["gpx"]))
    assert found["verdict"] == "other-task" and "Cup:A" in found["message"]


def test_what_cannot_be_compared_says_so_by_its_exit_code(cup, files):
    assert cup("task", "check", "None", "7777-7777").exit_code is ExitCode.NOT_FOUND
    assert cup("task", "check", "A", "no.gpx").exit_code is ExitCode.NOT_FOUND
    files["gpx"].write_text("nothing\n")
    assert cup("task", "check", "A", str(files["gpx"])).exit_code is ExitCode.INPUT_UNUSABLE


def test_a_task_that_is_not_flown_is_said_to_be_so(cup):
    assert cup("task", "cancel", "A").exit_code is ExitCode.DONE
    done = cup("task", "check", "A", code_of(cup, "A"))
    assert done.exit_code is ExitCode.DONE and "cancelled" in done.stderr
