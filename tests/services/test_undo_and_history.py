"""Undoing, going back, labels and copies, on both engines."""

from __future__ import annotations

import threading
from dataclasses import replace

import pytest

from taskdb.core.course.zones import parse_zone
from taskdb.core.history.changes import SetChanges
from taskdb.core.model import Role
from taskdb.errors import NotFoundError, RefusedError, UsageError
from taskdb.services.contests.contest import NewContest, new_contest, pin_contest, set_contest_zones, show_contest
from taskdb.services.contests.settings import ContestEdit, contest_log, edit_contest
from taskdb.services.desk import NeedsConfirmation
from taskdb.services.sets.history import copy_set, diff_sets, label_set, restore_set
from taskdb.services.sets.importing import ImportRequest, Mode, import_set
from taskdb.services.sets.set import list_sets, set_log, show_set
from taskdb.services.store.store import read_journal
from taskdb.services.store.undo import undo
from taskdb.services.tasks.task import NewTask, PointRequest, TaskEdit, edit_task, list_tasks, new_task, show_task
from taskdb.store import sets
from taskdb.store.contests import find_contest
from taskdb.store.findings import accepted_findings, write_acceptances
from taskdb.store.flown import FlownRecord, flown_records, write_flown
from taskdb.store.tasks import find_task
from tests.building import writing_rows
from tests.services.conftest import REGION

LINES = REGION.splitlines(keepends=True)


@pytest.fixture
def region(desk, write, csv_file):
    """Import rows into `region`: `region(rows, mode)`; five waypoints stand as region@1."""

    def put(rows=REGION, mode=Mode.MERGE, into="region", by=desk):
        return import_set(by, ImportRequest(csv_file(rows), into, mode=mode), write("set import", confirmed=True))

    put()
    return put


def values(desk, reference="region"):
    """What a set is: its waypoints, all of them, with what was typed."""
    return [(w, w.typed, w.extras) for w in show_set(desk, reference).waypoints]


def test_undoing_a_change_brings_back_the_state_before(desk, write, region):
    before = values(desk)
    region(REGION.replace("48.5610000", "48.5620000"))
    done = undo(desk, None, write("undo"))
    assert values(desk) == before
    assert (done.undone.number, done.undone.command, done.redone) == (2, "set import", None)
    (stands,) = done.stands
    assert stands.what == "set region@3"
    assert stands.state == "5 waypoints; 1 set back; equal to region@1"
    newest = read_journal(desk).operations[0]
    assert (newest.number, newest.undoes, newest.command) == (3, 2, "undo")


def test_undoing_walks_back_state_by_state_and_redoing_walks_forward(desk, write, region):
    states = [values(desk)]
    for rows in (
        REGION.replace("48.5610000", "48.5620000"),
        REGION + "006,Neu,48.1,12.0,400\n",
        REGION.replace("001,", "x,").replace("002,", "001,").replace("x,", "002,"),
        REGION + "".join(LINES[:0]),
    ):
        region(rows, Mode.REPLACE)
        states.append(values(desk))
    assert len({repr(state) for state in states}) == 4  # the last import leads back to the first state
    undos = []
    for state in reversed(states[:-1]):
        undos.append(undo(desk, None, write("undo")).operation)
        assert values(desk) == state
    for number, state in zip(reversed(undos), states[1:], strict=True):
        done = undo(desk, number, write("undo"))
        assert done.redone is not None
        assert values(desk) == state


def test_undoing_the_import_that_made_a_set_leaves_a_revision_without_waypoints(desk, write, region):
    undo(desk, None, write("undo"))
    (summary,) = list_sets(desk)
    assert (summary.revision, summary.count) == (2, 0)
    assert len(values(desk, "region@1")) == 5


def test_nothing_to_undo_is_told(desk, write, region):
    undo(desk, None, write("undo"))
    with pytest.raises(NotFoundError, match="nothing to undo"):
        undo(desk, None, write("undo"))
    with pytest.raises(NotFoundError, match="no operation 99"):
        undo(desk, 99, write("undo"))


