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


# -- a day of two classes ----------------------------------------------------------------------------------------------


@pytest.fixture
def day(region):
    region("contest", "new", "Cup", "--set", "region", "--site", "001", "--timezone", "Europe/Berlin")
    region("contest", "classes", "Cup", "--class", "Club=60km/h..110km/h", "--class", "Open=80km/h..160km/h")
    region("contest", "day", "Cup", "1", "--date", "2027-05-14", "--start-opens", "13:00")
    region("task", "new", "C1", "001", "003", "004", "002", "--contest", "Cup", "--day", "1", "--class", "Club")
    region("task", "new", "O1", "001", "004", "003", "007", "--contest", "Cup", "--day", "1", "--class", "Open")
    return region


def test_a_day_is_reviewed_and_what_two_tasks_share_is_shown_once(day):
    done = day("task", "review", "--contest", "Cup", "--day", "1")
    assert done.exit_code is ExitCode.DONE
    own, _, between = done.stdout.partition("Between these tasks: ")
    # Neither has findings of its own: that nothing was found would be wrong to say of them.
    assert "C1@1: 3 between these tasks, below" in own and "O1@1: 3 between these tasks, below" in own
    assert "nothing found" not in own
    told = "Club (C1) from 003 to 004 and Open (O1) from 004 to 003 fly against each other"
    assert between.count(told) == 1 and own.count(told) == 0
    # One of the two alone has them as its own.
    alone = day("task", "review", "C1").stdout
    assert alone.count(told) == 1 and "Between these tasks" not in alone


def test_a_days_json_has_them_under_both_tasks(day):
    done = day("task", "review", "--contest", "Cup", "--day", "1", "--json", "--fail-on", "warning")
    assert done.exit_code is ExitCode.ACT
    first, second = done.result()["tasks"]
    opposed = [one for one in first["findings"] if one["rule"] == "opposing-legs"]
    assert {one["id"] for one in opposed} <= {one["id"] for one in second["findings"]}
    evidence = opposed[0]["evidence"]
    assert set(evidence) == {
        "kind", "tasks", "classes", "legs", "apart_m", "apart_most_m", "latitude_deg", "longitude_deg", "near",
        "even", "angle_deg", "from", "to", "planned", "stretches_m",
    }  # fmt: skip
    assert evidence["tasks"] == ["C1", "O1"] and evidence["from"] < evidence["to"]


def test_what_is_accepted_goes_from_both(day):
    findings = day("task", "review", "C1", "--json").result()["tasks"][0]["findings"]
    ids = [one["id"] for one in findings if one["severity"] == "warning"]
    day("check", "accept", "region", *ids, "--why", "told at the briefing")
    done = day("task", "review", "--contest", "Cup", "--day", "1", "--fail-on", "warning")
    assert done.exit_code is ExitCode.DONE
    assert "fly against each other" not in done.stdout and "accepted finding" in done.stdout


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--contest", "Cup", "--day", "2"), ExitCode.NOT_FOUND),
        (("C1", "--day", "1"), ExitCode.USAGE),
        (("--day", "1"), ExitCode.USAGE),
        (("--contest", "Cup", "--day", "0"), ExitCode.USAGE),
        (("--contest", "Nobody", "--day", "1"), ExitCode.NOT_FOUND),
    ],
)
def test_a_day_that_is_none_is_refused(day, words, code):
    assert day("task", "review", *words).exit_code is code


def test_a_hand_out_shows_what_two_tasks_share_once(day, tmp_path):
    done = day("handout", "--contest", "Cup", "--day", "1", "--to", tmp_path / "day", "--yes")
    assert done.exit_code is ExitCode.DONE
    assert done.stdout.count("Club (C1) from 003 to 004 and Open (O1) from 004 to 003 fly against each other") == 1
