"""The history of sets: differences between any two revisions, going back to one, labels, copies."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from taskdb.core.history.changes import SetChanges, SetDiff, diff
from taskdb.core.history.facts import ChangeFacts, Counts, LeftOut, count_facts, facts_of, within_tolerance
from taskdb.core.matching.match import Match, match_waypoints
from taskdb.core.names import NAME_LIMIT, clean_text, require_name
from taskdb.core.pasted import command_line, quoted
from taskdb.errors import RefusedError, UsageError
from taskdb.services.desk import Desk, Write
from taskdb.services.references import SetAt, resolve_set
from taskdb.store import past, sets as set_rows, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.core.kept import SetRevisionInfo, TaskUse
    from taskdb.core.model import Waypoint
    from taskdb.store.engine import Connection, Writing
    from taskdb.store.sets import SetHead


@dataclass(frozen=True)
class Differed:
    """What differs between two revisions, in the order old, new; `facts` are those of its changes, in their order.

    `tasks` are the saved tasks whose newest revision uses a changed or retired waypoint; None where not asked for.
    `matched` are the pairs found otherwise than by identity, where two different sets are compared.
    """

    old: SetAt
    new: SetAt
    difference: SetDiff
    facts: tuple[ChangeFacts, ...]
    counts: Counts
    left_out: LeftOut
    tolerance_m: float
    tasks: tuple[TaskUse, ...] | None
    matched: tuple[Match, ...]


def diff_sets(
    desk: Desk, old: str, new: str | None = None, *, tolerance_m: float = 0.0, with_tasks: bool = False
) -> Differed:
    """Return what differs between two revisions, of one set or of two.

    With one reference: `SET@3` against the newest, `SET` its newest revision against the one before.
    """
    with desk.store.reading() as c:
        first, second = resolve_two(c, old, new)
        difference, matched = difference_between(c, first, second)
        difference, left_out = within_tolerance(difference, tolerance_m)
        tasks = task_rows.tasks_using(c, _touched(difference)) if with_tasks else None
    facts = tuple(facts_of(change) for change in difference.changed)
    counts = count_facts(difference, facts)
    return Differed(first, second, difference, facts, counts, left_out, tolerance_m, tasks, matched)


def resolve_two(c: Connection, old: str, new: str | None) -> tuple[SetAt, SetAt]:
    """Return both sides of a comparison. UsageError where one reference is given and there is nothing before it."""
    first = resolve_set(c, old)
    if new is not None:
        return first, resolve_set(c, new)
    if first.revision < first.head.newest:
        return first, SetAt(first.head, first.head.newest)
    if first.revision == 1:
        raise UsageError(
            "one-revision",
            f"The set {first.head.name!r} has one revision; there is none before it to compare with.",
            hint="Name two: taskdb set diff SET@1 SET@2",
        )
    return SetAt(first.head, first.revision - 1), first


def difference_between(c: Connection, old: SetAt, new: SetAt) -> tuple[SetDiff, tuple[Match, ...]]:
    """Return what turns one revision into another; of one set at the cost of what changed, not of what it holds.

    Two sets are matched by identity first, then as an import would be; the old half of a change keeps its identity.
    """
    if old.head.id == new.head.id:
        return diff(*set_rows.touched_between(c, old.head.id, old.revision, new.revision)), ()
    before = set_rows.waypoints_at(c, old.head.id, old.revision)
    after = set_rows.waypoints_at(c, new.head.id, new.revision)
    return _difference_across(before, after)


def _difference_across(before: Sequence[Waypoint], after: Sequence[Waypoint]) -> tuple[SetDiff, tuple[Match, ...]]:
    matching = match_waypoints(before, after, nearby=True)
    renamed = list(after)
    for pair in matching.pairs:
        renamed[pair.new_index] = replace(after[pair.new_index], identity=before[pair.old_index].identity)
    told = tuple(pair for pair in matching.pairs if before[pair.old_index].identity != after[pair.new_index].identity)
    # Unmatched waypoints keep identities of their own, so what is unmatched here is added or retired.
    return diff(before, renamed), told


def _touched(difference: SetDiff) -> list[str]:
    return [waypoint.identity for waypoint in difference.bases if waypoint.identity is not None]


@dataclass(frozen=True)
class DiffWritten:
    path: str
    bytes: int


def write_diff_geojson(differed: Differed, path: str, *, overwrite: bool) -> DiffWritten:
    """Write a difference as GeoJSON, for a map. RefusedError where the file exists and `overwrite` is not given."""
    from taskdb.core.history.writers import diff_geojson
    from taskdb.files.writing import write_new

    text = json.dumps(diff_geojson(differed.difference), ensure_ascii=False, indent=1) + "\n"
    return DiffWritten(path, write_new(path, text.encode("utf-8"), overwrite=overwrite))


@dataclass(frozen=True)
class Restored:
    """A set that stands as it did at `equal_to`. `revision` is the newest; `difference` is what going back changed.

    `tasks` are the saved tasks that use a waypoint which that changed or retired.
    """

    set_name: str
    revision: int
    equal_to: int
    count: int
    difference: SetDiff
    facts: tuple[ChangeFacts, ...]
    tasks: tuple[TaskUse, ...]


def restore_set(desk: Desk, reference: str, write: Write) -> Restored:
    """Make a new revision that equals an earlier one; none where the newest equals it already."""

    def work(writing: Writing) -> Restored:
        c = writing.connection
        at = resolve_set(c, reference)
        head = at.head
        if at.revision == head.newest:
            earlier = quoted(f"{head.name}@{max(1, head.newest - 1)}")
            raise UsageError(
                "newest-revision",
                f"{at} is the newest revision; there is nothing to go back to.",
                hint=f"Name an earlier one, e.g. {earlier}; see `{command_line('set log', head.name)}`.",
            )
        difference, _ = difference_between(c, SetAt(head, head.newest), at)
        tasks = task_rows.tasks_using(c, _touched(difference))
        revision = write_difference(writing, head, difference)
        info = set_rows.revision_info(c, head.id, revision)
        assert info is not None  # it stands, or was written just now
        facts = tuple(facts_of(change) for change in difference.changed)
        return Restored(head.name, revision, at.revision, info.count, difference, facts, tasks)

    return desk.write(write, work)


def write_difference(writing: Writing, head: SetHead, difference: SetDiff) -> int:
    """Write a difference as a set's next revision and return its number; where nothing differs, abandon the write."""
    if difference.is_empty:
        writing.abandon()
        return head.newest
    changes = SetChanges(added=difference.added, changed=difference.changed, retired=difference.retired)
    return set_rows.write_revision(writing, head, changes)