def test_an_older_operation_is_undone_where_all_that_it_wrote_still_stands(desk, write, region):
    region(REGION.replace("48.5610000", "48.5620000"))
    region(REGION.replace("389", "390").replace("48.5610000", "48.5620000"))
    undo(desk, 2, write("undo"))
    stands = {w.code: w for w in show_set(desk, "region").waypoints}
    assert stands["002"].position.latitude_deg == 48.561
    assert stands["001"].elevation_m == 390


def test_an_operation_whose_waypoint_was_changed_since_is_refused_with_the_list(desk, write, region):
    region(REGION.replace("48.5610000", "48.5620000"))
    region(REGION.replace("48.5610000", "48.5630000"))
    with pytest.raises(RefusedError) as refused:
        undo(desk, 2, write("undo"))
    assert refused.value.code == "changed-since"
    (one,) = refused.value.details["in_the_way"]
    assert one["what"] == "waypoint 002 Kelmried of set region"
    assert one["found"] == "position 48.5620000, 11.5220000 → 48.5630000, 11.5220000"
    assert one["changed_by"] == 3
    assert "taskdb undo 3" in refused.value.hint
    assert show_set(desk, "region").info.number == 3


def test_what_came_later_and_was_undone_is_not_in_the_way(desk, write, region):
    before = values(desk)
    region(REGION.replace("48.5610000", "48.5620000"))
    region(REGION.replace("48.5610000", "48.5630000"))
    undo(desk, 3, write("undo"))
    undo(desk, 2, write("undo"))
    assert values(desk) == before


def test_a_code_that_was_given_away_since_is_in_the_way(desk, write, region):
    region("".join(LINES[:4]), Mode.REPLACE)
    region("".join(LINES[:4]) + "005,Neu,47.1,12.0,400\n")
    with pytest.raises(RefusedError) as refused:
        undo(desk, 2, write("undo"))
    (one,) = refused.value.details["in_the_way"]
    assert (one["what"], one["found"]) == ("code 005 of set region", "taken by 005 Neu")


def test_an_operation_is_undone_once(desk, write, region):
    region(REGION.replace("389", "390"))
    undo(desk, 2, write("undo"))
    with pytest.raises(RefusedError, match="undone already, by operation 3") as refused:
        undo(desk, 2, write("undo"))
    assert "taskdb undo 3" in refused.value.hint


def test_another_author_s_operation_is_undone_only_when_named_and_confirmed(desk, write, region):
    other = replace(desk, author="deputy")
    with pytest.raises(NotFoundError, match="nothing of deputy to undo") as refused:
        undo(other, None, write("undo"))
    assert "by librarian: taskdb undo 1" in refused.value.hint
    with pytest.raises(NeedsConfirmation, match="by librarian, not by deputy"):
        undo(other, 1, write("undo"))
    undo(other, 1, write("undo", confirmed=True))
    assert show_set(desk, "region").info.count == 0


def test_one_s_own_newest_operation_is_undone_although_others_wrote_since(desk, write, region, csv_file):
    region(REGION.replace("389", "390"))
    other = replace(desk, author="deputy")
    import_set(other, ImportRequest(csv_file(REGION), "elsewhere"), write())
    done = undo(desk, None, write("undo"))
    assert (done.undone.number, done.undone.author) == (2, "librarian")
    assert show_set(desk, "elsewhere").info.count == 5
    # What the other one changed of the same set since is in the way, by its name.
    region(REGION.replace("389", "391"))
    import_set(other, ImportRequest(csv_file(REGION.replace("389", "392")), "region"), write())
    with pytest.raises(RefusedError) as refused:
        undo(desk, None, write("undo"))
    assert (refused.value.code, refused.value.details["operation"]) == ("changed-since", 5)


def test_undoing_as_a_preview_keeps_nothing(desk, write, region):
    done = undo(desk, None, write("undo", preview=True))
    assert done.stands[0].state.startswith("0 waypoints")
    assert show_set(desk, "region").info.number == 1
    assert read_journal(desk).total == 1


def test_undoing_a_label_brings_the_earlier_one_back(desk, write, region):
    label_set(desk, "region", "2027 edition", "2027-03-01", write("set label"))
    label_set(desk, "region", "second print", None, write("set label"))
    undo(desk, None, write("undo"))
    info = show_set(desk, "region").info
    assert (info.label, info.valid_from) == ("2027 edition", "2027-03-01")
    undo(desk, None, write("undo"))
    assert show_set(desk, "region").info.label is None


