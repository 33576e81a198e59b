"""The library at the command line: tasks found, issued, flown, carried into the next season, compared; exit codes."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from taskdb.cli.render.console import display_width
from taskdb.errors import ExitCode

ROOT = Path(__file__).parents[2]
HEADER = "code,name,latitude_deg,longitude_deg\n"


@pytest.fixture
def cup(built):
    lines = (
        "contest new Cup --set region --site 001 --start 'line 8km' --finish 'cylinder 3km'",
        "task new A 001 004 003 001 --contest Cup --day 1 --speed 95km/h --tag x",
        "task new B 001 004 'area 20km' 003 001 --contest Cup --day 1 --time 3:00",
        "task new C 001 002 001 --contest Cup --day 2 --class club",
        "task flown A --on 2027-05-14 --wind 240/28km/h --starters 20 --finishers 13",
        "task flown C --on 2026-05-14 --wind 350/10km/h --starters 20 --finishers 2",
    )
    return built(("set", "import", ROOT / "demo/region.csv", "--into", "region"), *map(shlex.split, lines))


def names(run, *filters):
    done = run("task", "find", *filters, "--json")
    assert done.exit_code is ExitCode.DONE, done.stderr
    return [task["task"] for task in done.result()["tasks"]]


@pytest.mark.parametrize(
    ("filters", "expected"),
    [
        ([], ["A", "B", "C"]),
        (["greifen"], ["A", "B"]),
        (["--text", "kelmried"], ["C"]),
        (["--contest", "Cup", "--day", "2"], ["C"]),
        (["--class", "club"], ["C"]),
        (["--status", "flown"], ["A", "C"]),
        (["--type", "area"], ["B"]),
        (["--distance", "100km..200km"], ["A", "B"]),
        (["--distance", "..100km"], ["C"]),
        (["--duration", "2:30..3:30"], ["B"]),
        # A's 143.8 km at 95 km/h are 1:31.
        (["--duration", "1:30..1:32"], ["A"]),
        (["--through", "004"], ["A", "B"]),
        (["--through", "Kelmried"], ["C"]),
        (["--near", "002", "--within", "1km"], ["C"]),
        (["--heading", "100..150"], ["A", "B"]),
        (["--heading", "200..020"], ["C"]),
        (["--shape", "out-and-return"], ["C"]),
        (["--fai"], ["A", "B"]),
        (["--tag", "x"], ["A"]),
        (["--flown-after", "2027-01-01"], ["A"]),
        (["--wind-from", "200..260"], ["A"]),
        (["--wind-from", "340..010"], ["C"]),
        (["--finish-rate", "60..100"], ["A"]),
        (["--finish-rate", "..20"], ["C"]),
        (["--like", "A"], ["B"]),
        (["--fai", "--flown-after", "2027-01-01", "--through", "003"], ["A"]),
        (["--fai", "--class", "club"], []),
        (["--sort", "distance"], ["C", "A", "B"]),
        (["--sort", "finish-rate"], ["A", "C", "B"]),
        (["--sort", "last-flown", "--limit", "1"], ["A"]),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else value,
)
def test_every_filter_finds_what_it_says(cup, filters, expected):
    assert names(cup, *filters) == expected


def test_a_limit_is_said_and_never_silent(cup):
    result = cup("task", "find", "--limit", "1", "--json").result()
    assert (result["total"], result["truncated"], len(result["tasks"])) == (3, True, 1)
    assert "showing 1 of 3 tasks" in cup("task", "find", "--limit", "1").stdout
    assert "No task fits." in cup("task", "find", "--tag", "none").stdout


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["--distance", "100..200"], ExitCode.USAGE),
        (["--distance", "100km"], ExitCode.USAGE),
        (["--distance", "200km..100km"], ExitCode.USAGE),
        (["--heading", "270"], ExitCode.USAGE),
        (["--finish-rate", "60..120"], ExitCode.USAGE),
        (["--flown-after", "14.5.2027"], ExitCode.USAGE),
        (["--near", "001"], ExitCode.USAGE),
        (["--sort", "colour"], ExitCode.USAGE),
        (["--like", "Q"], ExitCode.NOT_FOUND),
        (["--through", "Nowhere"], ExitCode.NOT_FOUND),
        (["--contest", "Other"], ExitCode.NOT_FOUND),
    ],
)
def test_a_filter_that_cannot_be_read_is_refused(cup, words, expected):
    done = cup("task", "find", *words)
    assert done.exit_code is expected
    assert "hint:" in done.stderr or "Usage" in done.stderr or "Error" in done.stderr


def test_issuing_says_what_it_replaces(cup):
    assert cup("task", "choose", "A", "--issued", "2027-05-14T08:30:00Z").exit_code is ExitCode.DONE
    done = cup("task", "choose", "B", "--json")
    assert done.result()["replaces"] == ["A"] and done.result()["status"] == "issued"
    assert cup("task", "show", "A", "--json").result()["status"] == "replaced"
    assert "it replaces B" in cup("task", "choose", "A").stdout
    assert cup("task", "choose", "A").exit_code is ExitCode.REFUSED
    assert cup("task", "choose", "B", "--issued", "8:30").exit_code is ExitCode.USAGE
    assert cup("task", "choose", "Q").exit_code is ExitCode.NOT_FOUND


def test_a_preview_of_issuing_keeps_nothing(cup):
    done = cup("task", "choose", "B", "--preview", "--json")
    assert done.result()["status"] == "issued"
    assert cup("task", "show", "B", "--json").result()["status"] == "proposed"


def test_a_task_is_cancelled(cup):
    assert cup("task", "cancel", "B", "--json").result()["status"] == "cancelled"
    assert cup("task", "cancel", "Q").exit_code is ExitCode.NOT_FOUND


def test_flown_days_are_shown_kept_and_withdrawn(cup):
    kept = cup(
        *("task", "flown", "A", "--on", "2027-06-01", "--cloud-base", "1800m MSL"),
        *("--best", "104km/h", "--remarks", "late", "--json"),
    ).result()
    assert [r["flown_on"] for r in kept["records"]] == ["2027-05-14", "2027-06-01"]
    assert kept["records"][1]["cloud_base_m"] == 1800 and kept["records"][1]["best_kmh"] == 104
    assert "late" in cup("task", "flown", "A").stdout
    cup("task", "flown", "A", "--on", "2027-06-01", "--withdraw")
    assert len(cup("task", "flown", "A", "--json").result()["records"]) == 1
    assert "no flown record" in cup("task", "flown", "B").stdout


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ([], ExitCode.USAGE),
        (["Q"], ExitCode.NOT_FOUND),
        (["A", "--on", "tomorrow"], ExitCode.USAGE),
        (["A", "--on", "2027-05-15", "--cloud-base", "1800m"], ExitCode.USAGE),
        (["A", "--on", "2027-05-15", "--cloud-base", "800m AGL"], ExitCode.USAGE),
        (["A", "--on", "2027-05-15", "--starters", "3", "--finishers", "4"], ExitCode.REFUSED),
        (["--from-file", "none.csv"], ExitCode.NOT_FOUND),
    ],
)
def test_a_flown_day_that_cannot_be_is_refused(cup, words, expected):
    assert cup("task", "flown", *words).exit_code is expected


def test_flown_days_go_out_and_come_in_as_csv(cup, tmp_path):
    path = tmp_path / "flown.csv"
    assert cup("task", "flown", "--to-file", str(path), "--json").result()["records"] == 2
    assert cup("task", "flown", "--to-file", str(path)).exit_code is ExitCode.REFUSED
    assert cup("task", "flown", "--to-file", str(path), "--yes").exit_code is ExitCode.DONE
    content = path.read_text(encoding="utf-8")
    path.write_text(content.replace("2026-05-14", "2026-05-15"), encoding="utf-8")
    assert cup("task", "flown", "--from-file", str(path), "--json").result()["records"] == 1
    assert len(cup("task", "flown", "C", "--json").result()["records"]) == 2
    path.write_text(content.replace("13", "thirteen"), encoding="utf-8")
    bad = cup("task", "flown", "--from-file", str(path))
    assert bad.exit_code is ExitCode.INPUT_UNUSABLE
    assert "line 2, finishers, 'thirteen'" in bad.stderr


def test_a_season_is_carried_with_its_findings_and_the_rest_is_left(cup, tmp_path):
    path = tmp_path / "next.csv"
    # Renumbered, Tannwöhr moved by 0.0002 degrees (22 m), Kelmried gone.
    rows = {code: cup("waypoint", "show", code, "--set", "region", "--json").result() for code in ("001", "003", "004")}
    path.write_text(
        HEADER
        + "".join(
            f"{new},{row['name']},{row['latitude_deg'] + moved:.7f},{row['longitude_deg']:.7f}\n"
            for new, moved, row in (
                ("010", 0.0, rows["001"]), ("011", 0.0002, rows["003"]), ("001", 0.0, rows["004"]),
            )
        ),
        encoding="utf-8",
    )  # fmt: skip
    assert cup("set", "import", str(path), "--into", "next").exit_code is ExitCode.DONE
    cup("contest", "new", "Cup next", "--set", "next", "--start", "line 8km", "--finish", "cylinder 3km")
    done = cup("task", "carry", "--from-contest", "Cup", "--contest", "Cup next", "--json")
    assert done.exit_code is ExitCode.ACT
    outcomes = {task["task"]: task for task in done.result()["tasks"]}
    assert [outcomes[name]["revision"] for name in "ABC"] == [1, 1, None]
    assert [p["new_code"] for p in outcomes["A"]["points"]] == ["010", "001", "011", "010"]
    assert outcomes["C"]["unresolved"][0]["code"] == "002"
    assert isinstance(outcomes["A"]["findings_before"], list) and isinstance(outcomes["A"]["findings_after"], list)
    # It was flown: without --yes it is asked first.
    page = cup("task", "carry", "C", "--to", "next", "--yes").stdout
    assert "left undone" in page and "findings" in page
    compared = cup("task", "compare", "Cup:A", "Cup next:A", "--json").result()
    assert [p["change"] for p in compared["differences"][0]["points"]] == ["same", "same", "moved", "same"]
    assert compared["differences"][0]["points"][2]["distance_m"] == pytest.approx(22.2, abs=0.1)
    assert "~ point 2 011: moved 22 m, was 003" in cup("task", "compare", "Cup:A", "Cup next:A").stdout


def test_the_next_contest_is_copied_with_its_tasks(cup):
    done = cup("contest", "copy", "Cup", "Cup 2028", "--from", "2028-05-01", "--to", "2028-05-08", "--tasks", "--json")
    assert done.exit_code is ExitCode.DONE, done.stderr
    assert [t["task"] for t in done.result()["carried"]] == ["A", "B", "C"]
    assert names(cup, "--contest", "Cup 2028", "--status", "proposed") == ["A", "B", "C"]
    assert names(cup, "--contest", "Cup 2028", "--flown-after", "2000-01-01") == []
    assert cup("contest", "copy", "Cup", "Cup 2028").exit_code is ExitCode.REFUSED
    assert cup("contest", "copy", "None", "Cup 2029").exit_code is ExitCode.NOT_FOUND


@pytest.mark.parametrize("width", [80, 140])
def test_a_comparison_of_up_to_six_fits_the_terminal(cup, width):
    for number in range(3):
        cup("task", "new", f"D{number}", "001", "005", "004", f"00{number + 2}", "001", "--contest", "Cup")
    done = cup(
        "task", "compare", "A", "B", "C", "D0", "D1", "D2", terminal=True, env={"COLUMNS": str(width), "NO_COLOR": "1"}
    )
    assert done.exit_code is ExitCode.DONE
    tables = done.stdout.split("= same")[0]
    assert all(display_width(line) <= width for line in tables.splitlines())
    for name in ("A@", "B@", "C@", "D0@", "D1@", "D2@"):
        assert name in tables
    assert "\x1b" not in done.stdout
    assert cup("task", "compare", *"ABC", *"ABC", "A").exit_code is ExitCode.USAGE


def test_two_revisions_are_compared_with_signs_and_words(cup):
    cup("task", "edit", "A", "--zone", "1=cylinder 5km")
    page = cup("task", "compare", "A@2", "A").stdout
    assert "A@3 against A@2" in page and "~ point 1 004: cylinder 500m → cylinder 5km" in page
    same = cup("task", "compare", "A", "A@3").stdout
    assert "the same points with the same zones" in same


def test_a_time_zone_is_held_against_the_list_when_typed(cup):
    done = cup("contest", "edit", "Cup", "--timezone", "Europe/Berlni")
    assert done.exit_code is ExitCode.USAGE and "Europe/Berlin" in done.stderr
    assert cup("contest", "edit", "Cup", "--timezone", "Europe/Berlin").exit_code is ExitCode.DONE


def test_what_a_task_has_is_emptied(cup):
    cup("task", "edit", "C", "--variant", "B", "--take-off", "001", "--landing", "002", "--time", "2:00", "--tag", "y")
    every = ("day", "class", "variant", "time", "take-off", "landing", "tags")
    cleared = cup("task", "edit", "C", *(word for name in every for word in ("--clear", name)), "--json").result()
    assert [cleared[key] for key in ("day", "class", "variant", "take_off", "landing")] == [None] * 5
    assert cleared["time"]["kind"] is None
    assert names(cup, "--tag", "y") == []
    assert cup("task", "edit", "A", "--clear", "speed", "--json").result()["time"]["time_s"] is None
    given = cup("task", "edit", "A", "--clear", "day", "--day", "3", "--json").result()
    assert given["day"] == 3


def test_a_day_shows_what_a_person_wrote_and_what_logs_told_and_where_they_differ(cup, tmp_path):
    path = tmp_path / "flown.csv"
    path.write_text(
        "task,contest,flown_on,log_starters,log_finishers,first_start,last_start,ended_near,logs\n"
        f"A,Cup,2027-05-14,19,13,2027-05-14T11:02:03Z,2027-05-14T11:40:00Z,003:5 :1,{'0f' * 16}\n",
        encoding="utf-8",
    )
    # The day stands with 20 starters and 13 finishers; the file says nothing of a person's own figures.
    assert cup("task", "flown", "--from-file", str(path)).exit_code is ExitCode.DONE
    page = cup("task", "flown", "A").stdout
    assert "started 11:02:03 to 11:40:00 UTC; 5 flights ended near 003; 1 flight ended near no waypoint." in page
    assert "starters 20 by hand, 19 by logs. Both are kept, and the hand's count." in page
    (record,) = cup("task", "flown", "A", "--json").result()["records"]
    assert record["by_logs"]["ended_near"] == [{"code": "003", "flights": 5}, {"code": None, "flights": 1}]
    assert record["contradictions"] == [{"field": "starters", "by_hand": 20, "by_logs": 19}]
