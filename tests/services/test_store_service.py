"""The store's own state and its journal, read through the service."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest
from sqlalchemy import insert

from taskdb.errors import StoreUnusableError
from taskdb.services.desk import Desk, Write
from taskdb.services.store.store import read_journal, store_info
from taskdb.store.engine import NewOperation, Writing
from taskdb.store.schema import set_revision, waypoint_set
from taskdb.store.version import NEWEST


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    moment = datetime.datetime(2027, 5, 14, 8, 30, tzinfo=datetime.UTC)
    return Desk(str(tmp_path / "store.sqlite"), "librarian", now=lambda: moment)


def write_revision(desk: Desk, name: str, number: int, *, preview: bool = False) -> None:
    def work(writing: Writing) -> None:
        c = writing.connection
        key = {"operation_id": writing.operation_id}
        if number == 1:
            c.execute(insert(waypoint_set).values(id=1, name=name, newest=1, **key))
        c.execute(insert(set_revision).values(set_id=1, number=number, count=0, added=0, changed=0, retired=0, **key))

    desk.write(Write(f"set import {number}", note="spring", preview=preview), work)


def write_undo(desk: Desk, undoes: int) -> None:
    operation = NewOperation(at="2027-05-14T09:00:00Z", author="librarian", command="undo", undoes=undoes)
    with desk.store.writing(operation):
        pass


def test_a_store_that_is_not_there_is_empty_and_is_not_made(desk):
    found = store_info(desk)
    assert (found.exists, found.schema, found.size_bytes, found.newest) == (False, None, 0, None)
    assert found.counts.sets == found.counts.operations == 0
    assert read_journal(desk).total == 0
    assert not Path(desk.store_url).exists()


def test_info_counts_what_stands_and_names_the_newest_operation(desk):
    write_revision(desk, "Wold", 1)
    write_revision(desk, "Wold", 2)
    found = store_info(desk)
    assert (found.exists, found.kind, found.schema, found.newest_schema) == (True, "sqlite", NEWEST, NEWEST)
    assert found.size_bytes >= Path(desk.store_url).stat().st_size > 0
    assert (found.counts.sets, found.counts.operations) == (1, 2)
    assert found.newest.command == "set import 2"


def test_a_preview_is_no_operation(desk):
    write_revision(desk, "Wold", 1)
    write_revision(desk, "Wold", 2, preview=True)
    assert [one.number for one in read_journal(desk).operations] == [1]


def test_the_journal_says_when_who_why_and_what_was_written_newest_first(desk):
    write_revision(desk, "Wold", 1)
    write_revision(desk, "Wold", 2)
    newest, first = read_journal(desk).operations
    assert (newest.number, first.number) == (2, 1)
    assert newest.wrote == ("set Wold@2",)
    assert (newest.at, newest.author, newest.note) == ("2027-05-14T08:30:00Z", "librarian", "spring")


def test_a_limited_journal_knows_how_much_there_is(desk):
    for number in range(1, 6):
        write_revision(desk, "Wold", number)
    journal = read_journal(desk, 2)
    assert [one.number for one in journal.operations] == [5, 4]
    assert journal.total == 5
    assert read_journal(desk, 0).operations == ()


def test_an_undo_that_was_undone_undoes_nothing(desk):
    write_revision(desk, "Wold", 1)
    write_undo(desk, 1)
    assert {one.number: one.is_undone for one in read_journal(desk).operations} == {1: True, 2: False}
    write_undo(desk, 2)
    assert {one.number: one.is_undone for one in read_journal(desk).operations} == {1: False, 2: True, 3: False}


def test_a_file_that_is_no_store_is_refused(desk):
    Path(desk.store_url).write_text("code,name\n")
    with pytest.raises(StoreUnusableError):
        store_info(desk)


def test_what_keeps_something_is_told_before_the_commit_and_only_then(tmp_path):
    told = []
    desk = Desk(str(tmp_path / "store.sqlite"), "librarian", before_keeping=lambda: told.append(1))
    write_revision(desk, "Wold", 1, preview=True)
    assert told == []
    write_revision(desk, "Wold", 1)
    assert told == [1]


def test_only_a_desk_that_may_makes_the_store_s_folder(tmp_path):
    url = str(tmp_path / "data" / "taskdb" / "store.sqlite")
    with pytest.raises(StoreUnusableError):
        write_revision(Desk(url, "librarian"), "Wold", 1)
    write_revision(Desk(url, "librarian", makes_folder=True), "Wold", 1)
    assert Path(url).exists()