def a_contest(desk, write):
    new_contest(desk, NewContest("Varn Cup", "region", zones={Role.TURN: parse_zone("cylinder 1km")}), write())


def a_task(desk, write, name="A", contest="Varn Cup"):
    points = tuple(PointRequest(code) for code in ("001", "002", "003", "001"))
    return new_task(desk, NewTask(name, points, contest=contest), write("task new"))


def test_undoing_a_creation_retires_and_redoing_brings_back(desk, write, region):
    a_contest(desk, write)
    a_task(desk, write)
    done = undo(desk, None, write("undo"))
    assert [(s.what, s.state) for s in done.stands] == [("task Varn Cup:A@2", "retired")]
    assert list_tasks(desk) == ()
    done = undo(desk, None, write("undo"))
    assert [(s.what, s.state) for s in done.stands] == [("contest Varn Cup@2", "retired")]
    with pytest.raises(NotFoundError):
        show_contest(desk, "Varn Cup")
    undo(desk, done.operation, write("undo"))
    assert show_contest(desk, "Varn Cup").contest.zones[Role.TURN].radius_m == 1000
    undo(desk, 4, write("undo"))
    assert [row.task for row in list_tasks(desk)] == ["A"]


def test_a_contest_with_tasks_is_not_undone(desk, write, region):
    a_contest(desk, write)
    a_task(desk, write)
    with pytest.raises(RefusedError) as refused:
        undo(desk, 2, write("undo"))
    (one,) = refused.value.details["in_the_way"]
    assert (one["what"], one["changed_by"]) == ("task A of contest Varn Cup", 3)


def test_a_task_does_not_come_back_into_a_retired_contest(desk, write, region):
    a_contest(desk, write)
    a_task(desk, write)
    retired = undo(desk, None, write("undo"))
    undo(desk, None, write("undo"))
    with pytest.raises(RefusedError) as refused:
        undo(desk, retired.operation, write("undo"))
    assert refused.value.details["in_the_way"][0]["what"] == "contest Varn Cup of task A"


def test_undoing_an_edit_of_a_task_and_of_a_contest(desk, write, region):
    a_contest(desk, write)
    first = a_task(desk, write)
    edit_task(desk, "A", TaskEdit(points=((1, "004"),), values={"name": "B"}), write("task edit"))
    set_contest_zones(desk, "Varn Cup", {Role.TURN: parse_zone("cylinder 2km")}, write("contest zones"))
    undo(desk, None, write("undo"))
    assert show_contest(desk, "Varn Cup").contest.zones[Role.TURN].radius_m == 1000
    undo(desk, None, write("undo"))
    again = show_task(desk, "A")
    assert (again.task, again.revision, again.fingerprint) == (first.task, 3, first.fingerprint)


def test_a_contest_s_earlier_name_stays_on_record_and_comes_back(desk, write, region):
    a_contest(desk, write)
    a_task(desk, write)
    edit_contest(desk, "Varn Cup", ContestEdit(new_name="Varn Cup 2027"), write("contest edit"))
    assert show_contest(desk, "Varn Cup 2027@1").contest.name == "Varn Cup"
    assert [logged.info.name for logged in contest_log(desk, "Varn Cup 2027")[1]] == ["Varn Cup 2027", "Varn Cup"]
    done = undo(desk, None, write("undo"))
    assert [(s.what, s.state) for s in done.stands] == [("contest Varn Cup@3", "as in Varn Cup@1")]
    assert show_task(desk, "A").task.contest == "Varn Cup"
    undo(desk, done.operation, write("undo"))
    a_contest(desk, write)
    with pytest.raises(RefusedError) as refused:
        undo(desk, 4, write("undo"))
    assert refused.value.details["in_the_way"][0]["what"] == "name of contest Varn Cup"


