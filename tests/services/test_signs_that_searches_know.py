"""Texts with signs that SQL, LIKE, globs and JSON give a meaning to are searched for as they stand, on each engine."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from taskdb.core.filters.tasks import TaskFilter
from taskdb.errors import NotFoundError, TaskdbError
from taskdb.services.contests.contest import NewContest, new_contest
from taskdb.services.desk import Desk, Write
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks.finding import TaskFindRequest, find_tasks
from taskdb.services.tasks.task import NewTask, PointRequest, list_tasks, new_task, show_task
from taskdb.services.waypoints.waypoint import FindRequest, find_waypoints, show_waypoint

CODES = ("500", "50%", "5_0", "5\\0", "5'0", '5"0', "5*0", "5?0", "5;0", "x');DROP", "[5]0", "%", "_", "%%", "a%s")
INJECTIONS = ("x'); DROP TABLE task;--", "' OR '1'='1", '" OR ""="', "1; DELETE FROM waypoint_state", "\\' OR 1=1 --")
TAGS = {
    "plain": ("wave", "late"),
    "capital": ("Wave",),
    "comma": (",", "x"),
    "quoted": ('"', 'a"b'),
    "percent": ("50%", "a_b"),
    "like": ("500", "axb"),
    "slash": ("\\", "a\\b"),
    "letters": ("Föhn", "雷"),
    "broken": ("],[", "null"),
}


@pytest.fixture
def signs(desk: Desk, write: Callable[..., Write], csv_file: Callable[..., str]) -> Desk:
    rows = "".join(
        f'"{code.replace(chr(34), chr(34) * 2)}",Place {n},48.{n:02d},11.5,\n' for n, code in enumerate(CODES)
    )
    import_set(desk, ImportRequest(csv_file(rows), "region"), write())
    new_contest(desk, NewContest("Cup", "region"), write())
    for name, tags in TAGS.items():
        new_task(desk, NewTask(name, (PointRequest("500"), PointRequest("5_0")), contest="Cup", tags=tags), write())
    for name in INJECTIONS:
        new_task(desk, NewTask(name, (PointRequest("500"), PointRequest("%")), contest="Cup"), write())
    return desk


def found(desk: Desk, wanted: TaskFilter, **given: object) -> set[str]:
    return {hit.row.task for hit in find_tasks(desk, TaskFindRequest(wanted, **given)).tasks}  # type: ignore[arg-type]


def test_a_code_is_found_by_itself_and_by_nothing_that_looks_like_it(signs: Desk) -> None:
    for code in CODES:
        assert show_waypoint(signs, f"region:{code}").waypoint.code == code
    for pattern in ("Pl%e 1", "Pl__e 1", "P%1", "Pl*1", "Pl?ce 1", "[P]lace 1", "' OR '1'='1"):
        with pytest.raises(TaskdbError):
            show_waypoint(signs, f"region:{pattern}")


def test_signs_in_a_search_for_waypoints_stand_for_nothing(signs: Desk) -> None:
    for text in ("%", "_", "\\", "%%", "'", '"', "*", "?"):
        hits = {hit.waypoint.code for hit in find_waypoints(signs, FindRequest(text)).waypoints}
        assert hits == {code for code in CODES if text in code}
    for text in (*INJECTIONS, "Pl%e", "P__ce", "a\x00b"):
        assert find_waypoints(signs, FindRequest(text)).total == 0


def test_a_tag_is_found_as_it_was_given_and_nothing_else_is(signs: Desk) -> None:
    sought = {tag for tags in TAGS.values() for tag in tags} | {"%", "_", "WAVE", "a", "[", ""}
    for tag in sought:
        assert found(signs, TaskFilter(tags=(tag,))) == {name for name, tags in TAGS.items() if tag in tags}, tag


def test_signs_in_a_search_for_tasks_stand_for_nothing(signs: Desk) -> None:
    for text in ("%", "_", "\\", "'", ";--", '"'):
        assert found(signs, TaskFilter(text=text)) == {n for n in (*TAGS, *INJECTIONS) if text in n}
    assert found(signs, TaskFilter(text="50%")) == {*TAGS, *INJECTIONS}, "a word of a code that all of them go through"
    assert found(signs, TaskFilter(text="a_b")) == {"percent", "slash", "quoted"}, "words, in whatever order"
    assert found(signs, TaskFilter(text="dr%p t_ble")) == set()
    assert found(signs, TaskFilter(text="drop TABLE")) == {INJECTIONS[0]}


def test_a_contest_class_and_code_are_compared_and_never_matched(signs: Desk) -> None:
    for sign in ("%", "_", "C%", "C_p", "c*", "' OR '1'='1", "\\"):
        with pytest.raises(NotFoundError):
            found(signs, TaskFilter(contest=sign))
        assert found(signs, TaskFilter(class_name=sign)) == set()
    assert found(signs, TaskFilter(), through=("region:%",)) == set(INJECTIONS)
    assert found(signs, TaskFilter(), through=("region:_",)) == set()


def test_a_name_that_is_sql_is_a_name(signs: Desk) -> None:
    for name in INJECTIONS:
        assert show_task(signs, f"Cup:{name}").task.name == name
        with pytest.raises(NotFoundError):
            show_task(signs, f"Cup:{name} x")
    assert len(list_tasks(signs)) == len(TAGS) + len(INJECTIONS)
