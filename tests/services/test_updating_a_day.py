"""After a mended coordinate: one operation pins the contest, refreshes the day's tasks, and can be looked at first."""

from __future__ import annotations

import pytest

from taskdb.core.course.compare import PointChange
from taskdb.errors import NotFoundError, RefusedError
from taskdb.services.contests.contest import NewContest, new_contest, show_contest
from taskdb.services.contests.update import UpdateRequest, update_day
from taskdb.services.handing_out.handout import HandoutRequest, hand_out, handouts_of_task
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.store.undo import undo
from taskdb.services.tasks.flown import cancel_task
from taskdb.services.tasks.task import NewTask, PointRequest, new_task, show_task
from tests.services.conftest import REGION


def points(*codes):
    return tuple(PointRequest(code) for code in codes)


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    new_contest(desk, NewContest("Cup", "region", site="001"), write())
    new_task(desk, NewTask("A", points("001", "003", "004", "001"), contest="Cup", day=1), write())
    new_task(desk, NewTask("B", points("001", "002", "005", "001"), contest="Cup", day=1, variant="B"), write())
    new_task(desk, NewTask("Other", points("001", "003", "001"), contest="Cup", day=2), write())


@pytest.fixture
def cup(built, write, csv_file):
    return built(filled, write, csv_file)


def mend(cup, write, csv_file, latitude="49.0520000"):
    import_set(cup, ImportRequest(csv_file(f"003,Tannwöhr,{latitude},12.4730000,497\n"), "region"), write())


DAY = UpdateRequest("Cup", 1)


def test_a_mended_point_reaches_the_days_tasks_in_one_operation(cup, write, csv_file):
    mend(cup, write, csv_file)
    done = update_day(cup, DAY, write("task update", confirmed=True))
    assert (done.set_before, done.set_after) == ("region@1", "region@2")
    (task,) = done.tasks
    assert task.before.name == "A" and task.carried.revision == 2
    assert [(p.code, p.change) for p in task.points] == [("003", PointChange.MOVED)]
    # A thousandth of a degree of latitude at 49°: 111.2 m (series of the WGS84 meridian, computed).
    assert task.points[0].distance_m == pytest.approx(111.2, abs=0.1)
    assert task.fingerprints[0] != task.fingerprints[1] and task.task_m[0] != task.task_m[1]
    assert done.unchanged == ("B",) and done.stale_elsewhere == ("Other",)
    shown = show_task(cup, "A", "Cup")
    assert shown.stale == () and shown.task.set_revision == 2
    assert show_task(cup, "B", "Cup").revision == 1
    undo(cup, None, write("undo", confirmed=True))
    assert show_task(cup, "A", "Cup").task.points == show_task(cup, "A@1", "Cup").task.points
    assert show_contest(cup, "Cup").contest.set_revision == 1


def test_a_look_keeps_nothing_and_what_is_done_is_what_was_looked_at(cup, write, csv_file):
    mend(cup, write, csv_file)
    looked = update_day(cup, DAY, write(preview=True, confirmed=True))
    assert show_task(cup, "A", "Cup").revision == 1 and show_contest(cup, "Cup").revision == 1
    mend(cup, write, csv_file, "49.0530000")
    with pytest.raises(RefusedError) as refused:
        update_day(cup, DAY, write(confirmed=True), looked_at=looked)
    assert refused.value.code == "changed-meanwhile"
    assert show_task(cup, "A", "Cup").revision == 1
    looked = update_day(cup, DAY, write(preview=True, confirmed=True))
    assert update_day(cup, DAY, write(confirmed=True), looked_at=looked).is_as(looked)


def test_a_day_that_stands_already_is_left_alone(cup, write, csv_file):
    assert update_day(cup, DAY, write(confirmed=True)).is_nothing
    mend(cup, write, csv_file)
    update_day(cup, DAY, write(confirmed=True))
    assert update_day(cup, DAY, write(confirmed=True)).is_nothing
    assert show_contest(cup, "Cup").revision == 2


def test_a_point_that_moved_far_waits_for_a_confirmation(cup, write, csv_file):
    mend(cup, write, csv_file, "49.0910000")
    done = update_day(cup, DAY, write())
    assert done.tasks[0].after is None and done.tasks[0].carried.unresolved
    assert show_task(cup, "A", "Cup").stale
    assert update_day(cup, DAY, write(confirmed=True)).tasks[0].after is not None


def test_another_set_and_a_day_without_tasks_are_refused(cup, write, csv_file):
    import_set(cup, ImportRequest(csv_file(REGION), "other"), write())
    with pytest.raises(RefusedError):
        update_day(cup, UpdateRequest("Cup", 1, "other"), write())
    cancel_task(cup, "Other", write())
    with pytest.raises(NotFoundError):
        update_day(cup, UpdateRequest("Cup", 2), write())


def test_the_log_says_what_differs_from_what_was_handed_out(cup, write, csv_file, tmp_path):
    hand_out(cup, HandoutRequest("Cup", 1, str(tmp_path / "x"), proposed=True), write("handout", confirmed=True))
    mend(cup, write, csv_file)
    update_day(cup, DAY, write(confirmed=True))
    (handed,) = handouts_of_task(cup, "A", "Cup")
    moved = next(value for value in handed.values if value.what == "position")
    assert moved.where == "point 1 003" and "(111 m towards 360°)" in moved.new.replace("000°", "360°")