def test_a_task_edited_since_is_in_the_way(desk, write, region):
    a_contest(desk, write)
    a_task(desk, write)
    edit_task(desk, "A", TaskEdit(points=((1, "004"),)), write("task edit"))
    edit_task(desk, "A", TaskEdit(points=((1, "005"),)), write("task edit"))
    with pytest.raises(RefusedError) as refused:
        undo(desk, 4, write("undo"))
    (one,) = refused.value.details["in_the_way"]
    assert (one["what"], one["left"], one["changed_by"]) == ("task Varn Cup:A", "revision 2", 5)


def test_a_name_that_another_task_took_is_in_the_way(desk, write, region):
    a_contest(desk, write)
    a_task(desk, write)
    edit_task(desk, "A", TaskEdit(values={"name": "B"}), write("task edit"))
    a_task(desk, write, "A")
    with pytest.raises(RefusedError) as refused:
        undo(desk, 4, write("undo"))
    assert refused.value.details["in_the_way"][0]["what"] == "name of task A"


def test_restoring_makes_a_revision_equal_to_an_earlier_one(desk, write, region):
    before = values(desk)
    region(REGION.replace("48.5610000", "48.5620000") + "006,Neu,48.1,12.0,400\n")
    region("".join(LINES[1:]), Mode.REPLACE)
    done = restore_set(desk, "region@1", write("set restore"))
    assert (done.revision, done.equal_to, done.count) == (4, 1, 5)
    assert values(desk) == before
    assert [w.code for w in done.difference.added] == ["001"]


def test_restoring_what_stands_makes_no_revision(desk, write, region):
    region(REGION.replace("389", "390"))
    region(REGION)
    assert restore_set(desk, "region@1", write()).revision == 3
    assert len(set_log(desk, "region")[1]) == 3
    with pytest.raises(UsageError, match="newest"):
        restore_set(desk, "region@3", write())


def test_restoring_tells_the_tasks_that_use_what_changes(desk, write, region):
    region(REGION.replace("48.5610000", "48.5620000"))
    a_contest(desk, write)
    a_task(desk, write)
    done = restore_set(desk, "region@1", write())
    assert [(use.head.name, use.codes) for use in done.tasks] == [("A", ("002",))]


def test_a_label_belongs_to_its_revision_and_can_be_taken_away(desk, write, region):
    info = label_set(desk, "region@1", " 2027 edition ", "2027-03-01", write())
    assert (info.label, info.valid_from) == ("2027 edition", "2027-03-01")
    region(REGION.replace("389", "390"))
    assert show_set(desk, "region").info.label is None
    assert show_set(desk, "region@1").info.label == "2027 edition"
    label_set(desk, "region@1", "2027 edition", "2027-03-01", write())
    assert read_journal(desk).total == 3  # the same label again is no operation
    label_set(desk, "region@1", "", None, write())
    assert show_set(desk, "region@1").info.label is None
    with pytest.raises(UsageError):
        label_set(desk, "region", "x" * 201, None, write())


def test_a_copy_keeps_the_identities(desk, write, region):
    done = copy_set(desk, "region", "contest points", write())
    assert (done.set_name, done.revision, done.count) == ("contest points", 1, 5)
    assert diff_sets(desk, "region", "contest points").difference.is_empty
    assert values(desk, "contest points") == values(desk)
    with pytest.raises(RefusedError, match="already"):
        copy_set(desk, "region", "contest points", write())


def test_two_sets_without_common_identities_are_matched(desk, write, region):
    rows = [line.split(",", 1)[1] for line in LINES]
    region("".join(f"N{number},{row}" for number, row in enumerate(rows)), into="other")
    differed = diff_sets(desk, "region", "other")
    assert (differed.counts.changed, differed.counts.renumbered, differed.counts.added) == (5, 5, 0)
    assert len(differed.matched) == 5


def test_differences_are_told_with_tolerance_and_tasks(desk, write, region):
    a_contest(desk, write)
    a_task(desk, write)
    region(REGION.replace("48.5610000", "48.5610050").replace("49.0510000", "49.0520000").replace("389", "391"))
    full = diff_sets(desk, "region@1", "region@2", with_tasks=True)
    assert (full.counts.moved, full.counts.others) == (2, 1)
    assert [(use.head.name, use.codes) for use in full.tasks] == [("A", ("001", "002", "003"))]
    rough = diff_sets(desk, "region@1", "region@2", tolerance_m=1.0)
    assert (rough.left_out.moves, rough.left_out.waypoints, rough.counts.moved) == (1, 1, 1)
    assert [fact.new.code for fact in rough.facts] == ["001", "003"]


