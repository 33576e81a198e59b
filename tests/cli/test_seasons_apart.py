"""Last season stays last season: the way out names the new contest, the site is carried, flown tasks are asked for."""

from __future__ import annotations

import shlex

import pytest

from taskdb.errors import ExitCode

OLD = """\
code,name,latitude_deg,longitude_deg,elevation_m
001,Ormsau,48.8720000,11.8105000,389
002,Kelmried,48.5610000,11.5220000,467
003,Tannwöhr,49.0510000,12.4730000,497
004,Greifenlohe,48.6310000,12.3260000,423
"""
# The next list: renumbered by an inserted row; Tannwöhr is gone.
NEW = """\
code,name,latitude_deg,longitude_deg,elevation_m
001,Neudorf,48.1000000,11.1000000,400
002,Ormsau,48.8720000,11.8105000,389
003,Kelmried,48.5610000,11.5220000,467
005,Greifenlohe,48.6310000,12.3260000,423
006,Tannhof,49.3000000,12.9000000,497
"""


@pytest.fixture
def season(taskdb, tmp_path):
    for name, text in (("old", OLD), ("new", NEW)):
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
        assert taskdb("set", "import", str(tmp_path / f"{name}.csv"), "--into", name).exit_code is ExitCode.DONE
    taskdb("contest", "new", "O'Cup", "--set", "old", "--site", "001")
    taskdb("task", "new", "A", "001", "003", "004", "001", "--contest", "O'Cup")
    taskdb("task", "new", "B", "001", "002", "004", "001", "--contest", "O'Cup")
    # That it was flown is its second revision.
    taskdb("task", "flown", "A", "--on", "2027-05-08", "--starters", "20")
    return taskdb


def test_the_way_out_of_a_copied_contest_leads_into_the_new_one(season):
    copied = season("contest", "copy", "O'Cup", "Next Cup", "--set", "new", "--tasks", "--name", "{name} again")
    assert copied.exit_code is ExitCode.ACT
    (line,) = [line for line in copied.stdout.splitlines() if line.startswith("Decided by: ")]
    words = shlex.split(line.removeprefix("Decided by: "))
    assert words[:3] == ["taskdb", "task", "carry"] and "003=NEW" in words
    # As printed, with the code that the person decides on.
    done = season(*[word.replace("=NEW", "=006") for word in words[1:]])
    assert done.exit_code is ExitCode.DONE
    assert season("task", "show", "O'Cup:A", "--json").result()["revision"] == 2
    assert [p["code"] for p in season("task", "show", "Next Cup:A again", "--json").result()["points"]][1] == "006"


def test_a_renumbered_site_is_carried_to_its_new_code(season):
    copied = season("contest", "copy", "O'Cup", "Next Cup", "--set", "new")
    assert "site" in copied.stdout and copied.stderr == ""
    assert season("contest", "show", "Next Cup", "--json").result()["site"] == "002"


def test_a_site_that_is_not_there_any_more_is_told_and_taken_out(season):
    season("contest", "edit", "O'Cup", "--site", "003")
    copied = season("contest", "copy", "O'Cup", "Next Cup", "--set", "new", "--json")
    assert copied.result()["site"] is None
    (warning,) = copied.json()["warnings"]
    assert "003 Tannwöhr is not surely in new@1" in warning and "--site CODE" in warning


def test_pinning_carries_the_site_by_identity_or_tells_its_loss(season, tmp_path):
    season("waypoint", "edit", "old:001", "--code", "777")
    assert season("contest", "pin", "O'Cup", "old", "--json").result()["site"] == "777"
    assert season("waypoint", "retire", "old:777", "--yes").exit_code is ExitCode.DONE
    pinned = season("contest", "pin", "O'Cup", "old", "--json")
    assert pinned.result()["site"] is None and "777 Ormsau" in pinned.json()["warnings"][0]


def test_a_task_that_was_flown_is_not_revised_without_a_yes(season):
    season("waypoint", "edit", "old:004", "--elevation", "424m")
    refused = season("task", "carry", "A", "B", "--to", "old")
    assert refused.exit_code is ExitCode.REFUSED
    assert "O'Cup:A: flown already" in refused.stderr and "--contest NEW" in refused.stderr
    assert season("task", "show", "B", "--json").result()["revision"] == 1
    assert season("task", "carry", "B", "--to", "old").exit_code is ExitCode.DONE
    assert season("task", "carry", "A", "--to", "old", "--yes").exit_code is ExitCode.DONE
    assert season("task", "show", "A", "--json").result()["revision"] == 3


def test_into_another_contest_a_flown_task_is_copied_without_a_question(season):
    season("contest", "new", "Next Cup", "--set", "old")
    assert season("task", "carry", "A", "--contest", "Next Cup").exit_code is ExitCode.DONE
