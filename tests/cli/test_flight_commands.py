"""`taskdb flight read` and `flight places`: what was flown, as it is typed, seen and kept; no word of who flew."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from taskdb.errors import ExitCode
from tests.flying import away
from tests.logbook import ORMSAU, SECRETS, day_of_flights, flight, written, zipped

DEMO = Path(__file__).parents[2] / "demo"
CUP = (
    ("set", "import", DEMO / "region.csv", "--into", "region"),
    ("contest", "new", "Cup", "--set", "region", "--timezone", "Europe/Berlin", "--start", "line 8km",
     "--finish", "cylinder 3km"),
    ("contest", "day", "Cup", "1", "--date", "2027-06-14"),
    ("contest", "day", "Cup", "2", "--date", "2027-06-15"),
    ("task", "new", "A1", "001", "004", "003", "001", "--contest", "Cup", "--day", "1"),
    ("task", "new", "A2", "001", "003", "004", "001", "--contest", "Cup", "--day", "2"),
)  # fmt: skip


@pytest.fixture
def cup(built):
    return built(*CUP)


@pytest.fixture
def logs(tmp_path):
    return written(tmp_path / "logs", day_of_flights())


def read(cup, *words):
    return cup("flight", "read", *words, "--contest", "Cup")


def test_a_folder_of_logs_tells_which_task_was_flown_and_how_it_went(cup, logs):
    result = read(cup, logs, "--json").result()
    assert [(f["task"], f["finished"]) for f in result["flights"]] == [("A1", True)] * 3 + [("A1", False)]
    assert result["day"] == {
        "starters": 4, "finishers": 3, "best_kmh": pytest.approx(108, abs=1), "median_kmh": pytest.approx(100.8, abs=1),
    }  # fmt: skip
    last = result["flights"][-1]
    assert last["ended_near"] is not None and last["finish_utc"] is None
    assert result["saved"] is None
    # It stands 300 s and flies 5.6 and 6 km to the line, at 25 and 30 m/s.
    second = next(f for f in result["flights"] if f["start_utc"].startswith("2027-06-14T10:"))
    assert second["stood_before"] == pytest.approx(away(ORMSAU, 300.0, 400.0), abs=1e-4)


def test_a_folder_a_zip_and_files_tell_the_same(cup, logs, tmp_path):
    of_zip = read(cup, zipped(tmp_path / "day.zip", day_of_flights()), "--json").result()
    of_files = read(cup, *sorted(logs.iterdir()), "--json").result()
    of_folder = read(cup, logs, "--json").result()
    assert of_zip["days"] == of_files["days"] == of_folder["days"]


def test_the_screen_has_a_line_a_flight_the_day_and_the_caution(cup, logs):
    shown = read(cup, logs).stdout
    assert "Cup:A1 on 2027-06-14: 3 of 4 finished, best 10" in shown
    assert "No scoring" in shown and "officials decide" in shown
    assert "start UTC" in shown


@pytest.mark.both_engines
def test_what_is_kept_is_seen_with_the_task_and_the_same_logs_change_nothing(cup, logs):
    first = read(cup, logs, "--save", "--json").result()["saved"]
    assert [(one["task"], one["flown_on"], one["changed"]) for one in first] == [("A1", "2027-06-14", True)]
    before = cup("log", "--json").result()["operations"]
    again = read(cup, logs, "--save", "--json").result()["saved"]
    assert [one["changed"] for one in again] == [False]
    assert cup("log", "--json").result()["operations"] == before, "no operation"
    (record,) = cup("task", "flown", "A1", "--json").result()["records"]
    assert (record["by_logs"]["starters"], record["by_logs"]["finishers"]) == (4, 3)
    assert record["by_logs"]["ended_near"][0]["flights"] == 1
    shown = cup("task", "show", "A1")
    assert "once, on 2027-06-14, 3 of 4 finished, best 10" in shown.stdout
    assert cup("task", "show", "A1", "--json").result()["flown"]["finished"] == {"starters": 4, "finishers": 3}
    assert "3 of 4 finished" in cup("task", "compare", "A1", "A2").stdout
    found = cup("task", "find", "--finish-rate", "60..100", "--json").result()["tasks"]
    assert [(one["task"], one["finish_rate_percent"]) for one in found] == [("A1", 75.0)]


def test_a_preview_keeps_nothing(cup, logs):
    shown = read(cup, logs, "--save", "--preview")
    assert shown.exit_code is ExitCode.DONE and "would" in shown.stdout + shown.stderr
    assert cup("task", "flown", "A1", "--json").result()["records"] == []


@pytest.mark.both_engines
def test_what_a_person_wrote_stays_and_a_contradiction_is_told(cup, logs):
    cup("task", "flown", "A1", "--on", "2027-06-14", "--starters", "5", "--finishers", "3", "--remarks", "late")
    shown = read(cup, logs, "--save")
    assert "starters 5 by hand, 4 by logs. Both are kept, and the hand's count." in shown.stdout
    (record,) = cup("task", "flown", "A1", "--json").result()["records"]
    assert (record["starters"], record["remarks"], record["by_logs"]["starters"]) == (5, "late", 4)


def test_fewer_logs_than_a_day_was_told_by_are_asked_for(cup, logs):
    read(cup, logs, "--save")
    (logs / "zarathustra.igc").unlink()
    refused = read(cup, logs, "--save", "--json")
    assert refused.exit_code is ExitCode.REFUSED
    assert refused.error()["details"]["missing"] == 1
    assert cup("task", "flown", "A1", "--json").result()["records"][0]["by_logs"]["starters"] == 4
    assert read(cup, logs, "--save", "--yes").exit_code is ExitCode.DONE
    assert cup("task", "flown", "A1", "--json").result()["records"][0]["by_logs"]["starters"] == 3


@pytest.mark.both_engines
def test_undo_takes_what_was_read_back(cup, logs):
    read(cup, logs, "--save")
    assert cup("undo").exit_code is ExitCode.DONE
    assert cup("task", "flown", "A1", "--json").result()["records"] == []
    assert cup("store", "verify").exit_code is ExitCode.DONE


def test_logs_of_another_date_are_of_no_task_of_the_day(cup, tmp_path):
    other = written(tmp_path / "other", {"a.igc": flight(date="160627")})
    result = read(cup, other, "--json").result()
    assert [f["task"] for f in result["flights"]] == [None]
    assert any("of its date, 2027-06-16" in problem for problem in result["flights"][0]["problems"])
    named = cup("flight", "read", other, "--task", "A1", "--json").result()
    assert [f["task"] for f in named["flights"]] == ["A1"], "who names a task says that it was flown"


def test_a_file_twice_and_a_second_recorder_count_once(cup, logs):
    (logs / "copy.igc").write_bytes((logs / "D-9Q71.igc").read_bytes())
    (logs / "second.igc").write_bytes(
        flight(at_s=38_000.0, speed_m_s=28.0, land_at=away(ORMSAU, 300.0, 400.0), interval_s=7.0)
    )
    result = read(cup, logs, "--json").result()
    assert result["day"]["starters"] == 4
    told = [problem for f in result["flights"] for problem in f["problems"]]
    assert sum("same file" in one for one in told) == 1
    assert sum("tells too, and counts once" in one for one in told) == 1
    assert [f["counted"] for f in result["flights"]].count(False) == 2


def test_a_spoilt_log_among_others_is_told_and_the_rest_is_read(cup, logs):
    (logs / "spoilt.igc").write_bytes(b"no log at all")
    result = read(cup, logs, "--json").result()
    spoilt = next(f for f in result["flights"] if f["file"] == "spoilt.igc")
    assert spoilt["task"] is None and spoilt["problems"]
    assert result["day"]["starters"] == 4


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["LOGS"], ExitCode.USAGE),
        (["LOGS", "--contest", "Cup", "--map", "day.png"], ExitCode.USAGE),
        (["LOGS", "--task", "A1", "--day", "1"], ExitCode.USAGE),
        (["nowhere", "--contest", "Cup"], ExitCode.NOT_FOUND),
        (["LOGS", "--contest", "Nobody's"], ExitCode.NOT_FOUND),
        (["LOGS", "--contest", "Cup", "--day", "7"], ExitCode.NOT_FOUND),
        (["LOGS", "--task", "Z9"], ExitCode.NOT_FOUND),
        (["EMPTY", "--contest", "Cup"], ExitCode.INPUT_UNUSABLE),
        (["SPOILT", "--contest", "Cup"], ExitCode.INPUT_UNUSABLE),
        (["NOZIP", "--contest", "Cup"], ExitCode.INPUT_UNUSABLE),
        (["LOGS", "--contest", "Cup", "--map", "THERE"], ExitCode.REFUSED),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_exit_code(cup, logs, tmp_path, words, expected):
    (tmp_path / "empty").mkdir()
    (tmp_path / "spoilt.igc").write_bytes(b"nothing")
    (tmp_path / "no.zip").write_bytes(b"nothing")
    (tmp_path / "there.svg").write_text("mine", encoding="utf-8")
    paths = {
        "LOGS": logs, "EMPTY": tmp_path / "empty", "SPOILT": tmp_path / "spoilt.igc", "NOZIP": tmp_path / "no.zip",
        "THERE": tmp_path / "there.svg",
    }  # fmt: skip
    done = cup("flight", "read", *(paths.get(word, word) for word in words), "--json")
    assert done.exit_code is expected
    assert done.error()["hint"]
    assert (tmp_path / "there.svg").read_text(encoding="utf-8") == "mine"


def test_the_map_shows_lines_and_marks_over_the_task(cup, logs, tmp_path):
    path = tmp_path / "day.svg"
    assert read(cup, logs, "--map", path, "--json").result()["map"] == {"path": str(path), "task": "Cup:A1"}
    drawn = path.read_text(encoding="utf-8")
    assert drawn.count("<path") > 10 and "FLIGHTS AS LOGGED, NO SCORING" in drawn and "ended elsewhere" in drawn


def test_nothing_of_who_flew_comes_out_of_a_log(cup, logs, tmp_path, store_path):
    (logs / "broken Zarathustra.igc").write_bytes(b"HFPLTPILOTINCHARGE:Zarathustra\r\n")
    zipped(tmp_path / "day.zip", day_of_flights())
    said = [
        read(cup, logs, "--save", "--map", tmp_path / "a.svg"),
        read(cup, logs, "--save", "--json"),
        read(cup, tmp_path / "day.zip", "--save", "--yes"),
        read(cup, *sorted(logs.iterdir())),
        cup("flight", "places", logs, "--set", "region"),
        cup("flight", "places", logs, "--set", "region", "--json"),
        cup("check", "run", "region", "--flights", logs),
        cup("task", "flown", "A1"),
        cup("task", "show", "A1"),
        cup("log"),
        cup("store", "dump", tmp_path / "a.dump"),
        cup("task", "flown", "--to-file", tmp_path / "flown.csv"),
    ]  # fmt: skip
    texts = [text for one in said for text in (one.stdout, one.stderr)]
    texts += [path.read_text(encoding="utf-8") for path in tmp_path.glob("*.[sdc][vus][gmv]*")]
    texts += [path.read_bytes().decode("latin-1") for path in store_path.parent.glob("store.sqlite*")]
    assert len(texts) > 25
    for secret in SECRETS:
        for text in texts:
            assert secret.lower() not in text.lower(), secret


def test_gliders_that_stood_at_an_aerodrome_confirm_it_and_a_field_without_a_name_is_a_candidate(cup, logs):
    result = cup("flight", "places", logs, "--set", "region", "--json").result()
    assert result["logs"] == 4
    (home,) = [one for one in result["marked"] if one["waypoints"][0]["code"] == "001"]
    assert (home["take_offs"], home["landings"], home["days"]) == (4, 3, ["2027-06-14"])
    assert [(one["take_offs"], one["landings"]) for one in result["candidates"]] == [(0, 1)]
    shown = cup("flight", "places", logs, "--set", "region").stdout
    assert "candidates to add" in shown and "look before you add or mend" in shown


def test_an_aerodrome_away_from_where_gliders_took_off_is_a_finding_with_its_slip(cup, tmp_path):
    # 001 stands at 48°52.320': typed as 48°25.320' it is 50 km off.
    cup("waypoint", "edit", "region:001", "--at", "48 25.320N,011 48.630E", "--yes")
    days = {f"{n}.igc": flight(date=f"{14 + n}0627", legs=1) for n in range(2)}
    logs = written(tmp_path / "days", days)
    found = [
        f for f in cup("check", "run", "region", "--flights", logs, "--json").result()["findings"]
        if f["rule"] == "away-from-flights"
    ]  # fmt: skip
    assert [f["codes"] for f in found] == [["001"]]
    mended = found[0]["suggestion"]
    assert (mended["latitude_deg"], mended["longitude_deg"]) == pytest.approx((48.872, 11.8105), abs=1e-4)
    assert found[0]["evidence"]["days"] == 2 and found[0]["severity"] == "warning"
    said = cup("check", "run", "region", "--flights", logs).stdout
    assert f"--flights {logs}" in said, "the line that mends finds the same things"
    assert "Flights: 2 logs, gliders stood at 2 places" in said
    fixed = cup("check", "fix", "region", found[0]["id"], "--flights", logs, "--json").result()
    assert cup("waypoint", "show", "region:001", "--json").result()["latitude_deg"] == pytest.approx(48.872), fixed
    cup("undo")
    one_day = written(tmp_path / "one", {"0.igc": days["0.igc"]})
    quiet = cup("check", "run", "region", "--flights", one_day, "--json").result()["findings"]
    assert not [f for f in quiet if f["rule"] == "away-from-flights"], "one day is not several"
    without = cup("check", "run", "region", "--json").result()["findings"]
    assert not [f for f in without if f["rule"] == "away-from-flights"]
    told = cup("flight", "places", logs, "--set", "region", "--json").result()
    assert [one["code"] for one in told["misplaced"]] == ["001"] and told["misplaced"][0]["slip"]
    assert [one["perhaps"] for one in told["candidates"]] == [[], ["001"]], "of equal ones the southern first"


def test_json_is_one_document(cup, logs):
    assert json.loads(read(cup, logs, "--json").stdout)["schema"] == "taskdb.flight-read/1"


def test_the_sheet_of_a_task_that_was_flown_says_how_it_went(cup, logs, tmp_path):
    read(cup, logs, "--save")
    cup("sheet", "A1", "--to", tmp_path / "a1.html")
    cup("sheet", "A2", "--to", tmp_path / "a2.html")
    assert "once, on 2027-06-14, 3 of 4 finished" in (tmp_path / "a1.html").read_text(encoding="utf-8")
    assert "Flown before" not in (tmp_path / "a2.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["LOGS"], ExitCode.USAGE),
        (["LOGS", "--set", "nowhere"], ExitCode.NOT_FOUND),
        (["nowhere", "--set", "region"], ExitCode.NOT_FOUND),
        (["EMPTY", "--set", "region"], ExitCode.INPUT_UNUSABLE),
    ],
)
def test_places_that_cannot_be_read_are_refused_with_their_exit_code(cup, logs, tmp_path, words, expected):
    paths = {"LOGS": logs, "EMPTY": written(tmp_path / "empty", {})}
    done = cup("flight", "places", *(paths.get(word, word) for word in words), "--json")
    assert done.exit_code is expected and done.error()["hint"]


def test_the_contest_of_the_environment_is_taken_and_said(taskdb, cup, logs):
    done = taskdb("flight", "read", logs, env={"TASKDB_CONTEST": "Cup"})
    assert done.exit_code is ExitCode.DONE and "Cup" in done.stderr
    assert "3 of 4 finished" in done.stdout


def test_speeds_and_distances_are_shown_in_the_person_s_units(cup, logs):
    shown = read(cup, logs, "--units", "nmi").stdout
    assert " kt" in shown and " nmi" in shown and "km/h" not in shown


def test_a_speed_over_the_minimum_time_is_told_as_such(cup, logs):
    assert "minimum time" not in read(cup, logs).stdout
    cup("task", "new", "F", "001", "004", "area 10km", "003", "area 10km", "001", "--set", "region", "--time", "5:00")
    said = cup("flight", "read", logs, "--task", "F").stdout
    assert "F: who took less than the minimum time of 5:00 is told the speed over that." in said


def test_zips_within_a_folder_are_read_as_they_are_by_themselves_and_what_is_none_is_told(cup, tmp_path):
    folder = tmp_path / "days"
    folder.mkdir()
    alone = read(cup, zipped(folder / "day1.zip", day_of_flights()), "--json").result()
    (folder / "day2.zip").write_bytes(b"PK: none")
    done = read(cup, folder, "--json")
    assert done.exit_code is ExitCode.DONE
    assert done.result()["days"] == alone["days"]
    assert "day2.zip" in done.stdout and "It cannot be opened as a zip." in done.stdout
