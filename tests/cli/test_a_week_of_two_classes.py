"""A contest's week with two classes, as its director works: a decision each morning, and what pilots then hold.

From a decision to the papers it is three commands at the most; the change note is read back, and the sheets, files and
manifest are those of the day and of nothing else.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from taskdb.errors import ExitCode

pytestmark = [pytest.mark.slow, pytest.mark.both_engines]

DEMO = Path(__file__).parents[2] / "demo"
SET_UP = """
set import {demo}/region.csv --into region
set import {demo}/mends.csv --into region
contest new Cup --set region --site 001 --timezone Europe/Berlin --from 2027-05-14 --to 2027-05-22
contest zones Cup --start "line 5km" --turn "cylinder 1km" --finish "cylinder 3km"
contest classes Cup --class Club=70km/h..110km/h --class Open=90km/h..140km/h
contest zones Cup --class Club --turn "cylinder 2km"
contest procedure Cup --start-height "1500m MSL" --frequency start=122.480
contest briefing Cup --briefing-at 10:00 --outlanding-phone "0555 123"
"""
MOST_COMMANDS = 3


class Morning:
    """The director's desk: commands are counted from a decision to the papers."""

    def __init__(self, taskdb, folder: Path) -> None:
        self.taskdb, self.folder, self.commands = taskdb, folder, 0

    def does(self, *words: str) -> str:
        self.commands += 1
        done = self.taskdb(*words)
        assert done.exit_code == ExitCode.DONE, (words, done.stdout, done.stderr)
        return done.stdout

    def hands_out(self, day: int, *more: str) -> str:
        """Hand the day out; return the change note, line ends as everywhere."""
        self.does("handout", "--contest", "Cup", "--day", str(day), "--to", str(self.folder), *more)
        assert self.commands <= MOST_COMMANDS, f"{self.commands} commands from the decision to the papers"
        self.commands = 0
        assert self.taskdb("export", "verify", self.folder).exit_code == ExitCode.DONE
        return (self.folder / "CHANGES.txt").read_bytes().decode().replace("\r\n", "\n")

    @property
    def sheet(self) -> str:
        return (self.folder / "task-sheet.html").read_text(encoding="utf-8")

    def tasks(self) -> set[str]:
        """The tasks that the folder's files are of, by its manifest."""
        entries = json.loads((self.folder / "MANIFEST.json").read_text(encoding="utf-8"))["files"]
        return {entry["task"] for entry in entries if entry["format"] == "gpx" and "task" in entry}


@pytest.fixture
def morning(taskdb, tmp_path: Path) -> Iterator[Morning]:
    import shlex

    for line in SET_UP.format(demo=DEMO).strip().splitlines():
        done = taskdb(*shlex.split(line))
        assert done.exit_code == ExitCode.DONE, (line, done.stderr)
    for day in (1, 2, 3, 4, 5):
        taskdb("contest", "day", "Cup", str(day), "--date", f"2027-05-{13 + day}", "--start-opens", "13:20")
        for name, class_name, points in (
            (f"{day}C", "Club", ("001", "232", "004", "001")),
            (f"{day}C short", "Club", ("001", "004", "001")),
            (f"{day}O", "Open", ("001", "045", "area 10km", "232", "area 20km", "004", "area 15km", "001")),
        ):
            given = ("--contest", "Cup", "--day", str(day), "--class", class_name)
            made = taskdb("task", "new", name, *points, *given, "--time", "2:30")
            assert made.exit_code == ExitCode.DONE, made.stderr
    yield Morning(taskdb, tmp_path / "papers")