def label_set(desk: Desk, reference: str, label: str, valid_from: str | None, write: Write) -> SetRevisionInfo:
    """Give a revision a label, and the date from which it holds; an empty label takes both away."""
    text = clean_text(label)
    if len(text) > NAME_LIMIT:
        raise UsageError(
            "label-too-long", f"The label has {len(text)} characters; {NAME_LIMIT} can be kept.", hint="Shorten it."
        )
    if not text and valid_from is not None:
        raise UsageError(
            "date-without-label", "A date belongs to a label; the label is empty.", hint="Give both, or neither."
        )

    def work(writing: Writing) -> SetRevisionInfo:
        c = writing.connection
        at = resolve_set(c, reference)
        info = set_rows.revision_info(c, at.head.id, at.revision)
        assert info is not None  # resolve_set vouches for the revision
        if ((info.label or ""), info.valid_from) == (text, valid_from):
            writing.abandon()
            return info
        set_rows.set_label(writing, at.head.id, at.revision, text or None, valid_from)
        after = set_rows.revision_info(c, at.head.id, at.revision)
        assert after is not None
        return after

    return desk.write(write, work)


@dataclass(frozen=True)
class Copied:
    source: SetAt
    set_name: str
    revision: int
    count: int


def copy_set(desk: Desk, reference: str, new_name: str, write: Write) -> Copied:
    """Copy a set's revision into a new set. The waypoints keep their identities: the sets stay linked."""
    name = require_name(new_name, what="set")

    def work(writing: Writing) -> Copied:
        c = writing.connection
        at = resolve_set(c, reference)
        if set_rows.find_set(c, name) is not None:
            raise RefusedError(
                "set-exists",
                f"There is a set {name!r} already.",
                hint="Choose another name; to bring corrections over, see `taskdb set patch` and `taskdb set apply`.",
            )
        waypoints = set_rows.waypoints_at(c, at.head.id, at.revision)
        head = set_rows.create_set(writing, name)
        revision = set_rows.write_revision(writing, head, SetChanges(added=waypoints))
        return Copied(at, name, revision, len(waypoints))

    return desk.write(write, work)


def reasons_between(c: Connection, old: SetAt, new: SetAt) -> list[SetRevisionInfo]:
    """Return the revisions of one set that lead from one to another, oldest first; none for two sets or backwards."""
    if old.head.id != new.head.id:
        return []
    log = set_rows.set_log(c, new.head.id)
    return [info for info in reversed(log) if old.revision < info.number <= new.revision]


def touched_by(c: Connection, old: SetAt, new: SetAt, identities: Iterable[str]) -> dict[str, tuple[int, ...]]:
    """Return for waypoints of one set the revisions between two that touched them."""
    if old.head.id != new.head.id:
        return {}
    touching = past.revisions_touching(c, new.head.id, old.revision, new.revision)
    return {identity: touching.get(identity, ()) for identity in identities}
