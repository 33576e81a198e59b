"""The stale tasks of a contest, found by queries, are those that staleness itself tells of each task, one by one."""

from __future__ import annotations

import pytest

from taskdb.core.course.zones import parse_zone
from taskdb.core.model import ContestClass, Role, Scope, TaskType
from taskdb.services.contests.contest import NewContest, new_contest, pin_contest, set_contest_zones, show_contest
from taskdb.services.contests.settings import set_classes
from taskdb.services.sets.importing import ImportRequest, Mode, import_set
from taskdb.services.tasks.free_points import FreeRequest
from taskdb.services.tasks.task import NewTask, PointRequest, list_tasks, new_task, retire_task, show_task
from tests.services.conftest import REGION

MOVED = "003,Tannwöhr,49.0610000,12.4730000,497\n"
CHANGES = {
    "moved": MOVED,
    "renamed": "003,Tannwehr,49.0510000,12.4730000,497\n",
    "renumbered": "030,Tannwöhr,49.0510000,12.4730000,497\n",
    "raised": "003,Tannwöhr,49.0510000,12.4730000,512\n",
    "beside the course": "002,Kelmried,48.5650000,11.5220000,467\n",
}


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    new_contest(desk, NewContest("Cup", "region", zones={Role.TURN: parse_zone("cylinder 1km")}), write())
    set_classes(desk, "Cup", [ContestClass("Club", 60, 110), ContestClass("Open", 80, 160)], [], write())
    for name, codes, given in (
        ("plain", "001 003 004 001", {}),
        ("elsewhere", "001 005 004 001", {}),
        ("club", "001 003 005 001", {"class_name": "Club", "day": 1}),
        ("open", "001 003 005 001", {"class_name": "Open", "day": 2}),
        ("own zones", "001 005 004 001", {"zone": "cylinder 3km"}),
        ("position", "001 48.9,12.1 004 001", {}),
        ("free", "001 005 004 001", {"type": TaskType.MODIFIED, "free": FreeRequest(chosen_from="003,002")}),
        ("ends", "001 005 004 001", {"type": TaskType.DECLARED, "take_off": "003", "landing": "002"}),
        ("retired", "001 003 004 001", {}),
    ):
        own = given.pop("zone", None)
        zone = None if own is None else parse_zone(own)
        points = tuple(PointRequest(code, zone) for code in codes.split())
        new_task(desk, NewTask(name, points, "Cup", time_s=9000, **given), write())
    retire_task(desk, "retired", write())


@pytest.fixture
def cup(built, write, csv_file):
    return built(filled, write, csv_file)


def one_by_one(desk):
    return tuple(sorted(row.task for row in list_tasks(desk) if show_task(desk, row.task).stale))


def test_what_a_set_changes(cup, write, csv_file):
    assert show_contest(cup, "Cup").stale_tasks == one_by_one(cup) == ()
    said = {}
    for what, row in CHANGES.items():
        import_set(cup, ImportRequest(csv_file(row), "region"), write(confirmed=True))
        said[what] = pin_contest(cup, "Cup", "region", write()).stale_tasks
        assert said[what] == one_by_one(cup), what
        import_set(cup, ImportRequest(csv_file(REGION), "region", mode=Mode.REPLACE), write(confirmed=True))
        assert pin_contest(cup, "Cup", "region", write()).stale_tasks == one_by_one(cup)
    assert said["moved"] == ("club", "ends", "free", "open", "plain")
    assert said["beside the course"] == ("ends", "free")
    assert all("plain" in stale for what, stale in said.items() if what != "beside the course")


def test_what_is_retired_and_another_set(cup, write, csv_file):
    fewer = "".join(line for line in REGION.splitlines(keepends=True) if not line.startswith("003"))
    import_set(cup, ImportRequest(csv_file(fewer), "region", mode=Mode.REPLACE), write(confirmed=True))
    assert pin_contest(cup, "Cup", "region", write()).stale_tasks == one_by_one(cup) != ()
    import_set(cup, ImportRequest(csv_file(REGION), "other"), write())
    stale = pin_contest(cup, "Cup", "other", write()).stale_tasks
    assert stale == one_by_one(cup) and len(stale) == 8


@pytest.mark.parametrize("scope", [Scope(None, None), Scope("Club", None), Scope(None, 2), Scope("Club", 1)])
def test_what_defaults_change(cup, write, scope):
    counted = []
    for zones in ({Role.TURN: "cylinder 2km"}, {Role.START: "line 4km"}, {Role.TURN: "cylinder 1000m"}):
        given = {role: parse_zone(text) for role, text in zones.items()}
        stale = set_contest_zones(cup, "Cup", given, write(), scope).stale_tasks
        assert stale == one_by_one(cup)
        counted.append(len(stale))
    assert max(counted) > 0