def test_a_week_of_two_classes(morning: Morning) -> None:
    # Monday: the club's task is chosen; the open class has one only.
    morning.does("task", "choose", "1C", "--contest", "Cup")
    note = morning.hands_out(1)
    assert "First hand-out" in note and morning.tasks() == {"1C@2", "1O@1"}
    assert "0555 123" in morning.sheet and "10:00" in morning.sheet

    # The start is put off, for the open class by more: one launches after the other.
    morning.does("contest", "day", "Cup", "1", "--start-opens", "13:40")
    morning.does("contest", "day", "Cup", "1", "--class", "Open", "--start-opens", "14:05")
    note = morning.hands_out(1)
    club, _, opened = note.partition("1O@1: CHANGED")
    assert "13:20" in club and "13:40" in club and "14:05" not in club
    assert "13:20" in opened and "14:05" in opened and "13:40" not in opened
    assert morning.sheet.count('<b class="mark">Changed</b>') == 2

    # Tuesday, into the same folder: nothing of Monday is left. A radius is changed by hand.
    morning.does("task", "choose", "2C", "--contest", "Cup")
    morning.hands_out(2)
    assert morning.tasks() == {"2C@2", "2O@1"} and not list(morning.folder.glob("Cup 1*"))
    morning.does("task", "edit", "2O", "--contest", "Cup", "--zone", "2=area 5km..25km 200..340", "--time", "3:00")
    note = morning.hands_out(2)
    assert "point 2 232, zone: area, radius 20 km → area, 5 km to 25 km, from 200° clockwise to 340°" in note
    assert "minimum time: 2:30 → 3:00" in note and "2C@2: unchanged" in note

    # Wednesday: the cumulus come late, the club flies the short one.
    morning.does("task", "choose", "3C", "--contest", "Cup")
    morning.hands_out(3)
    morning.does("task", "choose", "3C short", "--contest", "Cup")
    note = morning.hands_out(3)
    assert "3C: NO LONGER VALID: replaced; 3C short is flown instead." in note
    assert morning.tasks() == {"3C short@2", "3O@1"} and "No longer valid" in morning.sheet

    # Thursday: the zone defaults of the club and the highest start are changed after the papers went out.
    morning.does("task", "choose", "4C", "--contest", "Cup")
    morning.hands_out(4)
    morning.does("contest", "zones", "Cup", "--class", "Club", "--day", "4", "--turn", "cylinder 500m")
    morning.does("task", "refresh", "4C", "--contest", "Cup")
    note = morning.hands_out(4)
    assert "point 1 232, zone: cylinder, radius 2 km → cylinder, radius 500 m" in note and "4O@1: unchanged" in note
    morning.does("contest", "procedure", "Cup", "--class", "Open", "--start-height", "1200m MSL")
    note = morning.hands_out(4)
    assert "1500m MSL" in note.partition("4O@1: CHANGED")[2] and "1200m MSL" in note.partition("4O@1: CHANGED")[2]

    # Friday: a mended coordinate in the morning, and at noon the open class is called off.
    morning.does("task", "choose", "5C", "--contest", "Cup")
    morning.hands_out(5)
    morning.does("waypoint", "edit", "004", "--set", "region", "--at", "48.6330 12.3270", "--note", "measured")
    morning.does("task", "update", "--contest", "Cup", "--day", "5", "--yes")
    note = morning.hands_out(5)
    assert "004, position:" in note and "m towards" in note
    assert "5C@3: CHANGED" in note and "5O@2: CHANGED" in note
    morning.does("task", "cancel", "5O", "--contest", "Cup")
    note = morning.hands_out(5)
    assert "5O: NO LONGER VALID: cancelled." in note and morning.tasks() == {"5C@3"}
    # Who has the first sheet of the day is told all that changed since.
    assert "was revision 2" in note


def test_what_nobody_chose_stays_at_home(morning: Morning) -> None:
    refused = morning.taskdb("handout", "--contest", "Cup", "--day", "1", "--to", morning.folder)
    assert refused.exit_code == ExitCode.REFUSED and "day 1 of class Club: 1C, 1C short" in refused.stderr
    assert not morning.folder.exists()
    morning.hands_out(1, "--proposed")
    assert morning.tasks() == {"1C@1", "1C short@1", "1O@1"}
    assert all("(proposed, not issued)" in path.name for path in morning.folder.glob("Cup *"))
    assert morning.sheet.count("<h1>Variants") == 1
