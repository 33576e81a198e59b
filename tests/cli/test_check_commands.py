"""Living with findings: seen, accepted, mended one by one or as a reviewed batch, duplicates joined."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from taskdb.errors import ExitCode

ROOT = Path(__file__).parents[2]
OTHER = str(ROOT / "demo/federation.csv")


@pytest.fixture
def region(built):
    return built(("set", "import", str(ROOT / "demo/region.csv"), "--into", "region"))


def findings(run, *words):
    result = run("check", "run", "region", *words, "--fail-on", "never", "--json").result()
    return {(f["rule"], f["codes"][0]): f for f in result["findings"]}


def test_every_planted_fault_is_found_against_another_list(region):
    """The faults and their true values stand in demo/faults.md."""
    found = findings(region, "--against", OTHER)
    codes = {code for _, code in found}
    assert {"304", "116", "106", "271", "022", "005", "006", "272", "135", "278"} <= codes
    slip = found["typing-slip", "304"]
    assert slip["severity"] == "error"
    assert slip["suggestion"]["longitude_deg"] == pytest.approx(12.5270333, abs=2e-5)


def test_an_accepted_finding_is_quiet_until_a_value_changes(region, tmp_path):
    finding = findings(region)["same-place", "278"]
    refused = region("check", "accept", "region", finding["id"])
    assert refused.exit_code is ExitCode.USAGE
    done = region("check", "accept", "region", finding["id"][:6], "--why", "two silos", "--author", "Anna")
    assert done.exit_code is ExitCode.DONE, done.stderr
    assert ("same-place", "278") not in findings(region)
    shown = findings(region, "--all")["same-place", "278"]
    assert shown["accepted"] == {"by": "Anna", "why": "two silos"}
    (kept,) = region("check", "list", "region", "--json").result()["accepted"]
    assert kept["id"] == finding["id"]
    row = "278,Silo Haselquarn,48.7274,11.4561\n"
    (tmp_path / "m.csv").write_text(f"code,name,latitude_deg,longitude_deg\n{row}", encoding="utf-8")
    assert region("set", "import", str(tmp_path / "m.csv"), "--into", "region").exit_code is ExitCode.DONE
    assert ("same-place", "278") in findings(region)
    missing = region("check", "accept", "region", "ffffffffff", "--why", "x")
    assert missing.exit_code is ExitCode.NOT_FOUND


def test_an_acceptance_is_taken_back(region):
    finding = findings(region)["same-place", "278"]["id"]
    region("check", "accept", "region", finding, "--why", "two silos")
    assert region("check", "accept", "region", finding, "--take-back").exit_code is ExitCode.DONE
    assert ("same-place", "278") in findings(region)


def test_a_mend_is_one_revision_and_names_the_stale_tasks(region):
    region("task", "new", "A", "001", "304", "001")
    slip = findings(region, "--against", OTHER)["typing-slip", "304"]
    preview = region("check", "fix", "region", slip["id"], "--against", OTHER, "--preview")
    assert preview.exit_code is ExitCode.DONE
    fixed = region("check", "fix", "region", slip["id"], "--against", OTHER, "--json").result()
    assert (fixed["revision"], fixed["stale_tasks"]) == (2, ["A"])
    assert fixed["changed"] == [{"code": "304", "fields": ["position"]}]
    assert ("typing-slip", "304") not in findings(region, "--against", OTHER)
    assert len(region("task", "show", "A", "--json").result()["stale"]) == 1
    again = region("check", "fix", "region", slip["id"], "--against", OTHER)
    assert again.exit_code is ExitCode.NOT_FOUND


def test_a_field_is_mended_too_and_a_finding_without_a_mend_is_refused(region):
    found = findings(region)
    fixed = region("check", "fix", "region", found["elevation-unit", "022"]["id"], "--json").result()
    assert fixed["changed"] == [{"code": "022", "fields": ["elevation_m"]}]
    assert region("waypoint", "show", "022", "--json").result()["elevation_m"] == pytest.approx(437.1, abs=0.06)
    refused = region("check", "fix", "region", found["same-place", "278"]["id"])
    assert refused.exit_code is ExitCode.REFUSED
    assert "waypoint edit" in refused.stderr


def test_a_batch_is_reviewed_in_a_file_and_applied_in_one_revision(region, tmp_path):
    plan = tmp_path / "plan.json"
    assert region("check", "fix", "region", "--against", OTHER, "--plan", str(plan)).exit_code is ExitCode.DONE
    document = json.loads(plan.read_text(encoding="utf-8"))
    for entry in document["findings"]:
        if entry["codes"][0] in ("304", "271", "106"):
            entry["take"] = 0
    plan.write_text(json.dumps(document), encoding="utf-8")
    fixed = region("check", "fix", "region", "--against", OTHER, "--apply", str(plan), "--json").result()
    assert fixed["revision"] == 2
    assert [change["code"] for change in fixed["changed"]] == ["106", "271", "304"]
    plan.write_text('{"schema": "x", "findings": []}', encoding="utf-8")
    assert region("check", "fix", "region", "--apply", str(plan)).exit_code is ExitCode.INPUT_UNUSABLE


def test_duplicates_are_joined_and_a_task_follows_the_kept_one(region):
    region("task", "new", "A", "001", "280", "001")
    merged = region("check", "merge", "region", "278", "280", "--json").result()
    assert (merged["retired"], merged["stale_tasks"]) == (["280"], ["A"])
    assert region("waypoint", "show", "280").exit_code is not ExitCode.DONE
    carried = region("task", "carry", "A", "--to", "region", "--json")
    assert carried.exit_code is ExitCode.DONE, carried.stdout
    assert carried.result()["tasks"][0]["points"][1]["new_code"] == "278"
    assert region("task", "show", "A", "--json").result()["points"][1]["code"] == "278"
    assert region("check", "merge", "region", "278", "278").exit_code is ExitCode.USAGE


def test_only_what_changed_is_looked_at_since_a_revision(region, tmp_path):
    rows = "304,Bahnhof Eschlwang,48.7047833,12.5270333\n"
    (tmp_path / "m.csv").write_text(f"code,name,latitude_deg,longitude_deg\n{rows}", encoding="utf-8")
    region("set", "import", str(tmp_path / "m.csv"), "--into", "region")
    result = region("check", "run", "region", "--since", "region@1", "--fail-on", "never", "--json").result()
    assert result["checked"] == 1
    assert all("304" in finding["codes"] for finding in result["findings"])


def test_a_reference_that_is_not_there_is_not_found(region):
    assert region("check", "run", "region", "--against", "no-such.csv").exit_code is ExitCode.NOT_FOUND
    assert region("check", "run", "region", "--since", "region@9").exit_code is ExitCode.NOT_FOUND


def test_what_cannot_be_seen_without_a_reference_is_said(region):
    assert "cannot be seen" in region("check", "run", "region").stdout
    assert "cannot be seen" not in region("check", "run", "region", "--against", OTHER).stdout


def test_all_findings_of_a_rule_are_accepted_at_once_and_counted(region):
    listed = region("check", "run", "region", "--json", "--fail-on", "never").result()["findings"]
    rule = listed[-1]["rule"]
    of_rule = [finding["id"] for finding in listed if finding["rule"] == rule]
    looked = region("check", "accept", "region", "--rule", rule, "--why", "seen", "--preview")
    assert "accepted: " in looked.stdout and all(finding in looked.stdout for finding in of_rule)
    done = region("check", "accept", "region", "--rule", rule, "--why", "seen", "--json").result()
    assert (sorted(done["findings"]), done["rules"]) == (sorted(of_rule), {rule: len(of_rule)})
    left = region("check", "run", "region", "--json", "--fail-on", "never").result()["findings"]
    assert len(left) == len(listed) - len(of_rule)
    again = region("check", "accept", "region", "--rule", rule, "--why", "seen")
    assert again.exit_code is ExitCode.NOT_FOUND and "There are open ones of:" in again.stderr


def test_a_run_leads_with_what_to_do(region):
    lines = region("check", "run", "region", "--against", OTHER, "--fail-on", "never").stdout.splitlines()
    assert lines[0] == "region@1: 155 waypoints checked, 3 errors, 4 warnings, 3 notes"
    assert "outside-country 2" in lines[1] and "typing-slip 1" in lines[1]
    assert lines[3] == "The most certain mends, 5 of 5:"
    assert [line.split()[0] for line in lines[4:9]] == ["error", "error", "error", "warning", "warning"]
    assert "304 Bahnhof Eschlwang → " in lines[6]
    assert lines[9].startswith("3 are almost surely right")
    assert lines[10] == f"  taskdb check fix region --sure --preview --against {OTHER}"
    result = region("check", "run", "region", "--against", OTHER, "--fail-on", "never", "--json").result()
    assert result["counts"]["severity"] == {"error": 3, "warning": 4, "note": 3}
    assert result["counts"]["rule"]["same-place"] == 2
    by_id = {finding["id"]: finding for finding in result["findings"]}
    assert [by_id[id_]["codes"][0] for id_ in result["sure"]] == ["106", "271", "304"]
    assert result["most_certain"][:3] == result["sure"] and len(result["most_certain"]) == 5


def test_where_no_mend_is_sure_the_command_takes_one(region):
    region("check", "fix", "region", "--sure", "--yes", "--against", OTHER)
    text = region("check", "run", "region", "--against", OTHER, "--fail-on", "never").stdout
    assert "None of them is sure. Look each up, then:" in text and "--sure" not in text
    assert "most certain" not in region("check", "run", "region@1", "--short-names", "40").stdout.split("\n\n")[0]


def test_an_older_revision_has_no_command_to_mend_it(region):
    region("check", "fix", "region", "--sure", "--yes", "--against", OTHER)
    old = region("check", "run", "region@1", "--fail-on", "never").stdout
    assert "The most certain mends" in old and "taskdb check fix" not in old


def test_the_sure_mends_are_previewed_confirmed_and_taken_in_one_revision(region):
    words = ("check", "fix", "region", "--sure", "--against", OTHER)
    preview = region(*words, "--preview")
    assert preview.exit_code is ExitCode.DONE and "304 Bahnhof Eschlwang: moved" in preview.stdout
    refused = region(*words)
    assert (
        refused.exit_code is ExitCode.REFUSED and "3 waypoint(s) of region are moved: 106, 271, 304" in refused.stderr
    )
    taken = region(*words, "--yes", "--json").result()
    assert taken["revision"] == 2 and [change["code"] for change in taken["changed"]] == ["106", "271", "304"]
    again = region(*words, "--yes", "--json")
    assert again.exit_code is ExitCode.DONE and again.result()["changed"] == []


def test_sure_stands_alone(region, tmp_path):
    for more in (["304"], ["--plan", str(tmp_path / "p.json")], ["--apply", str(tmp_path / "p.json")]):
        assert region("check", "fix", "region", "--sure", *more).exit_code is ExitCode.USAGE


def test_what_was_accepted_is_not_mended_as_sure(region):
    finding = findings(region)["outside-country", "271"]["id"]
    region("check", "accept", "region", finding, "--why", "it stands there")
    assert [
        change["code"] for change in region("check", "fix", "region", "--sure", "--yes", "--json").result()["changed"]
    ] == ["106"]
