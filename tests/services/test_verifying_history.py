"""Verifying finds each rule of a store's history broken by hand, and nothing in a season that was only worked."""

from __future__ import annotations

import json

import pytest
from sqlalchemy import text

from taskdb.core.contests.days import DayChange
from taskdb.core.course.assembly import ZoneChoice
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import FlownRecord
from taskdb.errors import StoreUnusableError
from taskdb.services.airspace.drawing import Drawn, add_volume
from taskdb.services.checks.fixing import merge_duplicates
from taskdb.services.contests.contest import NewContest, new_contest
from taskdb.services.contests.day import set_day
from taskdb.services.contests.settings import ContestEdit, edit_contest
from taskdb.services.handing_out.handout import HandoutRequest, hand_out
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.store.undo import undo
from taskdb.services.store.verify import verify_store
from taskdb.services.tasks.flown import record_flown
from taskdb.services.tasks.task import NewTask, PointRequest, TaskEdit, edit_task, new_task
from tests.services.conftest import REGION


@pytest.fixture
def season(built, write, csv_file, tmp_path):
    return built(worked, write, csv_file, tmp_path)


def worked(desk, write, csv_file, tmp_path):
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
    areas = (ZoneChoice("areas", parse_zone("area 5km")),)
    new_task(
        desk,
        NewTask("B", tuple(PointRequest(code) for code in ("001", "003", "001")), set_reference="region", zones=areas),
        write(),
    )
    record_flown(desk, "B", FlownRecord("2027-05-14", starters=20, finishers=12), write())
    set_day(desk, "Cup", 1, DayChange(date="2027-05-14"), write())
    add_volume(desk, Drawn("air", "Hills", through=("001", "003", "005")), write())
    add_volume(desk, Drawn("air", "Ring", round="003", radius_m=3000.0), write())
    edit_contest(desk, "Cup", ContestEdit(airspace=("air@1",)), write())


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
        ("checksum", "operation 1: it is not as it was written", "UPDATE operation SET at = '14.5.2027' WHERE id = 1"),
        ("merged-duplicate", "of which the set knows nothing", "UPDATE waypoint_successor SET kept = 'nobody'"),
        ("checksum", "task A@1: it, or a part of it, is not as it was written",
         "DELETE FROM task_point WHERE revision = 1 AND number = 1"),
        ("task-contest", "task A@1", "UPDATE task_revision SET contest_revision = NULL WHERE number = 1"),
        ("task-copy", "task A@1, point 1 (003)",
         "UPDATE task_point SET latitude_e7 = latitude_e7 + 1 WHERE revision = 1 AND number = 1"),
        ("task-copy", "task A@1, point 1 (003)",
         "UPDATE task_point SET elevation_dm = NULL WHERE revision = 1 AND number = 1"),
        ("handed-out", "was made by revision 9 of its contest", "UPDATE handout SET contest_revision = 9"),
        ("handed-out", "went out with the fingerprint", "UPDATE handout_task SET fingerprint = '3333-3333'"),
        ("operation", "set region@2: is of operation 1",
         "UPDATE set_revision SET operation_id = 1 WHERE number = 2"),
        ("operation", "contest Cup: was made by operation 1", "UPDATE contest SET operation_id = 1"),
        ("newest-number", "contest Cup: not all of 1 to 3 are there",
         "DELETE FROM contest_day; DELETE FROM contest_zone; UPDATE contest_revision SET number = 0 WHERE number = 1"),
        ("checksum", "flown record 1: it is not", "UPDATE flown_record SET finishers = 21"),
        ("checksum", "of its waypoints 001 to 005 one or more", "UPDATE waypoint_state SET latitude_e7 = 490510001"
         " WHERE code = '003'"),
        ("checksum", "set region@2: its waypoint 005 is not", "UPDATE waypoint_state SET elevation_dm = 1"
         " WHERE valid_from = 2"),
        ("checksum", "set region@2: of its waypoints some are not there",
         "DELETE FROM waypoint_state WHERE valid_from = 2"),
        ("checksum", "set region@2: has no checksum", "UPDATE set_revision SET checksum = NULL"),
        ("checksum", "set region@1: of its waypoints", "UPDATE set_revision SET checksum = '7:x'"),
        ("checksum", "contest Cup@2: it, or a part of it,", "DELETE FROM contest_day"),
        ("checksum", "contest Cup@2: has no checksum", "UPDATE contest_revision SET checksum = NULL"),
        ("checksum", "hand-out 1: it, or a part of it,", "UPDATE handout_task SET said = '{}'"),
        ("contest-readable", "contest Cup@1", "UPDATE contest_revision SET rules = '{' WHERE number = 1"),
        ("task-summary", "its shape is kept as goal", "UPDATE task_revision SET shape = 'goal'"),
        ("task-summary", "its fai_triangle is kept as",
         "UPDATE task_revision SET fai_triangle = NOT fai_triangle"),
        ("task-summary", "its first course is kept as", "UPDATE task_revision SET first_course_deg = 359.9"),
        ("task-summary", "B@1: its minimum path meets 2 points",
         "UPDATE task_revision SET extremes = '[[[48.8,11.8],[48.8,11.8]],null]' WHERE extremes IS NOT NULL"),
        ("task-readable", "B@1: cannot be read", "UPDATE task_revision SET extremes = '{' WHERE name = 'B'"),
        ("checksum", "air@2: it, or a part of it,", "DELETE FROM airspace_volume WHERE name = 'Ring'"),
        ("checksum", "contest Cup@3: it, or a part of it,", "UPDATE contest_airspace SET revision = 2"),
        ("airspace-counts", "airspace air@2: says 1 added, 0 changed, 0 retired; found 0, 0, 0",
         "DELETE FROM airspace_volume WHERE name = 'Ring'"),
        ("airspace-readable", "airspace air@1", "UPDATE airspace_volume SET floor = '1500' WHERE number = 1"),
        ("airspace-ground", "airspace air@1, Hills: its polygons are not as they are kept",
         "UPDATE airspace_volume SET polygons = '[[[[2,0],[2,2],[0,0],[2,0]]]]' WHERE number = 1"),
        ("airspace-name", "airspace air: its newest revision is called fen",
         "UPDATE airspace_revision SET name = 'fen'"),
        ("newest-number", "airspace air: says 3, the greatest is 2", "UPDATE airspace SET newest = 3"),
        ("schema", "lacks the index uq_waypoint_state_open_code", "DROP INDEX uq_waypoint_state_open_code"),
    ],
)  # fmt: skip
def test_a_broken_rule_is_found_and_its_place_is_named(season, rule, where, statement):
    problems = found(season, *statement.split("; "))
    assert [text for name, text in problems if name == rule and where in text], problems


def test_a_path_that_is_not_the_shortest_or_leaves_its_area_is_found(season):
    with season.store.engine.connect() as c:
        kept = c.scalar(text("SELECT extremes FROM task_revision WHERE name = 'B'"))
    shortest, longest = json.loads(kept)
    exchanged = json.dumps([longest, shortest])
    assert any("minimum path is" in told for _, told in found(season, _extremes(exchanged)))
    outside = json.dumps([[shortest[0], [10.0, 10.0], *shortest[2:]], longest])
    assert any("passes area 1 at" in told for _, told in found(season, _extremes(outside)))
    assert found(season, _extremes(kept)) == []


def _extremes(value):
    return f"UPDATE task_revision SET extremes = '{value}' WHERE name = 'B'"


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
