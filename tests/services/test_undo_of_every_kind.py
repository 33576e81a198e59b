"""One's own newest operation is undone, whatever its kind, others having written since; not what they changed."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Role
from taskdb.errors import RefusedError
from taskdb.services.airspace.drawing import Drawn, add_volume, retire_volume
from taskdb.services.contests.contest import NewContest, new_contest, set_contest_zones
from taskdb.services.desk import NeedsConfirmation
from taskdb.services.sets.history import copy_set, label_set
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.store.store import read_journal
from taskdb.services.store.undo import undo
from taskdb.services.tasks.flown import cancel_task, choose_task, record_flown
from taskdb.services.tasks.task import (
    NewTask,
    PointRequest,
    TaskEdit,
    copy_task,
    edit_task,
    new_task,
    restore_task,
    retire_task,
)
from taskdb.services.waypoints.editing import add_waypoint, edit_waypoint, restore_waypoint, retire_waypoint
from taskdb.services.waypoints.typed_values import WaypointTexts
from taskdb.store.findings import write_acceptances
from taskdb.store.flown import FlownRecord
from tests.building import writing_rows
from tests.services.conftest import REGION

NUMBERS = itertools.count(1)


def named(desk, code, write):
    edit_waypoint(desk, f"region:{code}", WaypointTexts(name=f"Name {next(NUMBERS)}"), write)


def added(desk, write):
    texts = WaypointTexts(code="NEW", name="New", position=f"50.{next(NUMBERS)} 12.5")
    add_waypoint(desk, "region", texts, write)


def zones(desk, write):
    set_contest_zones(desk, "Cup", {Role.TURN: parse_zone(f"cylinder {next(NUMBERS)}km")}, write)


def a_task(desk, name, contest, write):
    points = tuple(PointRequest(code) for code in ("001", "002", "003", "001"))
    new_task(desk, NewTask(name, points, contest=contest), write)


def timed(desk, name, write):
    edit_task(desk, name, TaskEdit(values={"time_s": 3600 + next(NUMBERS)}), write, contest="Cup")


def flown(desk, write):
    record_flown(desk, "A", FlownRecord("2027-05-14", starters=next(NUMBERS)), write, contest="Cup")


def accepted(desk, write, is_accepted=True):
    with writing_rows(desk, write) as writing:
        write_acceptances(writing, 1, {"f1": "same-place"}, "both", accepted=is_accepted)


# What one does, and what another then does to the same thing.
KINDS = {
    "waypoint add": (added, lambda desk, write: named(desk, "NEW", write)),
    "waypoint edit": (lambda desk, write: named(desk, "001", write), lambda desk, write: named(desk, "001", write)),
    "waypoint retire": (
        lambda desk, write: retire_waypoint(desk, "region:005", write),
        lambda desk, write: restore_waypoint(desk, "region:005", write),
    ),
    "set label": (
        lambda desk, write: label_set(desk, "region@1", f"mine {next(NUMBERS)}", None, write),
        lambda desk, write: label_set(desk, "region@1", f"theirs {next(NUMBERS)}", None, write),
    ),
    "set copy": (
        lambda desk, write: copy_set(desk, "region", f"copy {next(NUMBERS)}", write),
        lambda desk, write: edit_waypoint(desk, "002", WaypointTexts(name="Theirs"), write, newest_thing(desk, "set ")),
    ),
    "contest new": (
        lambda desk, write: new_contest(desk, NewContest(f"Cup {next(NUMBERS)}", "region"), write),
        lambda desk, write: a_task(desk, "B", newest_thing(desk, "contest "), write),
    ),
    "contest zones": (zones, zones),
    "task new": (
        lambda desk, write: a_task(desk, f"C{next(NUMBERS)}", "Cup", write),
        lambda desk, write: timed(desk, newest_thing(desk, "task Cup:"), write),
    ),
    "task copy": (
        lambda desk, write: copy_task(desk, "A", f"D{next(NUMBERS)}", write, contest="Cup"),
        lambda desk, write: timed(desk, newest_thing(desk, "task Cup:"), write),
    ),
    "task edit": (lambda desk, write: timed(desk, "A", write), lambda desk, write: timed(desk, "A", write)),
    "task retire": (
        lambda desk, write: retire_task(desk, "A", write, contest="Cup"),
        lambda desk, write: restore_task(desk, "A", write, contest="Cup"),
    ),
    "task choose": (
        lambda desk, write: choose_task(desk, "A", None, write, contest="Cup"),
        lambda desk, write: cancel_task(desk, "A", write, contest="Cup"),
    ),
    "flown record": (flown, flown),
    "airspace draw": (
        lambda desk, write: add_volume(desk, Drawn("Quiet", "Wood", round="001", radius_m=2000.0), write),
        lambda desk, write: retire_volume(desk, "Quiet", "Wood", write),
    ),
    "check accept": (accepted, lambda desk, write: accepted(desk, write, is_accepted=False)),
}


def newest_thing(desk, beginning):
    """Return the name of the newest thing of a kind, from the journal."""
    written = (what for one in read_journal(desk).operations for what in one.wrote if what.startswith(beginning))
    return next(written).removeprefix(beginning).rpartition("@")[0]


@pytest.fixture
def cup(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write("set import"))
    import_set(desk, ImportRequest(csv_file(REGION), "elsewhere"), write("set import"))
    new_contest(desk, NewContest("Cup", "region"), write("contest new"))
    a_task(desk, "A", "Cup", write("task new"))
    return desk


@pytest.mark.parametrize("kind", KINDS)
def test_one_s_own_newest_is_undone_and_what_another_changed_of_it_is_in_the_way(cup, write, kind):
    mine, theirs = KINDS[kind]
    other = replace(cup, author="deputy")
    mine(cup, write(kind, confirmed=True))
    number = read_journal(cup).operations[0].number
    label_set(other, "elsewhere@1", "unrelated", None, write("set label"))
    total = read_journal(cup).total
    previewed = undo(cup, None, write("undo", preview=True))
    assert read_journal(cup).total == total
    done = undo(cup, None, write("undo"))
    assert done.undone.number == previewed.undone.number == number
    assert done.stands == previewed.stands

    mine(cup, write(kind, confirmed=True))
    number = read_journal(cup).operations[0].number
    theirs(other, write("theirs", confirmed=True))
    in_the_way = read_journal(cup).operations[0].number
    for preview in (True, False):
        with pytest.raises(RefusedError) as told:
            undo(cup, None, write("undo", preview=preview))
        assert (told.value.code, told.value.details["operation"]) == ("changed-since", number)
        assert f"taskdb undo {in_the_way} (theirs)" in told.value.hint
        assert told.value.details["in_the_way"] and told.value.details["lines"]
    # The way out that is named: the other's first, which is asked for, then one's own.
    with pytest.raises(NeedsConfirmation):
        undo(cup, in_the_way, write("undo"))
    undo(cup, in_the_way, write("undo", confirmed=True))
    assert undo(cup, None, write("undo")).undone.number == number
    assert [one.number for one in read_journal(cup).operations] == list(range(read_journal(cup).total, 0, -1))
