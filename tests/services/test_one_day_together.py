"""Tasks of one day against each other: which are held against which, what is accepted, what pilots read on sheets."""

from __future__ import annotations

from pathlib import Path

import pytest

from taskdb.core.contests.days import DayChange
from taskdb.core.contests.settings import read_values
from taskdb.core.model import ContestClass, Severity
from taskdb.core.quantities import Wind
from taskdb.errors import NotFoundError, UsageError
from taskdb.services.contests.contest import NewContest, new_contest
from taskdb.services.contests.day import set_day
from taskdb.services.contests.settings import set_classes, set_settings
from taskdb.services.handing_out.exporting import TaskChoice
from taskdb.services.handing_out.handout import HandoutRequest, hand_out
from taskdb.services.handing_out.plain import handout_plain
from taskdb.services.handing_out.sheets import SheetRequest, write_sheet
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks.carrying import CarryRequest, carry_tasks
from taskdb.services.tasks.flown import cancel_task, choose_task
from taskdb.services.tasks.task import (
    NewTask,
    PointRequest,
    TaskEdit,
    compare_tasks,
    edit_task,
    new_task,
    retire_task,
    review_tasks,
    show_task,
)
from taskdb.store import findings as finding_rows, sets as set_rows
from tests.building import writing_rows
from tests.services.conftest import REGION

MEETINGS = {"opposing-legs", "turn-from-both-sides", "ends-meet", "classes-meet"}
THERE, BACK = ("001", "003", "004", "001"), ("001", "004", "003", "001")


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    new_contest(desk, NewContest("Cup", "region", site="001", timezone="Europe/Berlin"), write())
    classes = (ContestClass("Club", 60, 110), ContestClass("Open", 80, 160))
    set_classes(desk, "Cup", classes, (), write())
    set_day(desk, "Cup", 1, DayChange(date="2027-05-14", start_opens="13:00", wind=Wind(240, 20)), write())


@pytest.fixture
def cup(built, write, csv_file):
    return built(filled, write, csv_file)


def make(desk, write, name, codes, class_name, **given):
    points = tuple(PointRequest(code) for code in codes)
    request = {"contest": "Cup", "day": 1, "speed_kmh": 90.0, **given}
    return new_task(desk, NewTask(name, points, class_name=class_name, **request), write())


def both(cup, write):
    make(cup, write, "A", THERE, "Club")
    make(cup, write, "B", BACK, "Open")


def meetings_of(shown, rule=None):
    return [f for f in shown.review.open if f.rule in ({rule} if rule else MEETINGS)]


def ids(desk, name):
    return {finding.id for finding in meetings_of(show_task(desk, name))}


def test_two_classes_find_the_same_meetings_from_both_sides(cup, write):
    both(cup, write)
    first, second = (meetings_of(show_task(cup, name)) for name in "AB")
    assert [f.id for f in first] == [f.id for f in second]
    assert [f.message for f in first] == [f.message for f in second]
    opposed = [f for f in first if f.rule == "opposing-legs"]
    assert {f.severity for f in opposed} == {Severity.WARNING}
    assert [f.evidence["legs"] for f in opposed] == [[0, 2], [1, 1], [2, 0]]
    assert all(f.evidence["tasks"] == ["A", "B"] and f.evidence["classes"] == ["Club", "Open"] for f in opposed)
    # By hand, on a plane: 54 km at 110 km/h and 46 km at 97 km/h over the ground, then 48 km between them at 75 and
    # 102 km/h: 13:29:30 and 13:28:30 at the turns, and 16 minutes more until they meet.
    assert {f.evidence["planned"]["at"] for f in opposed if f.evidence["legs"] == [1, 1]} == {"13:45"}
    reviewed = review_tasks(cup, (), "Cup", day=1)
    assert [[f.id for f in meetings_of(one)] for one in reviewed] == [[f.id for f in first]] * 2


def test_tasks_of_one_class_of_other_days_or_called_off_meet_nobody(cup, write):
    make(cup, write, "A", THERE, "Club")
    make(cup, write, "A2", BACK, "Club", variant="B")
    make(cup, write, "Tomorrow", BACK, "Open", day=2)
    make(cup, write, "Some day", BACK, "Open", day=None)
    assert ids(cup, "A") == set()
    make(cup, write, "B", BACK, "Open")
    assert ids(cup, "A") and ids(cup, "A2")
    cancel_task(cup, "B", write())
    assert ids(cup, "A") == set() == ids(cup, "B")
    make(cup, write, "C", BACK, "Open")
    retire_task(cup, "C", write())
    assert ids(cup, "A") == set()


def test_of_a_class_of_which_one_is_issued_only_that_one_is_met(cup, write):
    make(cup, write, "A", THERE, "Club")
    make(cup, write, "B", BACK, "Open", variant="A")
    make(cup, write, "C", BACK, "Open", variant="B")
    told = {tuple(f.evidence["tasks"]) for f in meetings_of(show_task(cup, "A"))}
    assert told == {("A", "B"), ("A", "C")}
    choose_task(cup, "C", None, write())
    assert {tuple(f.evidence["tasks"]) for f in meetings_of(show_task(cup, "A"))} == {("A", "C")}


def test_a_finding_that_is_accepted_is_accepted_for_both(cup, write):
    both(cup, write)
    finding = meetings_of(show_task(cup, "A"), "opposing-legs")[0]
    with writing_rows(cup, write()) as writing:
        set_id = set_rows.find_set(writing.connection, "region").id
        finding_rows.write_acceptances(writing, set_id, {finding.id: finding.rule}, "told at the briefing")
    assert finding.id not in ids(cup, "A") | ids(cup, "B")
    # It is another finding as soon as the start opens at another time, or the task is another.
    set_day(cup, "Cup", 1, DayChange(start_opens="13:30"), write())
    again = [f for f in meetings_of(show_task(cup, "A"), "opposing-legs") if f.evidence["legs"] == [0, 2]]
    assert len(again) == 1 and again[0].id != finding.id


