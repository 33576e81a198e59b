"""Mending what was found: taking a mend, a reviewed batch of mends, joining two duplicates.

Nothing is mended that a person did not name; each command makes one revision and says which tasks become stale.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from taskdb.core.checks.taking import NotTaken, WantedMend, take_mends
from taskdb.core.history.changes import SetChanges, changed_fields
from taskdb.core.history.facts import ChangeFacts, facts_of
from taskdb.core.model import VALUE_FIELDS, Finding, Suggestion, Waypoint
from taskdb.core.numbers import some_of
from taskdb.core.pasted import command_line
from taskdb.core.plain import finding_plain
from taskdb.errors import InputError, NotFoundError, RefusedError, UsageError
from taskdb.files.reading import open_input
from taskdb.files.writing import require_new, write_file
from taskdb.formats.limits import require_few_lists
from taskdb.services.checks.check import Checked, CheckRequest, run_on, stands_of
from taskdb.services.desk import Desk, Progress, Write, require_confirmed
from taskdb.services.references import SetAt, resolve_set, resolve_waypoint, task_title
from taskdb.store import sets as set_rows, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.store.engine import Connection, Writing

PLAN_SCHEMA = "taskdb.check-plan/1"
PLAN_LIMIT_BYTES = 32_000_000
_NAMED = 12


@dataclass(frozen=True)
class Pick:
    """A mend to take: a finding, and which of its suggestions (0: the first; 1…: the alternatives)."""

    finding: str
    choice: int = 0


@dataclass(frozen=True)
class Mended:
    """What was mended in one revision; `stale_tasks` are the saved tasks that use a mended point.

    `not_taken` are mends that were asked for and did not hold once others were taken.
    """

    set_name: str
    revision: int
    changes: tuple[tuple[Waypoint, Waypoint], ...]
    retired: tuple[Waypoint, ...]
    stale_tasks: tuple[str, ...]
    not_taken: tuple[NotTaken, ...] = ()

    @property
    def facts(self) -> tuple[ChangeFacts, ...]:
        """What each change amounts to."""
        return tuple(map(facts_of, self.changes))


def fix_findings(
    desk: Desk, request: CheckRequest, picks: Sequence[Pick] | None, write: Write, progress: Progress | None = None
) -> Mended:
    """Take the mends of findings in one revision, of one point one after another while they hold.

    RefusedError where a finding has no mend, or two contradict each other. `picks` None takes all that are almost
    surely right, once confirmed.
    """
    stands = stands_of(desk, request, progress)

    def work(writing: Writing) -> Mended:
        c = writing.connection
        today = desk.now().date().isoformat()

        checked = run_on(c, request, stands, today=today, progress=progress)
        head = checked.at.head
        if checked.at.revision != head.newest:
            raise RefusedError(
                "old-revision", f"{checked.at} is not the newest revision.", hint=f"Check and mend {head.name}."
            )
        taken = _sure_picks(checked, write) if picks is None else picks
        wanted = {(one.finding.id, one.choice): one for one in (_wanted(checked, pick) for pick in taken)}
        after, not_taken = take_mends(
            checked.at.head.name,
            checked.waypoints,
            tuple(wanted.values()),
            lambda mended: run_on(c, request, stands, today=today, mended=mended).findings,
        )
        changes = tuple((checked.waypoints[code], mended) for code, mended in sorted(after.items()))
        changes = tuple((old, new) for old, new in changes if changed_fields(old, new))
        return replace(_written(writing, checked.at, changes, ()), not_taken=not_taken)

    return desk.write(write, work)


def _wanted(checked: Checked, pick: Pick) -> WantedMend:
    finding = named_finding(checked, pick.finding)
    return WantedMend(finding, pick.choice, _suggestion(finding, pick.choice))


def _sure_picks(checked: Checked, write: Write) -> tuple[Pick, ...]:
    """Return the first mends that are almost surely right; NeedsConfirmation unless the write was confirmed."""
    sure = checked.sure
    codes = [finding.codes[0] for finding in sure]
    if sure:
        require_confirmed(
            write,
            f"{len(codes)} waypoint(s) of {checked.at.head.name} are moved: {some_of(codes, _NAMED)}. Go ahead?",
            codes=codes,
        )
    return tuple(Pick(finding.id) for finding in sure)


def plan_fixes(desk: Desk, request: CheckRequest, path: str, *, overwrite: bool = False) -> int:
    """Write the open findings that have a mend as a plan to review; return how many. Each `take` is null at first."""
    require_new(path, overwrite=overwrite)
    stands = stands_of(desk, request)
    with desk.store.reading() as c:
        checked = run_on(c, request, stands, today=desk.now().date().isoformat())
    open_ones = [f for f in checked.findings if f.accepted is None and f.suggestion is not None]
    document = {
        "schema": PLAN_SCHEMA,
        "set": str(checked.at),
        "how": "Set take to 0 for the suggestion, 1 for the first alternative and so on; null leaves the finding.",
        "findings": [{"take": None, **finding_plain(finding)} for finding in open_ones],
    }
    write_file(path, (json.dumps(document, ensure_ascii=False, indent=2) + "\n").encode("utf-8"))
    return len(open_ones)


def read_plan(path: str) -> tuple[Pick, ...]:
    """Return the mends that a reviewed plan takes. InputError where it is no plan, naming the place."""
    with open_input(path, PLAN_LIMIT_BYTES) as stream:
        content = stream.read()
        require_few_lists(content)
        try:
            document = json.loads(content.decode("utf-8"))
            entries = document["findings"]
            is_plan = document["schema"] == PLAN_SCHEMA and isinstance(entries, list)
        except (ValueError, KeyError, TypeError, RecursionError) as error:
            raise _no_plan(path, str(error)) from None
    if not is_plan:
        raise _no_plan(path, f"its schema is not {PLAN_SCHEMA}")
    picks = []
    for number, entry in enumerate(entries):
        take = entry.get("take") if isinstance(entry, Mapping) else False
        if take is None:
            continue
        if isinstance(take, bool) or not isinstance(take, int) or take < 0 or not isinstance(entry.get("id"), str):
            raise _no_plan(path, f"entry {number}: take is {take!r} and no number from 0 on")
        picks.append(Pick(entry["id"], take))
    return tuple(picks)


def _no_plan(path: str, reason: str) -> InputError:
    return InputError("not-a-plan", f"{path}: {reason}.", hint="Make one with `taskdb check fix SET --plan FILE`.")


def merge_duplicates(desk: Desk, set_reference: str, keep: str, drop: str, write: Write) -> Mended:
    """Join two waypoints field by field: what the kept one lacks it takes from the dropped one, which is retired.

    The dropped one points to the kept one: carrying a task over follows it.
    """

    def work(writing: Writing) -> Mended:
        c = writing.connection
        at = resolve_set(c, set_reference)
        if at.revision != at.head.newest:
            raise RefusedError("old-revision", f"{at} is not the newest revision.", hint=f"Merge in {at.head.name}.")
        kept, dropped = (resolve_waypoint(c, reference, at) for reference in (keep, drop))
        if kept.identity == dropped.identity:
            raise UsageError("same-waypoint", f"{keep!r} and {drop!r} are one waypoint.", hint="Name two.")
        joined = _joined(kept, dropped)
        changes = ((kept, joined),) if changed_fields(kept, joined) else ()
        mended = _written(writing, at, changes, (dropped,))
        assert kept.identity is not None and dropped.identity is not None  # what stands in a set has one
        set_rows.add_successor(
            writing, at.head.id, dropped=dropped.identity, kept=kept.identity, from_revision=mended.revision
        )
        return mended

    return desk.write(write, work)


def _joined(kept: Waypoint, dropped: Waypoint) -> Waypoint:
    missing: dict[str, Any] = {
        name: getattr(dropped, name) for name in VALUE_FIELDS if getattr(kept, name) in (None, (), "")
    }
    return replace(kept, **missing)


def named_finding(checked: Checked, finding_id: str) -> Finding:
    """Return the finding whose id is or begins with `finding_id`; NotFoundError for none, RefusedError for several."""
    hits = [finding for finding in checked.findings if finding.id.startswith(finding_id)] if finding_id else []
    if len(hits) > 1:
        raise RefusedError(
            "ambiguous-finding", f"{finding_id!r} begins {len(hits)} findings.", hint="Write more of its id."
        )
    if not hits:
        raise NotFoundError(
            "finding-not-found",
            f"There is no finding {finding_id!r} in {checked.at}.",
            hint=f"`{command_line('check run', checked.at.head.name)}` lists them; give the same --against as there. "
            "Those of tasks are listed by `taskdb task review`.",
        )
    return hits[0]


def _suggestion(finding: Finding, choice: int) -> Suggestion:
    all_of = [s for s in (finding.suggestion, *finding.alternatives) if s is not None]
    if choice >= len(all_of):
        said = "no mend" if not all_of else f"{len(all_of)} mends, numbered from 0"
        raise RefusedError(
            "no-such-mend",
            f"The finding {finding.id} ({finding.rule}) has {said}.",
            hint="Mend it by `taskdb waypoint edit`, or accept it with `taskdb check accept`.",
        )
    return all_of[choice]


def _written(
    writing: Writing, at: SetAt, changes: tuple[tuple[Waypoint, Waypoint], ...], retired: tuple[Waypoint, ...]
) -> Mended:
    if not changes and not retired:
        writing.abandon()
        return Mended(at.head.name, at.revision, (), (), ())
    revision = set_rows.write_revision(writing, at.head, SetChanges(changed=changes, retired=retired))
    identities = [w.identity for w in (*(old for old, _ in changes), *retired) if w.identity is not None]
    return Mended(at.head.name, revision, changes, retired, _users(writing.connection, identities))


def _users(c: Connection, identities: Sequence[str]) -> tuple[str, ...]:
    return tuple(task_title(use.head) for use in task_rows.tasks_using(c, identities))
