"""`contest day`, and what it brings to `task show` and `task compare`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from taskdb.errors import ExitCode

REGION = """\
code,name,latitude_deg,longitude_deg,elevation_m
001,Ormsau,48.8720000,11.8105000,389
002,Kelmried,48.5610000,11.5220000,467
003,Tannwöhr,49.0510000,12.4730000,497
004,Greifenlohe,48.6310000,12.3260000,423
"""


@pytest.fixture
def cup(taskdb: Callable[..., object], tmp_path: Path) -> Callable[..., object]:
    path = tmp_path / "region.csv"
    path.write_text(REGION, encoding="utf-8")
    taskdb("set", "import", path, "--into", "region")
    taskdb("contest", "new", "Cup", "--set", "region", "--site", "001", "--timezone", "Europe/Berlin")
    return taskdb


DAY = ("contest", "day", "Cup", "1", "--date", "2027-05-14", "--start-opens", "13:15", "--wind", "240/15kt")


def test_a_day_is_kept_and_shown_as_json(cup):
    kept = cup(*DAY, "--speed", "90km/h", "--json")
    assert kept.exit_code is ExitCode.DONE
    result = kept.result()
    assert kept.json()["schema"] == "taskdb.contest-day/1"
    assert (result["contest"], result["revision"], result["day"]) == ("Cup", 2, 1)
    assert result["wind"] == {"from_deg": 240.0, "speed_kmh": 27.78, "text": "240/15kt"}
    assert result["sun"]["sunset"].startswith("2027-05-14T20:45")
    assert result["legal_end"] == {"rule": "sunset", "rule_from": "default", "at": result["sun"]["sunset"]}
    assert cup("contest", "day", "Cup", "1", "--json").result() == result


def test_a_day_for_people_names_the_rule_and_carries_the_caution(cup):
    page = cup(*DAY).stdout
    assert "from 240° true at 15 kt" in page
    assert "20:45, sunset (default; the contest has set none)" in page
    assert "planning aid" in page
    assert "at 15 kt" in cup("contest", "day", "Cup", "1", "--units", "nmi").stdout


@pytest.mark.parametrize(
    "words",
    [("--wind", "240"), ("--wind", "240/15"), ("--speed", "90"), ("--date", "14.5.2027"), ("--start-opens", "1315")],
)
def test_a_value_without_its_unit_or_form_is_refused(cup, words):
    refused = cup("contest", "day", "Cup", "1", *words)
    assert refused.exit_code is ExitCode.USAGE
    assert words[0] in refused.stderr


def test_a_day_or_a_contest_that_is_not_there_is_not_found(cup):
    assert cup("contest", "day", "Cup", "4").exit_code is ExitCode.NOT_FOUND
    assert cup("contest", "day", "Cap", "1", "--speed", "90km/h").exit_code is ExitCode.NOT_FOUND


def test_a_preview_keeps_nothing(cup):
    cup(*DAY, "--preview")
    assert cup("contest", "day", "Cup", "1").exit_code is ExitCode.NOT_FOUND


def test_a_task_shows_its_day(cup):
    cup(*DAY, "--speed", "90km/h")
    made = cup("task", "new", "A", "001", "003", "004", "001", "--contest", "Cup", "--day", "1", "--json").result()
    shown = cup("task", "show", "A", "--json").result()
    assert shown == made
    assert all(leg["course_magnetic_deg"] is not None for leg in shown["legs"])
    assert shown["time"]["kind"] == "expected"
    sheet = shown["day_sheet"]
    assert sheet["still_air_kmh"] == 90.0
    (flight,) = sheet["flights"]
    assert flight["extent"] == "task"
    assert flight["points"][0] == {"number": 0, "after_start_s": 0.0, "at": "13:15"}
    assert flight["time_s"] == pytest.approx(shown["time"]["time_s"], abs=0.1)
    assert sheet["magnetic_model"] == "WMM2025"
    assert sheet["last_finish"]["last_start"] == "14:15"
    page = cup("task", "show", "A").stdout
    for words in ("magnetic", "last expected finish", "legal end of day", "expected time", "planning aid"):
        assert words in page


def test_a_minimum_time_is_never_called_expected(cup):
    cup(*DAY, "--speed", "90km/h")
    words = ("task", "new", "B", "001", "003", "area 20km", "004", "area 15km", "001", "--contest", "Cup")
    cup(*words, "--day", "1", "--time", "3:00")
    shown = cup("task", "show", "B", "--json").result()
    assert (shown["time"]["kind"], shown["time"]["time_s"]) == ("minimum", 10800)
    assert [flight["extent"] for flight in shown["day_sheet"]["flights"]] == ["minimum", "task", "maximum"]
    page = cup("task", "show", "B").stdout
    assert "minimum time" in page
    assert "expected time" not in page


def test_without_a_date_there_is_no_magnetic_course(cup):
    shown = cup("task", "new", "A", "001", "003", "001", "--contest", "Cup", "--json").result()
    assert [leg["course_magnetic_deg"] for leg in shown["legs"]] == [None, None]
    assert shown["day_sheet"] is None


def test_a_task_without_a_contest_takes_a_day_for_once(cup):
    cup("task", "new", "A", "001", "003", "004", "001", "--set", "region", "--type", "declared")
    words = ("task", "show", "A", "--date", "2027-06-21", "--wind", "300/10kt", "--speed", "95km/h", "--json")
    shown = cup(*words, "--start-opens", "11:30").result()
    assert None not in [leg["course_magnetic_deg"] for leg in shown["legs"]]
    assert shown["time"]["kind"] == "expected"
    assert shown["day_sheet"]["timezone"] is None
    assert shown["day_sheet"]["last_finish"]["last_start"] == "12:30"
    assert cup("task", "show", "A", "--json").result()["day_sheet"] is None


def test_variants_are_compared_by_when_they_are_home(cup):
    cup(*DAY, "--speed", "90km/h")
    cup("task", "new", "A", "001", "003", "004", "001", "--contest", "Cup", "--day", "1")
    cup("task", "new", "B", "001", "002", "003", "001", "--contest", "Cup", "--day", "1")
    page = cup("task", "compare", "A", "B").stdout
    assert "last expected finish" in page
    assert "flown over the task distance" in page
    assert "flown over the minimum distance" not in page


def test_a_sheet_says_the_day_and_what_the_review_found(cup, tmp_path):
    cup(*DAY, "--speed", "90km/h")
    cup("task", "new", "A", "001", "cylinder 10km", "003", "004", "001", "--contest", "Cup", "--day", "1")
    cup("task", "new", "B", "001", "cylinder 60km", "003", "004", "001", "--contest", "Cup", "--day", "1")
    page = tmp_path / "a.html"
    assert cup("sheet", "A", "--to", page).exit_code is ExitCode.DONE
    text = page.read_text(encoding="utf-8")
    for words in ("sets 20:45", "The flying day ends 20:45 (sunset, the default)", "magnetic", "Last expected finish"):
        assert words in text
    assert "wind 240°/15 kt" in text
    assert "The review found" not in text
    other = tmp_path / "b.html"
    cup("sheet", "B", "--to", other, "--date", "2027-12-21", "--wind", "300/10kt")
    text = other.read_text(encoding="utf-8")
    assert "Sun on 2027-12-21" in text and "wind 300°/10 kt" in text
    assert "The review found" in text and "holds point 1" in text


def test_a_sheet_without_a_day_says_nothing_of_it(cup, tmp_path):
    cup("task", "new", "A", "001", "003", "004", "001", "--set", "region")
    page = tmp_path / "a.html"
    cup("sheet", "A", "--to", page)
    text = page.read_text(encoding="utf-8")
    assert "The day:" not in text and "magnetic" not in text.split("</style>")[1].lower()


def test_a_value_of_a_day_is_emptied_and_a_day_with_none_is_taken_out(cup):
    cup(*DAY)
    cleared = cup("contest", "day", "Cup", "1", "--clear", "wind", "--json").result()
    assert (cleared["wind"], cleared["date"]) == (None, "2027-05-14")
    assert cup("contest", "day", "Cup", "1", "--clear", "date", "--clear", "start-opens").exit_code is ExitCode.DONE
    assert cup("contest", "day", "Cup", "1").exit_code is ExitCode.NOT_FOUND
    assert cup("contest", "day", "Cup", "1", "--clear", "site").exit_code is ExitCode.USAGE
    assert cup("undo").exit_code is ExitCode.DONE
    assert cup("contest", "day", "Cup", "1", "--json").result()["date"] == "2027-05-14"