def test_the_contest_says_how_near_and_when_is_a_meeting(cup, write):
    both(cup, write)
    set_day(cup, "Cup", 1, DayChange(values=read_values({"start_opens": "18:00"})), write(), "Open")
    assert ids(cup, "A") == set()
    set_settings(cup, "Cup", read_values({"separation_s": "3:00"}), {}, write())
    late = meetings_of(show_task(cup, "A"), "opposing-legs")
    assert late and all("the last of one are gone at" in f.message for f in late)
    # Beside each other for five times the separation: no leg is 300 km long.
    set_settings(cup, "Cup", read_values({"separation_m": "60km"}), {}, write())
    assert meetings_of(show_task(cup, "A"), "opposing-legs") == []


def test_without_an_opening_of_the_start_legs_are_told_all_the_same(cup, write):
    set_day(cup, "Cup", 1, DayChange(cleared=("start-opens",)), write())
    both(cup, write)
    opposed = meetings_of(show_task(cup, "A"), "opposing-legs")
    assert len(opposed) == 3 and all("when is not known" in f.message and f.evidence["from"] is None for f in opposed)
    assert meetings_of(show_task(cup, "A"), "classes-meet") == []


def test_a_comparison_has_them_and_carrying_does_not(cup, write):
    both(cup, write)
    compared = compare_tasks(cup, ["A", "B"])
    assert all(meetings_of(one) for one in compared.tasks)
    request = CarryRequest(references=("A", "B"), to="region", contest="Cup", name_pattern="{name} again")
    for outcome in carry_tasks(cup, request, write()):
        assert not {f.rule for f in (*outcome.findings_before, *outcome.findings_after)} & MEETINGS


def test_a_day_is_reviewed_whole_and_only_it(cup, write):
    both(cup, write)
    make(cup, write, "Tomorrow", BACK, "Open", day=2)
    assert [one.task.name for one in review_tasks(cup, (), "Cup", day=1)] == ["A", "B"]
    with pytest.raises(NotFoundError):
        review_tasks(cup, (), "Cup", day=3)
    with pytest.raises(UsageError):
        review_tasks(cup, ("A",), "Cup", day=1)
    with pytest.raises(UsageError):
        review_tasks(cup, (), None, day=1)


# -- what pilots read --------------------------------------------------------------------------------------------------


def handed_out(cup, write, target: Path) -> tuple[str, str]:
    hand_out(cup, HandoutRequest("Cup", 1, str(target)), write("handout", confirmed=True))
    read = ((target / name).read_bytes().decode() for name in ("task-sheet.html", "CHANGES.txt"))
    sheet, note = read
    return sheet, note


def test_each_classs_page_says_who_comes_against_it(cup, write, tmp_path):
    both(cup, write)
    sheet, _ = handed_out(cup, write, tmp_path / "day")
    club, _, open_ = sheet.partition("revision 1 · fingerprint")
    assert "Class Open (B) comes against you on your leg from 003 to 004" in club
    assert "Class Club (A) comes against you on your leg from 004 to 003" in open_
    assert "fly against each other" not in sheet


def test_the_page_of_one_class_alone_says_it_too(cup, write, tmp_path):
    both(cup, write)
    path = tmp_path / "club.html"
    write_sheet(cup, SheetRequest(TaskChoice(references=("A",)), str(path)))
    assert "Class Open (B) comes against you on your leg from 003 to 004" in path.read_text(encoding="utf-8")


def test_what_is_accepted_still_stands_on_the_page(cup, write, tmp_path):
    both(cup, write)
    accepted = {f.id: f.rule for f in meetings_of(show_task(cup, "A"))}
    with writing_rows(cup, write()) as writing:
        set_id = set_rows.find_set(writing.connection, "region").id
        finding_rows.write_acceptances(writing, set_id, accepted, "told at the briefing")
    sheet, _ = handed_out(cup, write, tmp_path / "day")
    assert "Class Open (B) comes against you on your leg from 003 to 004" in sheet


def test_the_change_note_tells_that_another_class_now_comes_otherwise(cup, write, tmp_path):
    both(cup, write)
    handed_out(cup, write, tmp_path / "day")
    set_day(cup, "Cup", 1, DayChange(values=read_values({"start_opens": "13:20"})), write(), "Open")
    sheet, note = handed_out(cup, write, tmp_path / "day")
    club = note.partition("B@1")[0]
    assert "A@1: CHANGED" in club and "other classes" in club and "comes against you" in club
    assert '<b class="mark">Changed</b>' in sheet
    edit_task(cup, "B", TaskEdit(reverse=True), write())
    _, note = handed_out(cup, write, tmp_path / "day")
    club = note.partition("B@2")[0]
    assert "comes against you on your leg from 003 to 004" in club and "no longer" in club.lower()
    _, note = handed_out(cup, write, tmp_path / "day")
    assert "A@1" in note


def test_a_hand_out_brings_them_as_findings_of_both(cup, write, tmp_path):
    both(cup, write)
    done = hand_out(cup, HandoutRequest("Cup", 1, str(tmp_path / "day")), write("handout", confirmed=True))
    first, second = (
        {one["id"] for one in entry["findings"] if one["rule"] == "opposing-legs"}
        for entry in handout_plain(done)["findings"]
    )
    assert first == second and len(first) == 3
