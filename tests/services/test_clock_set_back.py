"""The clock set back or far forward between commands and within one: order, undo, history and what stands hold."""

from __future__ import annotations

import datetime
import itertools
from dataclasses import replace

import pytest

from taskdb.cli.store.store import clock_words
from taskdb.services.sets.history import diff_sets, label_set, restore_set
from taskdb.services.sets.importing import ImportRequest, Mode, import_set
from taskdb.services.sets.set import list_sets, set_log, show_set
from taskdb.services.store.store import read_journal
from taskdb.services.store.undo import undo
from taskdb.services.store.verify import verify_store
from tests.services.conftest import REGION

DAY = datetime.timedelta(days=1)
START = datetime.datetime(2027, 5, 14, 8, 30, tzinfo=datetime.UTC)
JUMPS = {
    "back": -400 * DAY,
    "to 1970": datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC) - START,
    "ahead": 20_000 * DAY,
}


def at(desk, moment):
    return replace(desk, now=lambda: moment)


@pytest.mark.parametrize("jump", JUMPS.values(), ids=JUMPS)
def test_order_is_by_number_and_each_time_is_what_the_clock_said(desk, write, csv_file, jump):
    def put(moment, rows):
        request = ImportRequest(csv_file(rows), "region", mode=Mode.REPLACE)
        return import_set(at(desk, moment), request, write("set import", confirmed=True))

    second = REGION.replace("48.5610000", "48.5620000")
    third = REGION.replace("Kelmried", "Kelmried Süd")
    put(START, REGION)
    put(START + jump, second)
    put(START + DAY, third)
    times = [START, START + jump, START + DAY]
    told = [moment.strftime("%Y-%m-%dT%H:%M:%SZ") for moment in times]

    journal = read_journal(desk)
    assert [(one.number, one.at) for one in journal.operations] == [(n + 1, told[n]) for n in (2, 1, 0)]
    assert [(info.number, info.at) for info in set_log(desk, "region")[1]] == [(n + 1, told[n]) for n in (2, 1, 0)]
    (listed,) = list_sets(desk)
    assert (listed.revision, listed.changed_at) == (3, told[2])
    assert {w.name for w in show_set(desk, "region").waypoints} >= {"Kelmried Süd"}
    assert len(diff_sets(desk, "region@1", "region@2").difference.changed) == 1

    undone = undo(at(desk, START + jump), None, write("undo"))
    assert undone.undone.number == 3, "the newest by number, whatever the times say"
    assert show_set(desk, "region").waypoints == show_set(desk, "region@2").waypoints
    restore_set(at(desk, START - DAY), "region@1", write("set restore"))
    label_set(at(desk, START + jump), "region@1", "first", None, write("set label"))
    assert show_set(desk, "region").waypoints == show_set(desk, "region@1").waypoints
    assert verify_store(desk).total == 0

    (words,) = clock_words(read_journal(desk).back_in_time)
    assert "an earlier time than the one before" in words and "order is by number" in words
    operations = read_journal(desk).operations
    back = [new.number for new, old in itertools.pairwise(operations) if new.at < old.at]
    assert sorted(back) == list(read_journal(desk).back_in_time)


def test_a_clock_that_is_set_within_a_command_leaves_one_time_in_all_that_it_writes(desk, write, csv_file):
    moments = iter([START - n * DAY for n in range(1_000)])
    moving = replace(desk, now=lambda: next(moments))
    import_set(moving, ImportRequest(csv_file(REGION), "region"), write("set import"))
    (operation,) = read_journal(desk).operations
    (revision,) = set_log(desk, "region")[1]
    assert operation.at == revision.at


def test_commands_that_took_long_or_came_in_order_are_not_told_as_a_clock_set_back(desk, write, csv_file):
    for n, rows in enumerate((REGION, REGION.replace("48.5610000", "48.5620000"))):
        moment = START - n * datetime.timedelta(minutes=20)
        import_set(at(desk, moment), ImportRequest(csv_file(rows), "region"), write("set import"))
    assert read_journal(desk).back_in_time == ()
    assert clock_words(()) == []
