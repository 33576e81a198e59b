"""Sets, waypoints and checks at the command line: what people read, what programs read, and the exit codes."""

from __future__ import annotations

from pathlib import Path

import pytest

from taskdb.errors import ExitCode

ROOT = Path(__file__).parents[2]
REGION = str(ROOT / "demo/region.csv")
BAD = """code,name,latitude_deg,longitude_deg,elevation_m
A1,Good,48.5,11.5,400
A2,Too far north,98.5,11.5,400
A3,No number,48.5,eleven,400
A1,Again,48.6,11.6,400
,No code,48.7,11.7,400
"""


@pytest.fixture
def region(taskdb):
    assert taskdb("set", "import", REGION, "--into", "region", "--author", "Librarian").exit_code is ExitCode.DONE
    return taskdb


def test_an_import_says_counts_and_what_was_decided(taskdb):
    done = taskdb("set", "import", REGION, "--into", "region")
    assert "region@1: 155 waypoints" in done.stdout
    assert "decimal-degrees" in done.stdout and "UTF-8" in done.stdout
    result = taskdb("set", "import", REGION, "--into", "region", "--json").result()
    assert (result["revision"], result["unchanged"], result["added"]) == (1, 155, 0)
    assert result["decided"]["columns"]["code"] == "code"
    assert result["rejected"] == []


def test_a_bad_file_lists_every_row_and_ends_with_the_line_to_paste(taskdb, tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_text(BAD, encoding="utf-8")
    done = taskdb("set", "import", str(bad), "--into", "region")
    assert done.exit_code is ExitCode.INPUT_UNUSABLE
    for line in ("line 3", "line 4", "line 5", "line 6"):
        assert line in done.stderr
    assert f"taskdb set import {bad} --into region --on-error skip" in done.stderr
    error = taskdb("set", "import", str(bad), "--into", "region", "--json").error()
    assert error["code"] == "rows-rejected"
    assert {row["line"] for row in error["details"]["rejected"]} == {3, 4, 5, 6}
    repeated = next(row for row in error["details"]["rejected"] if row["line"] == 5)
    assert "2" in repeated["message"]
    assert taskdb("set", "list", "--json").result()["sets"] == []


def test_skipping_bad_rows_is_done_with_something_to_act_on(taskdb, tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_text(BAD, encoding="utf-8")
    done = taskdb("set", "import", str(bad), "--into", "region", "--on-error", "skip")
    assert done.exit_code is ExitCode.ACT
    assert "region@1: 1 waypoint" in done.stdout


def test_sets_are_listed_shown_and_their_log_told(region):
    (row,) = region("set", "list", "--json").result()["sets"]
    assert (row["set"], row["revision"], row["count"], row["author"]) == ("region", 1, 155, "Librarian")
    shown = region("set", "show", "region@1", "--limit", "2", "--json").result()
    assert len(shown["waypoints"]) == 2 and shown["truncated"] is True
    assert [w["code"] for w in shown["waypoints"]] == ["001", "002"]
    assert "showing 2 of 155" in region("set", "show", "region", "--limit", "2").stdout
    (first,) = region("set", "log", "region", "--json").result()["revisions"]
    assert (first["revision"], first["added"], first["changed"], first["retired"]) == (1, 155, 0, 0)


def test_a_set_comes_out_as_it_went_in(region, tmp_path):
    out = tmp_path / "out.csv"
    assert region("set", "export", "region", "--to", str(out)).exit_code is ExitCode.DONE
    assert out.read_bytes() == Path(REGION).read_bytes()
    again = region("set", "export", "region", "--to", str(out))
    assert again.exit_code is ExitCode.REFUSED and "--yes" in again.stderr
    assert region("set", "export", "region", "--to", str(out), "--yes").exit_code is ExitCode.DONE


@pytest.mark.parametrize(
    ("words", "codes"),
    [
        (["tannwohr"], {"003", "103"}),
        (["TANNWOEHR"], {"003", "103"}),
        (["004"], {"004"}),
        (["--near", "1", "--within", "1500m", "--landable", "aerodrome"], {"001"}),
        (["--near", "48.872,11.8105", "--within", "100m"], {"001"}),
        (["--feature", "water", "moor"], None),
    ],
)
def test_waypoints_are_found_by_code_name_kind_and_nearness(region, words, codes):
    result = region("waypoint", "find", *words, "--json").result()
    found = {w["code"] for w in result["waypoints"]}
    assert found == codes if codes is not None else found
    assert result["total"] == len(found) and result["truncated"] is False


def test_a_limit_is_said(region):
    result = region("waypoint", "find", "--limit", "3", "--json").result()
    assert (len(result["waypoints"]), result["total"], result["truncated"]) == (3, 155, True)
    assert "showing 3 of 155 waypoints" in region("waypoint", "find", "--limit", "3").stdout


@pytest.mark.parametrize("reference", ["001", "1", "Ormsau", "ORMSAU", "region:001", "region@1:1"])
def test_a_waypoint_is_shown_by_any_reference_that_means_it(region, reference):
    assert region("waypoint", "show", reference, "--json").result()["code"] == "001"


def test_a_miss_answers_with_the_nearest_and_an_ambiguity_with_the_choices(region):
    miss = region("waypoint", "show", "Kelmrid", "--json")
    assert miss.exit_code is ExitCode.NOT_FOUND
    assert any("Kelmried" in near for near in miss.error()["details"]["nearest"])
    twice = region("waypoint", "show", "Kleinquarn", "--json")
    assert twice.exit_code is ExitCode.REFUSED
    assert twice.error()["details"]["choices"] == ["135", "141"]


def test_a_missing_set_is_not_found_and_nothing_is_made(taskdb):
    before = taskdb("store", "info", "--json").result()
    assert taskdb("set", "show", "regoin").exit_code is ExitCode.NOT_FOUND
    assert taskdb("waypoint", "find", "x").exit_code is ExitCode.DONE
    assert taskdb("store", "info", "--json").result() == before


def test_a_check_shows_evidence_and_its_exit_code_follows_the_severity(region):
    checked = region("check", "run", "region", "--fail-on", "note", "--json")
    assert checked.exit_code is ExitCode.ACT
    result = checked.result()
    assert result["checked"] == 155
    exact = next(f for f in result["findings"] if set(f["codes"]) == {"272", "303"})
    assert exact["rule"] == "same-place" and exact["severity"] == "warning"
    assert exact["evidence"]["pairs"] == [["272", "303", 0.0]]
    assert region("check", "run", "region", "--fail-on", "never").exit_code is ExitCode.DONE
    again = region("check", "run", "region", "--fail-on", "never", "--json").result()
    assert [f["id"] for f in again["findings"]] == [f["id"] for f in result["findings"]]


def test_every_rule_is_listed_and_explained(taskdb):
    rules = [rule["rule"] for rule in taskdb("check", "rules", "--json").result()["rules"]]
    assert {"same-place", "one-name-two-places"} <= set(rules)
    for rule in rules:
        page = taskdb("check", "explain", rule)
        assert page.exit_code is ExitCode.DONE and len(page.stdout) > 200, rule
    assert taskdb("check", "explain", "no-such").exit_code is ExitCode.NOT_FOUND


def test_a_bare_distance_is_refused(region):
    refused = region("waypoint", "find", "--near", "001", "--within", "25", "--json")
    assert refused.exit_code is ExitCode.USAGE
    assert refused.error()["code"] == "missing-unit"
