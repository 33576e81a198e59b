"""`task review`: its JSON, its exit codes, and what it brings to `task show` and `task compare`."""

from __future__ import annotations

import pytest

from taskdb.errors import ExitCode

REGION = """\
code,name,latitude_deg,longitude_deg,elevation_m
001,Ormsau,48.8720000,11.8105000,389
002,Kelmried,48.5610000,11.5220000,467
003,Tannwöhr,49.0510000,12.4730000,497
004,Greifenlohe,48.6310000,12.3260000,423
007,Ormsau Nord,48.9100000,11.8300000,401
"""


@pytest.fixture
def region(taskdb, tmp_path):
    path = tmp_path / "region.csv"
    path.write_text(REGION, encoding="utf-8")
    taskdb("set", "import", path, "--into", "region")
    taskdb("task", "new", "A", "001", "003", "004", "001")
    taskdb("task", "new", "B", "001", "cylinder 10km", "007", "003", "001")
    return taskdb


def test_a_review_lists_findings_in_the_form_of_checks(region):
    done = region("task", "review", "A", "B", "--json")
    assert done.exit_code is ExitCode.ACT
    assert done.json()["schema"] == "taskdb.task-review/1"
    sound, ring = done.result()["tasks"]
    assert (sound["task"], sound["revision"], sound["findings"]) == ("A", 1, [])
    finding = next(one for one in ring["findings"] if one["rule"] == "ring-holds-turn")
    assert set(finding) == {
        "id", "rule", "severity", "codes", "message", "evidence", "suggestion", "alternatives", "accepted",
    }  # fmt: skip
    assert (finding["severity"], finding["codes"]) == ("error", ["007", "001"])
    assert ring["limits"]["shortest_leg_m"] == 5000.0


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("A",), ExitCode.DONE),
        (("B",), ExitCode.ACT),
        (("B", "--fail-on", "never"), ExitCode.DONE),
        (("A", "--fail-on", "note"), ExitCode.DONE),
        (("Z",), ExitCode.NOT_FOUND),
        ((), ExitCode.USAGE),
        (("A", "--fail-on", "always"), ExitCode.USAGE),
    ],
)
def test_the_exit_code_says_whether_there_is_something_to_act_on(region, words, code):
    assert region("task", "review", *words).exit_code is code


def test_a_review_for_people_counts_and_carries_the_caution(region):
    page = region("task", "review", "A", "B").stdout
    assert "A@1: nothing found" in page
    assert "ring-holds-turn" in page
    assert "airspace, NOTAM" in page


def test_showing_and_making_a_task_tell_its_findings(region):
    shown = region("task", "show", "B", "--json")
    assert shown.exit_code is ExitCode.DONE
    assert "ring-holds-turn" in [one["rule"] for one in shown.result()["findings"]]
    assert "error: The start's zone" in region("task", "show", "B").stdout
    made = region("task", "new", "C", "001", "cylinder 10km", "007", "004", "001")
    assert made.exit_code is ExitCode.DONE
    assert "error: The start's zone" in made.stdout


def test_a_comparison_counts_findings(region):
    page = region("task", "compare", "A", "B").stdout
    line = next(line for line in page.splitlines() if line.startswith("findings"))
    assert "none" in line and "error" in line


def test_the_rules_of_tasks_stand_beside_those_of_sets_and_are_explained(region):
    rules = region("check", "rules", "--json").result()["rules"]
    assert {"set", "task"} == {rule["of"] for rule in rules}
    assert "short-leg" in [rule["rule"] for rule in rules if rule["of"] == "task"]
    for rule in rules:
        page = region("check", "explain", rule["rule"])
        assert page.exit_code is ExitCode.DONE
        assert "Why it matters:" in page.stdout
    assert region("check", "explain", "short-log").exit_code is ExitCode.NOT_FOUND
