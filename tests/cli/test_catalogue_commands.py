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
def region(built):
    return built(("set", "import", REGION, "--into", "region", "--author", "Librarian"))


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


FIELDS = """code,name,latitude_deg,longitude_deg,elevation_m,radio
EDXV,Varnstadt,48.8720123,11.8105321,389.2,123.505
X1,Ormsau,49.1000000,12.1000000,400,
X2,Kelm,49.2003456,12.1000000,400.3,
"""
NEXT = """code,name,lat,lon,elevation_ft,radio,colour
VAR,Varnstadt,48°53.4'N,011°48.6'E,1277,122.480,red
X1,Ormsau,49°07.0'N,012°06.0'E,1312,,
X2,Kelm,49°12.0'N,012°06.0'E,1313,,
X3,Zu weit,98°12.0'N,012°06.0'E,1313,,
"""


@pytest.fixture
def fields(taskdb, tmp_path):
    (tmp_path / "fields.csv").write_text(FIELDS, encoding="utf-8")
    (tmp_path / "next.csv").write_text(NEXT, encoding="utf-8")
    assert taskdb("set", "import", tmp_path / "fields.csv", "--into", "fields").exit_code is ExitCode.DONE
    return ("set", "import", tmp_path / "next.csv", "--into", "fields", "--on-error", "skip")


def test_a_row_that_may_be_another_field_shows_both_and_the_lines_that_decide(taskdb, fields):
    whole = fields[2]
    whole.write_text("".join(NEXT.splitlines(keepends=True)[:-1]), encoding="utf-8")
    done = taskdb(*fields[:5])
    assert done.exit_code is ExitCode.INPUT_UNUSABLE
    (told,) = (line for line in done.stderr.splitlines() if "'VAR'" in line)
    for word in ("EDXV Varnstadt", "123.505", "VAR Varnstadt", "122.480", "2.0 km off", "--map EDXV=VAR", "--new VAR"):
        assert word in told
    assert "fields --new=VAR" in done.stderr and "--yes" in done.stderr
    skipped = taskdb(*fields)
    assert skipped.exit_code is ExitCode.ACT
    shown = taskdb("waypoint", "show", "fields:EDXV", "--json").result()
    assert (shown["name"], shown["radio"][0]["channel"]) == ("Varnstadt", "123.505")


def test_what_an_import_renumbers_or_moves_far_stands_at_the_end_of_its_report(taskdb, fields):
    done = taskdb(*fields, "--yes")
    *before, last, further, moved = done.stdout.splitlines()
    assert "moved further than 1 km" in last
    assert "VAR Varnstadt moved 2.0 km" in further and "X1 Ormsau moved 1.9 km" in moved
    assert "1 waypoint renumbered" in before[-2] and "VAR Varnstadt is what stood as EDXV" in before[-1]
    # Whatever else there is to say stands above.
    for word in ("colour", "98°12.0"):
        assert any(word in line for line in before[:-2]), word


def test_programs_read_what_was_renumbered_moved_kept_and_refined(taskdb, fields):
    result = taskdb(*fields, "--map", "EDXV=VAR", "--json").result()
    (renumbered,) = result["renumberings"]
    assert (renumbered["old_code"], renumbered["code"], renumbered["round"]) == ("EDXV", "VAR", "map")
    assert [move["code"] for move in result["far_moves"]] == ["VAR", "X1"]
    assert result["renumbered"] == 1
    # Kelm's minutes cover its position, its feet its height; the height of X1 is finer in feet.
    assert (result["kept_finer"], result["finer_fields"]["kept"]) == (1, {"elevation_m": 1, "position": 1})
    assert (result["refined"], result["finer_fields"]["refined"]) == (1, {"elevation_m": 1})
    again = taskdb(*fields, "--json").result()
    assert (again["revision"], again["changed"], again["kept_finer"]) == (2, 0, 1)


def test_a_refinement_is_no_move_in_a_difference(taskdb, tmp_path):
    coarse, fine = tmp_path / "coarse.csv", tmp_path / "fine.csv"
    coarse.write_text("code,name,lat,lon\nX2,Kelm,49°12.0'N,012°06.0'E\n", encoding="utf-8")
    fine.write_text("code,name,lat,lon\nX2,Kelm,49.2003456,12.1000789\n", encoding="utf-8")
    for path in (coarse, fine):
        assert taskdb("set", "import", path, "--into", "fields").exit_code is ExitCode.DONE
    shown = taskdb("set", "diff", "fields")
    assert "1 changed (1 refined)" in shown.stdout
    assert "refined by 39 m, within the rounding of what stood" in shown.stdout and "moved" not in shown.stdout
    (change,) = taskdb("set", "diff", "fields", "--json").result()["changed"]
    assert change["refined"] is True and round(change["moved_m"]) == 39


def test_a_coarser_statement_is_taken_where_it_is_asked_for(taskdb, fields):
    result = taskdb(*fields, "--yes", "--coarser", "takes", "--json").result()
    assert (result["changed"], result["kept_finer"]) == (3, 0)
