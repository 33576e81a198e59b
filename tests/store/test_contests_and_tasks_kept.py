"""Contests and tasks in the store: each revision comes back whole, alone, and as it was."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from sqlalchemy.exc import IntegrityError

from taskdb.core.course.axes import resolve_points
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import (
    Contest,
    ContestClass,
    ContestDay,
    Deduction,
    Earth,
    FreeChoice,
    Place,
    Position,
    Role,
    Rules,
    ShapeKind,
    Status,
    Task,
    TaskPoint,
    TaskType,
    TriangleRules,
    Waypoint,
    ZoneFrom,
)
from taskdb.errors import StoreBusyError, TaskdbError
from taskdb.store import contests, findings, flown, task_lines, tasks
from taskdb.store.engine import NewOperation, Store, Writing
from taskdb.store.flown import FlownRecord
from taskdb.store.tasks import TaskSummary

OPERATION = NewOperation("2027-05-14T08:30:00Z", "Ann", "test", note="why")
SUMMARY = TaskSummary("ABCD-EFGH", 312_345.678, 311_845.678, 250_000.0, None, ShapeKind.TRIANGLE, True, 359.9999)

Write = Callable[..., int]

CUP = Contest(
    name="Vale Cup",
    set_name="Wold",
    set_revision=1,
    site="001",
    from_date="2027-05-14",
    to_date="2027-05-21",
    timezone="Europe/Berlin",
    rules=Rules(
        earth=Earth.FAI_SPHERE,
        start_deduction=Deduction.TO_CENTRE,
        triangle=TriangleRules(large_from_m=500_000.0, start_on_side=False),
        closed_within_m=500.0,
    ),
    zones={Role.START: parse_zone("line 10km"), Role.AREA: parse_zone("area 5km..30km 040..110")},
    classes=(ContestClass("18 m", 90.0, 140.5), ContestClass("Club", None, None)),
    days=(ContestDay(1, "2027-05-14", "13:15", 240.0, 28.0, 110.0), ContestDay(2)),
    settings={"procedure": {"start": "line", "limits": [1, 2.5, None]}, "frequency": "123.505"},
)


def course(sample: tuple[Waypoint, ...]) -> Task:
    words = ("line 1km", "keyhole 500m 90deg 10km 235", "sector 90deg", "area 5km..30km 040..110", "line 1km 310")
    roles = (Role.START, Role.TURN, Role.TURN, Role.AREA, Role.FINISH)
    points = [
        TaskPoint(Place(w.code, w.name, w.position, w.elevation_m, w.identity), role, parse_zone(text), ZoneFrom.OWN)
        for w, role, text in zip(sample, roles, words, strict=True)
    ]
    points[1] = replace(points[1], place=Place("P1", "48.5, 11.5", Position.at(48.5, 11.5)))
    return Task(
        name="A 1",
        type=TaskType.MODIFIED,
        points=resolve_points(points),
        set_name="Wold",
        set_revision=1,
        rules=CUP.rules,
        contest="Vale Cup",
        contest_revision=1,
        day=2,
        class_name="18 m",
        variant="B",
        status=Status.ISSUED,
        time_s=10_800,
        speed_kmh=95.5,
        free=FreeChoice(5, "Wold", ("001", "A1"), True),
        take_off=Place("001", "Ormsau", sample[0].position, 389.0, "id-001"),
        landing=Place("F1", "Field", Position.at(48.9, 11.9)),
        tags=("long", "north"),
        issued_at="2027-05-14T07:00:00Z",
    )


@pytest.fixture
def cup(store: Store, write: Write, sample: tuple[Waypoint, ...]) -> Store:
    write("Wold", added=sample)
    with store.writing(OPERATION) as w:
        contests.write_contest(w, None, CUP)
    return store


def test_a_contest_comes_back_whole_at_each_revision(cup: Store) -> None:
    second = replace(CUP, zones={}, classes=(), days=(ContestDay(3),), settings={}, rules=Rules(), site=None)
    with cup.writing(OPERATION) as w:
        head = contests.find_contest(w.connection, "Vale Cup")
        assert head is not None
        head = contests.write_contest(w, contests.contest_head(w.connection, head.id), second)
        assert (head.newest, head.retired) == (2, False)
    with cup.reading() as c:
        assert contests.contest_at(c, head.id, 1) == CUP
        assert contests.contest_at(c, head.id, 2) == second
        assert [(i.number, i.author, i.note) for i in contests.contest_log(c, head.id)] == [
            (2, "Ann", "why"),
            (1, "Ann", "why"),
        ]
        assert contests.contest_info(c, head.id, 1).at == OPERATION.at
        assert [(s.name, s.revision, s.set_name) for s in contests.list_contests(c)] == [("Vale Cup", 2, "Wold")]


def test_a_retired_contest_leaves_the_list_and_is_found(cup: Store) -> None:
    with cup.writing(OPERATION) as w:
        head = contests.find_contest(w.connection, "Vale Cup")
        contests.write_contest(w, head, CUP, retired=True)
    with cup.reading() as c:
        assert contests.list_contests(c) == ()
        assert len(contests.list_contests(c, with_retired=True)) == 1
        found = contests.find_contest(c, "Vale Cup")
        assert found is not None
        assert found.retired


def save(w: Writing, task: Task, head: tasks.TaskHead | None = None, **values: bool) -> tasks.TaskHead:
    contest = contests.find_contest(w.connection, task.contest) if task.contest is not None else None
    return tasks.write_task(w, head, contest.id if contest else None, task, SUMMARY, **values)


def test_a_task_comes_back_whole_at_each_revision(cup: Store, sample: tuple[Waypoint, ...]) -> None:
    first = course(sample)
    plain = Task("A one", TaskType.RACING, first.points[:2], "Wold", 1, contest="Vale Cup")
    with cup.writing(OPERATION) as w:
        head = save(w, first)
        assert (head.name, head.contest_name, head.newest, head.retired) == ("A 1", "Vale Cup", 1, False)
        head = save(w, plain, tasks.task_head(w.connection, head.id))
    with cup.reading() as c:
        assert tasks.task_at(c, head.id, 1) == first
        assert tasks.task_at(c, head.id, 2) == plain
        assert [(i.name, i.number) for i in tasks.task_log(c, head.id)] == [("A one", 2), ("A 1", 1)]
        assert tasks.find_task(c, "A 1", head.contest_id) is None
        assert tasks.find_task(c, "A one", head.contest_id) == head
        assert tasks.find_task(c, "A one", None) is None


def test_a_task_keeps_its_points_when_the_set_moves_on(cup: Store, write: Write, sample: tuple[Waypoint, ...]) -> None:
    with cup.writing(OPERATION) as w:
        head = save(w, course(sample))
    write("Wold", retired=sample[2:], changed=[(sample[0], replace(sample[0], position=Position.at(10, 10)))])
    with cup.reading() as c:
        assert tasks.task_at(c, head.id, 1) == course(sample)


def test_a_name_stands_once_in_its_contest_and_once_among_tasks_without_one(
    cup: Store, sample: tuple[Waypoint, ...]
) -> None:
    inside = course(sample)
    outside = replace(inside, contest=None, contest_revision=None)
    with cup.writing(OPERATION) as w:
        save(w, inside)
        save(w, outside)
    for again in (inside, outside):
        with pytest.raises((IntegrityError, StoreBusyError)), cup.writing(OPERATION) as w:
            save(w, again)
    with cup.reading() as c:
        assert [h.contest_name for h in tasks.tasks_named(c, "A 1")] == [None, "Vale Cup"]


def test_lists_show_the_tasks_that_stand_by_contest_and_name(cup: Store, sample: tuple[Waypoint, ...]) -> None:
    task = course(sample)
    with cup.writing(OPERATION) as w:
        for name in ("b", "Z", "ä", "a"):
            head = save(w, replace(task, name=name))
        save(w, replace(task, contest=None, contest_revision=None, name="x"))
        save(w, replace(task, name="a", points=task.points[:2], free=None), head)
        retired = save(w, replace(task, name="gone"))
        save(w, replace(task, name="gone"), retired, retired=True)
    with cup.reading() as c:
        rows = task_lines.list_tasks(c)
        assert [(r.contest, r.task, r.revision) for r in rows] == [
            (None, "x", 1), ("Vale Cup", "Z", 1), ("Vale Cup", "a", 2), ("Vale Cup", "b", 1), ("Vale Cup", "ä", 1)
        ]  # fmt: skip
        assert rows[2].codes == ("001", "P1")
        assert rows[0].codes == ("001", "P1", "003", "004", "A1")
        assert (rows[0].task_m, rows[0].maximum_m, rows[0].shape) == (311_845.678, None, ShapeKind.TRIANGLE)
        assert [r.task for r in task_lines.list_tasks(c, head.contest_id)] == ["Z", "a", "b", "ä"]
        assert "gone" in [r.task for r in task_lines.list_tasks(c, with_retired=True)]


def test_the_tasks_that_use_a_waypoint_are_found_by_identity(cup: Store, sample: tuple[Waypoint, ...]) -> None:
    task = course(sample)
    with cup.writing(OPERATION) as w:
        head = save(w, task)
        only_now = save(w, replace(task, name="short", take_off=None))
        save(w, replace(task, name="short", points=task.points[:2], take_off=None), only_now)
        gone = save(w, replace(task, name="gone"))
        save(w, replace(task, name="gone"), gone, retired=True)
    with cup.reading() as c:
        used = tasks.tasks_using(c, [*(f"none{i}" for i in range(1_000)), "id-003", "id-001"])
        assert [(use.head.name, use.codes) for use in used] == [("A 1", ("001", "003")), ("short", ("001",))]
        assert [use.head.id for use in tasks.tasks_using(c, ["id-A1"])] == [head.id]
        assert tasks.tasks_using(c, []) == ()


def test_a_flown_day_counts_once_and_can_be_withdrawn(cup: Store, sample: tuple[Waypoint, ...]) -> None:
    day = FlownRecord("2027-05-20", 240.0, 28.0, 1_800.0, 30, 21, 112.5, 98.25, "blue")
    with cup.writing(OPERATION) as w:
        head = save(w, course(sample))
        flown.write_flown(w, head.id, FlownRecord("2027-06-01"))
        flown.write_flown(w, head.id, replace(day, starters=3))
        flown.write_flown(w, head.id, day)
    with cup.reading() as c:
        assert flown.flown_records(c, head.id) == (day, FlownRecord("2027-06-01"))
        assert task_lines.list_tasks(c)[0].flown == 2
    with cup.writing(OPERATION) as w:
        flown.write_flown(w, head.id, day, withdrawn=True)
    with cup.reading() as c:
        assert flown.flown_records(c, head.id) == (FlownRecord("2027-06-01"),)
        assert task_lines.list_tasks(c)[0].flown == 1


def test_an_accepted_finding_stands_until_it_is_taken_back(cup: Store) -> None:
    def accepted() -> dict[str, tuple[str, str]]:
        with cup.reading() as c:
            return {key: (a.by, a.why) for key, a in findings.accepted_findings(c, 1).items()}

    with cup.writing(OPERATION) as w:
        findings.write_acceptances(w, 1, {"f1": "same-place"}, "two fields")
        findings.write_acceptances(w, 1, {"f2": "same-place"}, "also")
    assert accepted() == {"f1": ("Ann", "two fields"), "f2": ("Ann", "also")}
    with cup.writing(OPERATION) as w:
        findings.write_acceptances(w, 1, {"f1": "same-place"}, "moved", accepted=False)
    assert accepted() == {"f2": ("Ann", "also")}
    with cup.writing(OPERATION) as w:
        findings.write_acceptances(w, 1, {"f1": "same-place"}, "again")
    assert accepted()["f1"] == ("Ann", "again")


def test_two_writers_that_make_the_same_new_thing_do_not_both(store_url: str, cup: Store) -> None:
    if cup.is_sqlite:
        pytest.skip("on SQLite one writer waits for the other before it looks")
    with cup.writing(OPERATION) as first:
        contests.write_contest(first, None, replace(CUP, name="New Cup"))
        first.connection.commit()
        with pytest.raises(TaskdbError) as caught, cup.writing(OPERATION) as second:
            contests.write_contest(second, None, replace(CUP, name="New Cup"))
        assert caught.value.code == "store-busy"
