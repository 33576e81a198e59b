"""Verifying finds each rule of a store's history broken by hand, and nothing in a season that was only worked."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from taskdb.errors import StoreUnusableError
from taskdb.services.check_fixes import merge_duplicates
from taskdb.services.contests import NewContest, new_contest
from taskdb.services.handout_day import HandoutRequest, hand_out
from taskdb.services.set_import import ImportRequest, import_set
from taskdb.services.tasks import NewTask, PointRequest, TaskEdit, edit_task, new_task
from taskdb.services.undo import undo
from taskdb.services.verify import verify_store
from tests.services.conftest import REGION


@pytest.fixture
def season(desk, write, csv_file, tmp_path):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    new_contest(desk, NewContest("Cup", "region"), write())
    points = tuple(PointRequest(code) for code in ("001", "003", "004", "001"))
    new_task(desk, NewTask("A", points, contest="Cup", day=1), write())
    hand_out(desk, HandoutRequest("Cup", 1, str(tmp_path / "day")), write("handout", confirmed=True))
    edit_task(desk, "A", TaskEdit(points=((1, "002"),)), write())
    import_set(desk, ImportRequest(csv_file("005,Brüxfeld Süd,49.0350000,11.5790000,470\n"), "region"), write())
    undo(desk, None, write("undo"))
    undo(desk, 7, write("undo", confirmed=True))
    merge_duplicates(desk, "region", "002", "004", write())
    return desk


def found(desk, *statements):
    with desk.store.engine.connect() as c:
        for statement in statements:
            c.execute(text(statement))
        c.commit()
    return [(one.rule, f"{one.what}: {one.message}") for one in verify_store(desk).problems]


def test_a_season_that_was_only_worked_is_whole(season):
    assert found(season) == []


@pytest.mark.parametrize(
    ("rule", "where", "statement"),
    [
        ("code-unique", "the code 001 names two waypoints at revision 1",
         "UPDATE waypoint_state SET code = '001' WHERE code = '004'"),
        ("operation", "the revision of operation",
         "UPDATE waypoint_state SET operation_id = 2 WHERE code = '001'"),
        ("operation", "operation 2: undoes operation 6, which is not an earlier one",
         "UPDATE operation SET undoes = 6 WHERE id = 2"),
        ("operation", "operation 7: is undone by operation 8 and by operation 9",
         "UPDATE operation SET undoes = 7 WHERE id = 9"),
        ("operation", "its time '14.5.2027' is no UTC time", "UPDATE operation SET at = '14.5.2027' WHERE id = 1"),
        ("operation", "operation 1: has no author", "UPDATE operation SET author = ' ' WHERE id = 1"),
        ("merged-duplicate", "of which the set knows nothing", "UPDATE waypoint_successor SET kept = 'nobody'"),
        ("task-points", "task A@1: its 3 points are numbered 0 to 3",
         "DELETE FROM task_point WHERE revision = 1 AND number = 1"),
        ("task-contest", "task A@1", "UPDATE task_revision SET contest_revision = NULL WHERE number = 1"),
        ("task-copy", "task A@1, point 1 (003)",
         "UPDATE task_point SET latitude_e7 = latitude_e7 + 1 WHERE revision = 1 AND number = 1"),
        ("task-copy", "task A@1, point 1 (003)",
         "UPDATE task_point SET elevation_dm = NULL WHERE revision = 1 AND number = 1"),
        ("handed-out", "went out with the fingerprint", "UPDATE handout_task SET fingerprint = '3333-3333'"),
        ("schema", "lacks the index uq_waypoint_state_open_code", "DROP INDEX uq_waypoint_state_open_code"),
    ],
)  # fmt: skip
def test_a_broken_rule_is_found_and_its_place_is_named(season, rule, where, statement):
    problems = found(season, statement)
    assert [text for name, text in problems if name == rule and where in text], problems


def test_an_index_without_its_condition_is_found_on_sqlite(season):
    if not season.store.is_sqlite:
        pytest.skip("reflection tells it there")
    problems = found(
        season,
        "DROP INDEX ix_waypoint_state_valid_to",
        "CREATE INDEX ix_waypoint_state_valid_to ON waypoint_state (set_id, valid_to)",
    )
    assert problems == [("schema", "index ix_waypoint_state_valid_to: is not as this taskdb makes it")]


def test_a_store_that_lacks_a_table_is_told_in_words(season):
    try:
        assert ("schema", "table handout_task: is missing") in found(season, "DROP TABLE handout_task")
    except StoreUnusableError as error:
        assert error.hint
