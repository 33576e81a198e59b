"""A write reads and computes while others write, locks for its rows alone, and leaves no gap in the numbers."""

from __future__ import annotations

import pytest
from sqlalchemy import insert
from sqlalchemy.exc import DBAPIError

from taskdb.errors import NotFoundError, RefusedError, StoreBusyError, StoreUnusableError
from taskdb.services.desk import Write
from taskdb.services.sets.history import label_set
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.store.store import read_journal
from taskdb.services.tasks.task import NewTask, PointRequest, TaskEdit, edit_task, new_task, show_task
from taskdb.store import sets
from taskdb.store.schema import set_label
from tests.building import writing_rows
from tests.services.conftest import REGION


@pytest.fixture
def region(desk, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), Write("set import"))


def label(desk, words):
    return label_set(desk, "region@1", words, None, Write("set label"))


def newest(c):
    return sets.revision_info(c, sets.find_set(c, "region").id, 1).label


def numbers(desk):
    return [operation.number for operation in read_journal(desk).operations]


def test_what_was_read_and_no_longer_stands_is_read_again_under_the_lock(desk, region):
    seen = []

    def work(writing):
        head = sets.find_set(writing.connection, "region")
        seen.append(newest(writing.connection))
        if len(seen) == 1:
            label(desk, "of another")  # no lock is held while we read: they need not wait
        sets.set_label(writing, head.id, 1, f"after {seen[-1]}")
        return seen[-1]

    assert desk.write(Write("test"), work) == "of another"
    assert seen == [None, "of another"]
    with desk.store.reading() as c:
        assert newest(c) == "after of another"
    assert numbers(desk) == [3, 2, 1]


def test_where_nobody_wrote_nothing_is_done_twice(desk, region):
    calls = []

    def work(writing):
        calls.append(newest(writing.connection))
        return writing.operation_id

    assert desk.write(Write("test"), work) == 2
    assert calls == [None]


def test_what_takes_long_is_computed_once_for_each_value_that_it_depends_on(desk, region):
    computed = []

    def work(writing):
        words = newest(writing.connection)
        found = writing.once(("length", words), lambda: computed.append(words) or len(words or ""))
        same = writing.once("always the same", lambda: computed.append("same") or 1)
        if len(computed) == 2:
            label(desk, "of another")
        _ = writing.operation_id
        return found + same

    assert desk.write(Write("test"), work) == 11
    assert computed == [None, "same", "of another"]


def test_after_the_second_reading_nobody_gets_in_between(desk, region):
    desk.store.wait_s = 0.05
    tries = []

    def work(writing):
        newest(writing.connection)
        if not tries:
            label(desk, "first")
        else:
            with pytest.raises(StoreBusyError):
                label(desk, "second")
        tries.append(1)
        return writing.operation_id

    assert desk.write(Write("test"), work) == 3
    assert len(tries) == 2


def test_nothing_can_be_written_before_the_lock_is_had(desk, region):
    values = {"set_id": 1, "number": 1, "label": "early", "valid_from": None, "operation_id": 1}
    with pytest.raises((DBAPIError, StoreUnusableError)):
        desk.write(Write("test"), lambda writing: writing.connection.execute(insert(set_label), values))
    assert numbers(desk) == [1]


def test_failed_abandoned_and_previewed_writes_leave_no_gap_in_the_numbers(desk, region):
    def fails(writing):
        assert writing.operation_id == 2
        raise RefusedError("no", "No.")

    def abandons(writing):
        assert writing.operation_id == 2
        writing.abandon()

    for _ in range(3):
        with pytest.raises(RefusedError):
            desk.write(Write("test"), fails)
        desk.write(Write("test"), abandons)
        desk.write(Write("test", preview=True), lambda writing: writing.operation_id)
        with pytest.raises(NotFoundError), writing_rows(desk, Write("test")):
            raise NotFoundError("no", "No.")
    label(desk, "kept")
    assert numbers(desk) == [2, 1]


def test_a_write_that_changes_nothing_needs_no_lock(desk, region):
    label(desk, "spring")
    with writing_rows(desk, Write("long")):
        assert label(desk, "spring").label == "spring"
    assert numbers(desk) == [3, 2, 1]


def test_a_task_is_measured_and_reviewed_before_the_lock_is_had(desk, region, monkeypatch):
    from taskdb.services.tasks import keeping

    order = []
    measure, review = keeping.measure_course, keeping.review_task
    monkeypatch.setattr(keeping, "measure_course", lambda *a, **k: order.append("measured") or measure(*a, **k))
    monkeypatch.setattr(keeping, "review_task", lambda *a, **k: order.append("reviewed") or review(*a, **k))
    store = desk.store
    lock = store._lock_looking

    def locking(*given):
        if "others" not in order:
            order.append("others")
            label(desk, "of another")
        order.append("locked")
        lock(*given)

    monkeypatch.setattr(store, "_lock_looking", locking)
    points = tuple(PointRequest(code) for code in ("001", "002", "003", "001"))
    made = new_task(desk, NewTask("A", points, set_reference="region"), Write("task new"))
    assert order[:4] == ["measured", "reviewed", "others", "locked"]
    assert order.count("measured") == order.count("reviewed") == 1, "the set moved on, the task did not"
    monkeypatch.undo()
    assert made == show_task(desk, "A")
    order.clear()
    edited = edit_task(desk, "A", TaskEdit(values={"time_s": 3600}), Write("task edit", note="shorter"))
    assert edited == show_task(desk, "A")
    assert (edited.info.note, edited.revision) == ("shorter", 2)


def test_an_import_plans_once_although_others_write_elsewhere(desk, region, csv_file, monkeypatch):
    from taskdb.services.sets import importing

    planned = []
    run = importing.Planner.run

    def running(self, standing):
        planned.append(1)
        found = run(self, standing)
        if len(planned) == 1:
            import_set(desk, ImportRequest(csv_file(REGION), "other"), Write("set import"))
        return found

    monkeypatch.setattr(importing.Planner, "run", running)
    rows = REGION.replace("Ormsau", "Ormsau West")
    done = import_set(desk, ImportRequest(csv_file(rows), "region"), Write("set import"))
    assert (done.revision, done.changed, len(planned)) == (2, 1, 2), "once for each set"


def test_a_store_replaced_while_a_command_reads_is_no_success(desk, region, tmp_path):
    if not desk.store.is_sqlite:
        pytest.skip("a file of one's own is a matter of SQLite")
    path = desk.store.path

    def work(writing):
        newest(writing.connection)
        path.rename(tmp_path / "taken away")
        return writing.operation_id

    with pytest.raises(StoreUnusableError) as told:
        desk.write(Write("test"), work)
    assert told.value.code == "store-gone"
