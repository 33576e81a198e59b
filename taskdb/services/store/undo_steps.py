"""The parts of undoing an operation: one step for each set, airspace, contest, task and record that it wrote.

A step knows what stands in its way, and how to write what stood before. Steps are planned first and run only where
none has an obstacle.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.history.changes import SetChanges, changed_fields
from taskdb.core.history.words import field_words
from taskdb.core.model import Waypoint
from taskdb.core.numbers import counted
from taskdb.services.airspace.airspace import revision_after
from taskdb.services.tasks.keeping import measured_as_kept, save_task
from taskdb.store import (
    airspaces as airspace_rows,
    contests as contest_rows,
    past,
    sets as set_rows,
    task_lines,
    tasks as task_rows,
    undoing as undo_rows,
)
from taskdb.store.operation_log import operation_of
from taskdb.store.undoing import Register, RowChange, Span, Written

if TYPE_CHECKING:
    from taskdb.core.kept import TaskHead
    from taskdb.store.engine import Writing


@dataclass(frozen=True)
class Obstacle:
    """Something that is not as the operation left it: what, how it was left, what is found, changed by which one."""

    what: str
    left: str
    found: str
    since: int | None


@dataclass(frozen=True)
class Stands:
    """What stands now: `set region@4`, and in words how it is."""

    what: str
    state: str


@dataclass(frozen=True)
class Step:
    obstacles: tuple[Obstacle, ...]
    run: Callable[[], Stands]


def plan_undo(writing: Writing, written: Written) -> list[Step]:
    """Return the steps that set back all that was written: sets first, then airspace, contests, tasks, records."""
    revisions: dict[int, int] = {}
    """The revision that a set gets by being set back: pointers of merged duplicates hold from there."""
    steps = [_set_step(writing, span, revisions) for span in written.sets]
    steps += [_airspace_step(writing, span) for span in written.airspaces]
    coming_back = {span.id for span in written.contests}
    retiring = {span.id for span in written.tasks}
    steps += [_contest_step(writing, span, retiring) for span in written.contests]
    steps += [_task_step(writing, span, coming_back) for span in written.tasks]
    steps += [_row_step(writing, change, revisions) for change in written.rows]
    return steps


# -- sets --------------------------------------------------------------------------------------------------------


def _set_step(writing: Writing, span: Span, revisions: dict[int, int]) -> Step:
    c = writing.connection
    head = set_rows.set_head(writing.connection, span.id)
    halves = set_rows.touched_between(c, span.id, span.first - 1, span.last)
    before, left = ({_identity(w): w for w in half} for half in halves)
    touched = dict.fromkeys((*before, *left))
    now = set_rows.waypoints_with_identities(c, span.id, head.newest, touched)
    obstacles = []
    for identity in touched:
        was_left, found = left.get(identity), now.get(identity)
        if not _alike(was_left, found):
            since = past.last_touched_by(c, span.id, identity)
            obstacles.append(_waypoint_obstacle(head.name, was_left, found, before.get(identity), since))
    wanted = {w.code: identity for identity, w in before.items()}
    for code, holder in set_rows.waypoints_with_codes(c, span.id, head.newest, wanted).items():
        if _identity(holder) not in touched:
            since = past.last_touched_by(c, span.id, _identity(holder))
            obstacles.append(
                Obstacle(f"code {code} of set {head.name}", "free", f"taken by {_named(holder)}", since)
            )  # fmt: skip
    changes = SetChanges(
        added=[before[i] for i in touched if i in before and i not in now],
        changed=[(now[i], before[i]) for i in touched if i in before and i in now],
        retired=[now[i] for i in touched if i not in before and i in now],
    )

    def run() -> Stands:
        revision = set_rows.write_revision(writing, head, changes)
        revisions[head.id] = revision
        info = set_rows.revision_info(c, head.id, revision)
        assert info is not None  # it was written just now
        state = f"{counted(info.count, 'waypoint')}; {_set_words(changes)}"
        if head.newest == span.last and span.first > 1:
            state += f"; equal to {head.name}@{span.first - 1}"
        return Stands(f"set {head.name}@{revision}", state)

    return Step(tuple(obstacles), run)


def _set_words(changes: SetChanges) -> str:
    parts = [
        f"{len(list(items))} {word}"
        for items, word in (
            (changes.changed, "set back"),
            (changes.added, "brought back"),
            (changes.retired, "retired"),
        )
        if items
    ]
    return ", ".join(parts) or "none touched"


def _alike(left: Waypoint | None, found: Waypoint | None) -> bool:
    if left is None or found is None:
        return left is found
    return not changed_fields(left, found)


def _waypoint_obstacle(
    set_name: str, left: Waypoint | None, found: Waypoint | None, before: Waypoint | None, since: int | None
) -> Obstacle:
    known = left or found or before
    assert known is not None  # it was touched
    what = f"waypoint {_named(known)} of set {set_name}"
    if left is None or found is None:
        return Obstacle(what, "retired" if left is None else "standing", _standing(found), since)
    differing = changed_fields(left, found)
    return Obstacle(what, "unchanged", "; ".join(field_words(name, left, found) for name in differing), since)


def _standing(found: Waypoint | None) -> str:
    return "retired" if found is None else f"standing as {_named(found)}"


def _named(waypoint: Waypoint) -> str:
    return f"{waypoint.code} {waypoint.name}".strip()


def _identity(waypoint: Waypoint) -> str:
    assert waypoint.identity is not None  # everything that is read from the store has one
    return waypoint.identity


# -- airspace ----------------------------------------------------------------------------------------------------


def _airspace_step(writing: Writing, span: Span) -> Step:
    c = writing.connection
    head = airspace_rows.airspace_head(writing.connection, span.id)
    before, left, now = (
        {volume.name: volume for volume in airspace_rows.volumes_at(c, head.id, number)}
        for number in (span.first - 1, span.last, head.newest)
    )
    touched = [name for name in sorted({*before, *left}) if before.get(name) != left.get(name)]
    since = operation_of(c, "airspace", head.id, head.newest)
    obstacles = tuple(
        Obstacle(
            f"volume {name} of airspace {head.name}",
            "standing" if name in left else "retired",
            ("standing, and differs" if name in left else "standing") if name in now else "retired",
            since,
        )
        for name in touched
        if now.get(name) != left.get(name)
    )
    wanted = {name: volume for name, volume in now.items() if name not in touched}
    wanted |= {name: before[name] for name in touched if name in before}
    volumes = tuple(wanted[name] for name in sorted(wanted))

    def run() -> Stands:
        written = airspace_rows.write_airspace(writing, head, revision_after(tuple(now.values()), volumes, source=None))
        state = counted(len(volumes), "volume")
        if head.newest == span.last and span.first > 1:
            state += f"; equal to {head.name}@{span.first - 1}"
        return Stands(f"airspace {written.name}@{written.newest}", state)

    return Step(obstacles, run)


# -- contests and tasks ------------------------------------------------------------------------------------------


def _contest_step(writing: Writing, span: Span, retiring: set[int]) -> Step:
    c = writing.connection
    head = contest_rows.contest_head(writing.connection, span.id)
    left = contest_rows.contest_at(c, head.id, span.last), contest_rows.contest_info(c, head.id, span.last).retired
    found = contest_rows.contest_at(c, head.id, head.newest), head.retired
    obstacles = []
    if left != found:
        since = operation_of(c, "contest", head.id, head.newest)
        obstacles.append(_revised(f"contest {head.name}", span.last, head.newest, head.retired, since))
    is_creation = span.first == 1
    if is_creation:
        for row in task_lines.list_tasks(c, contest_id=head.id):
            if row.head.id not in retiring:
                since = operation_of(c, "task", row.head.id, 1)
                obstacles.append(Obstacle(f"task {row.task} of contest {head.name}", "not made yet", "standing", since))
    value, retired = left[0], True
    if not is_creation:
        value = contest_rows.contest_at(c, head.id, span.first - 1)
        retired = contest_rows.contest_info(c, head.id, span.first - 1).retired
    taken = contest_rows.find_contest(c, value.name)
    if taken is not None and taken.id != head.id:
        since = operation_of(c, "contest", taken.id, 1)
        obstacles.append(Obstacle(f"name of contest {value.name}", "free", "another contest has it", since))

    def run() -> Stands:
        written = contest_rows.write_contest(writing, head, value, retired=retired)
        state = "retired" if retired else f"as in {value.name}@{span.first - 1}"
        return Stands(f"contest {written.name}@{written.newest}", state)

    return Step(tuple(obstacles), run)


def _task_step(writing: Writing, span: Span, coming_back: set[int]) -> Step:
    c = writing.connection
    head = task_rows.task_head(writing.connection, span.id)
    called = _task_name(head)
    left = task_rows.task_at(c, head.id, span.last), task_rows.task_info(c, head.id, span.last).retired
    found = task_rows.task_at(c, head.id, head.newest), head.retired
    obstacles = []
    if left != found:
        since = operation_of(c, "task", head.id, head.newest)
        obstacles.append(_revised(f"task {called}", span.last, head.newest, head.retired, since))
    value, retired, kept_at = left[0], True, span.last
    if span.first > 1:
        kept_at = span.first - 1
        value = task_rows.task_at(c, head.id, kept_at)
        retired = task_rows.task_info(c, head.id, kept_at).retired
    taken = task_rows.find_task(c, value.name, head.contest_id)
    if taken is not None and taken.id != head.id:
        since = operation_of(c, "task", taken.id, 1)
        obstacles.append(Obstacle(f"name of task {value.name}", "free", "another task has it", since))
    if not retired and head.contest_name is not None and head.contest_id not in coming_back:
        contest = contest_rows.find_contest(c, head.contest_name)
        if contest is not None and contest.retired:
            since = operation_of(c, "contest", contest.id, contest.newest)
            obstacles.append(Obstacle(f"contest {contest.name} of task {head.name}", "standing", "retired", since))
    course = measured_as_kept(c, head, kept_at, value)

    def run() -> Stands:
        written = save_task(writing, head, head.contest_id, value, retired=retired, course=course)
        state = "retired" if retired else f"as in {called}@{span.first - 1}"
        return Stands(f"task {_task_name(written)}@{written.newest}", state)

    return Step(tuple(obstacles), run)


def _task_name(head: TaskHead) -> str:
    return f"{head.contest_name}:{head.name}" if head.contest_name else head.name


def _revised(what: str, left: int, found: int, retired: bool, since: int | None) -> Obstacle:
    state = f"revision {found}, retired" if retired else f"revision {found}, which differs"
    return Obstacle(what, f"revision {left}", state, since)


# -- labels, findings, flown records, pointers of merged duplicates ----------------------------------------------


def _row_step(writing: Writing, change: RowChange, revisions: Mapping[int, int]) -> Step:
    what = _row_name(writing, change)
    obstacles: tuple[Obstacle, ...] = ()
    if not change.stands:
        obstacles = (
            Obstacle(what, _row_words(change.register, change.left), _row_words(change.register, change.found),
                     change.found_by),
        )  # fmt: skip

    def run() -> Stands:
        revision = 0
        if change.register is Register.SUCCESSOR:
            set_id = change.key["set_id"]
            revision = revisions.get(set_id) or set_rows.set_head(writing.connection, set_id).newest
        values = undo_rows.set_back(writing, change, revision)
        return Stands(what, _row_words(change.register, values))

    return Step(obstacles, run)


def _row_name(writing: Writing, change: RowChange) -> str:
    c = writing.connection
    key = change.key
    if change.register is Register.FLOWN:
        task = _task_name(task_rows.task_head(c, key["task_id"]))
        return f"flown record of task {task} on {key['flown_on']}"
    name = set_rows.set_head(c, key["set_id"]).name
    if change.register is Register.LABEL:
        return f"label of {name}@{key['number']}"
    if change.register is Register.FINDING:
        return f"finding {key['finding']} of set {name}"
    holders = set_rows.waypoint_history(c, key["set_id"], key["dropped"])
    return f"pointer of the merged duplicate {_named(holders[-1][2]) if holders else key['dropped']} of set {name}"


def _row_words(register: Register, values: Mapping[str, object]) -> str:
    if register is Register.LABEL:
        label, since = values["label"], values["valid_from"]
        if label is None:
            return "none"
        return f"{label!r}" + (f", valid from {since}" if since else "")
    if register is Register.FINDING:
        return "accepted" if values["accepted"] else "not accepted"
    if register is Register.FLOWN:
        return "withdrawn" if values["withdrawn"] else "kept"
    return "none" if values["kept"] == values["dropped"] else "kept"