def test_one_reference_means_against_the_newest_or_the_one_before(desk, write, region):
    with pytest.raises(UsageError, match="one revision"):
        diff_sets(desk, "region")
    region(REGION.replace("389", "390"))
    region(REGION.replace("389", "391"))
    differed = diff_sets(desk, "region")
    assert (str(differed.old), str(differed.new)) == ("region@2", "region@3")
    assert str(diff_sets(desk, "region@1").new) == "region@3"


def test_undoing_takes_back_accepted_findings_flown_records_and_pointers_of_merged_duplicates(desk, write, region):
    a_contest(desk, write)
    a_task(desk, write)
    dropped, kept = (show_set(desk, "region").waypoints[n] for n in (3, 4))
    with writing_rows(desk, write("check merge")) as writing:
        c = writing.connection
        head = sets.set_head(writing.connection, sets.find_set(c, "region").id)
        number = sets.write_revision(writing, head, SetChanges(retired=[dropped]))
        sets.add_successor(writing, head.id, dropped=dropped.identity, kept=kept.identity, from_revision=number)
        write_acceptances(writing, head.id, {"f1": "same-place"}, "a silo and its yard")
        write_flown(writing, find_task(c, "A", find_contest(c, "Varn Cup").id).id, FlownRecord("2027-05-14"))

    def seen():
        with desk.store.reading() as c:
            head = sets.find_set(c, "region")
            flown = flown_records(c, find_task(c, "A", find_contest(c, "Varn Cup").id).id)
            return sets.successors(c, head.id, head.newest), dict(accepted_findings(c, head.id)), flown

    done = seen()
    assert done[0] == {dropped.identity: kept.identity} and list(done[1]) == ["f1"] and len(done[2]) == 1
    undone = undo(desk, None, write("undo"))
    assert [(s.what, s.state) for s in undone.stands] == [
        ("set region@3", "5 waypoints; 1 brought back; equal to region@1"),
        ("finding f1 of set region", "not accepted"),
        ("flown record of task Varn Cup:A on 2027-05-14", "withdrawn"),
        ("pointer of the merged duplicate 004 Greifenlohe of set region", "none"),
    ]
    pointers, accepted, flown = seen()
    assert pointers.get(dropped.identity, dropped.identity) == dropped.identity
    assert accepted == {} and flown == ()
    undo(desk, undone.operation, write("undo"))
    assert seen() == done


def test_moving_a_contest_s_pin_names_the_tasks_that_become_stale_and_good_again(desk, write, region):
    a_contest(desk, write)
    a_task(desk, write)
    points = tuple(PointRequest(code) for code in ("001", "003", "004", "001"))
    new_task(desk, NewTask("B", points, contest="Varn Cup"), write("task new"))
    region(REGION.replace("48.5610000", "48.5620000"))
    pinned = pin_contest(desk, "Varn Cup", "region@2", write("contest pin"))
    assert (pinned.became_stale, pinned.became_current, pinned.stale_tasks) == (("A",), (), ("A",))
    again = pin_contest(desk, "Varn Cup", "region@2", write("contest pin"))
    assert (again.became_stale, again.revision, again.stale_tasks) == ((), 2, ("A",))
    back = undo(desk, None, write("undo"))
    assert [(s.what, s.state) for s in back.stands] == [("contest Varn Cup@3", "as in Varn Cup@1")]
    assert show_contest(desk, "Varn Cup").stale_tasks == ()


def test_of_two_that_undo_one_operation_at_once_one_does_and_the_other_is_told(desk, write, region):
    region(REGION.replace("48.5610000", "48.5620000"))
    outcomes = []

    def act():
        try:
            undo(replace(desk), 2, write("undo"))
            outcomes.append("done")
        except RefusedError as refused:
            outcomes.append(refused.code)

    threads = [threading.Thread(target=act) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert outcomes.count("done") == 1
    assert set(outcomes) <= {"done", "already-undone", "changed-since"}
    assert show_set(desk, "region").info.number == 3
