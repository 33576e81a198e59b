"""Taking a file of waypoints into a set: read, match to what stands, decide what changes, write one revision.

The stages are separate functions over plain values; nothing is kept when one row is bad, and every bad row is told.
"""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from taskdb.core.collecting import without_collecting
from taskdb.core.history.import_doubts import PROBLEM as DOUBTFUL
from taskdb.core.history.import_plan import Fineness, How, Plan, Planner
from taskdb.core.history.told import ToldMatch
from taskdb.core.model import RowProblem
from taskdb.core.names import require_name
from taskdb.core.numbers import counted
from taskdb.core.pasted import command_line
from taskdb.core.plain import problem_plain
from taskdb.errors import InputError
from taskdb.files.reading import open_input
from taskdb.files.writing import write_file
from taskdb.formats.registry import Decided, ReadOptions
from taskdb.formats.text.intake import Records, SetReading
from taskdb.formats.waypoints.rejects import write_rejects
from taskdb.services.checks.check import findings_about
from taskdb.services.desk import Desk, Write, require_confirmed
from taskdb.services.ground import open_terrain
from taskdb.services.references import resolve_set
from taskdb.services.sets.filling import Filled, Filling
from taskdb.services.waypoints.reading import read_waypoints
from taskdb.store import sets as set_rows, tasks as task_rows
from taskdb.store.sets import SetHead

if TYPE_CHECKING:
    from taskdb.core.ground import GroundHeights
    from taskdb.core.waypoint_columns import WaypointColumns
    from taskdb.store.engine import Connection, Writing


_NOT_YET = 0  # the id of a set that is not kept yet
_MOST_PASSES = 4
"""A list renumbered in a row would lose row after row, each in a pass of its own."""
CHECKED_UP_TO = 20_000
"""A set up to this size is checked at every import: it takes less than a second."""


class Mode(StrEnum):
    MERGE = "merge"
    REPLACE = "replace"


class OnEmpty(StrEnum):
    """What an empty cell does to a value that stands: in merge mode it keeps it unless told to clear."""

    KEEPS = "keeps"
    CLEARS = "clears"


@dataclass(frozen=True)
class ImportRequest:
    path: str
    into: str
    options: ReadOptions = field(default_factory=ReadOptions)
    mode: Mode = Mode.MERGE
    on_empty: OnEmpty | None = None
    skip_bad_rows: bool = False
    rejects_path: str | None = None
    """Where rejected rows go, cell by cell with their reasons, to be mended and imported."""
    check: bool = False
    """Count what the checks find about what came in, however large the set; small ones are checked anyway."""
    codes_as_written: bool = False
    """Take a code without the leading zeros of the standing one as a new code; else a spreadsheet ate them."""
    mapping: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    """What a person decided: the standing waypoint of one code is the row of another."""
    own: tuple[str, ...] = ()
    """Codes of rows that are places of their own, whatever their names say."""
    takes_coarser: bool = False
    """Let a coarser statement of a standing value take its place; else the finer one is kept."""
    fill_from: str | None = None
    """A folder of terrain from which elevations are taken that neither the file nor the set has."""

    def how(self, *, is_confirmed: bool) -> How:
        """Return how the plan is to be made."""
        replaces = self.mode is Mode.REPLACE
        clears = self.on_empty is OnEmpty.CLEARS or (self.on_empty is None and replaces)
        return How(
            replaces=replaces,
            clears=clears,
            codes_as_written=self.codes_as_written,
            mapping=self.mapping,
            own=frozenset(self.own),
            is_confirmed=is_confirmed,
            takes_coarser=self.takes_coarser,
        )


@dataclass(frozen=True)
class ImportResult:
    set_name: str
    revision: int
    read: int
    added: int
    changed: int
    unchanged: int
    retired: int
    rejected: tuple[RowProblem, ...]
    decided: Decided
    matches: Sequence[ToldMatch]
    renumbered: int
    kept_values: int
    """Empty cells that left a standing value as it was."""
    restored_codes: int
    """Codes that came without their leading zeros and kept them."""
    rejects_path: str | None
    count: int
    findings: Mapping[str, int] | None = None
    """How many findings the checks have about what came in, by severity; None where they were not run."""
    backup: str | None = None
    """Where the store was kept as it was before: in replace mode, on SQLite."""
    fineness: Fineness = field(default_factory=Fineness)
    """What was said more coarsely than it stands, and what became finer."""
    filled: Filled | None = None
    """What elevations were filled in; None where that was not asked for."""


def import_set(desk: Desk, request: ImportRequest, write: Write) -> ImportResult:
    """Import a file of waypoints into a set, making one revision, or none where nothing differs.

    Raises NotFoundError for a missing file, InputError (code `rows-rejected`) with every bad row, RefusedError where
    a person has to confirm (a reused code or many retirements in replace mode).
    """
    into = require_name(request.into, what="set")
    ground = open_terrain(request.fill_from) if request.fill_from is not None else None
    with open_input(request.path) as stream:
        reading = read_waypoints(stream, options=request.options)
    how = request.how(is_confirmed=write.confirmed)
    if reading.problems and not request.skip_bad_rows:
        raise rows_rejected(request, reading.problems, _used_by_tasks(desk, reading, into))

    def work(writing: Writing) -> ImportResult:
        c = writing.connection
        head = set_rows.find_set(c, into) or SetHead(_NOT_YET, into, 0)
        plan, problems, filling = writing.once(head, lambda: _planned(c, head, reading, request, how, ground))
        count = set_rows.count_at(c, head.id, head.newest)
        _confirm(plan, count, request, write)
        revision = _write(writing, head, plan, reading.records, desk, filling)
        findings = None
        if plan.added + plan.changed and (request.check or count + plan.added <= CHECKED_UP_TO):
            findings = _findings(c, into, revision)
        if problems and request.rejects_path is not None and not write.preview:
            writing.begin()
            _write_rejects(request.rejects_path, reading, problems[len(reading.problems) :])
        return ImportResult(
            set_name=into,
            revision=revision,
            read=reading.read,
            added=plan.added,
            changed=plan.changed,
            unchanged=plan.unchanged,
            retired=plan.retired,
            rejected=problems,
            decided=reading.decided,
            matches=plan.matches,
            renumbered=plan.renumbered,
            kept_values=plan.kept_values,
            restored_codes=plan.restored_codes,
            rejects_path=request.rejects_path if problems and not write.preview else None,
            count=count + plan.added - plan.retired,
            findings=findings,
            fineness=plan.fineness,
            filled=filling.filled() if filling is not None else None,
        )

    done, backup = desk.write_with_backup(write, work, backup=request.mode is Mode.REPLACE)
    return replace(done, backup=str(backup) if backup is not None else None)


def _planned(
    c: Connection, head: SetHead, reading: SetReading, request: ImportRequest, how: How, ground: GroundHeights | None
) -> tuple[Plan, tuple[RowProblem, ...], Filling | None]:
    """Return what the file does to a set, the rows that are left out, and what fills in elevations."""

    def standing() -> Iterator[WaypointColumns]:
        return set_rows.columns_at(c, head.id, head.newest) if head.newest else iter(())

    def plan_without(lines: set[int]) -> Plan:
        given = reading.records.given
        is_compared = head.newest and "identity" not in given
        waypoints = set_rows.compared_at(c, head.id, head.newest, given) if is_compared else standing()
        with without_collecting():
            return Planner(reading.records, lines, how).run(waypoints)

    left_out = {problem.line for problem in reading.problems}
    plan = plan_without(left_out)
    problems = reading.problems
    passes = 0
    while plan.problems:  # what a row that is left out was to change stands, and another row may want its code
        passes += 1
        problems = (*problems, *plan.problems)
        if not request.skip_bad_rows or passes == _MOST_PASSES:
            raise rows_rejected(request, problems)
        left_out |= {problem.line for problem in plan.problems}
        plan = plan_without(left_out)
    filling = Filling(ground) if ground is not None else None
    if filling is not None:
        plan = filling.plan(plan, standing(), frozenset(reading.records.codes))
    return plan, problems, filling


def _findings(c: Connection, set_name: str, revision: int) -> Mapping[str, int]:
    """Count what the checks find about the waypoints that this revision added or changed."""
    at = resolve_set(c, f"{set_name}@{revision}")
    _, after = set_rows.touched_between(c, at.head.id, at.revision - 1, at.revision)
    found = findings_about(c, at, frozenset(waypoint.code for waypoint in after))
    return Counter(finding.severity.value for finding in found if finding.accepted is None)


def rows_rejected(request: ImportRequest, problems: Sequence[RowProblem], used_by: Sequence[str] = ()) -> InputError:
    """Return the refusal for a file with bad rows: all of them, and the line to paste for taking the rest.

    `used_by` are the saved tasks that use a waypoint of a bad row.
    """
    rows = len({problem.line for problem in problems})
    rejects = f"{Path(request.path).stem}-rejects.csv"
    rejects = f"./{rejects}" if rejects.startswith("-") else rejects
    rest = f"Mend them, or take the rest: {_again(request, '--on-error', 'skip', '--rejects', rejects)}"
    if request.skip_bad_rows:
        rest = "Mend them first: every row that is left out keeps a code that the next row needs."
    decide = _how_to_decide(request, problems)
    used = f" Saved tasks use points of bad rows: {', '.join(used_by[:8])}." if used_by else ""
    return InputError(
        "rows-rejected",
        f"{request.path}: {counted(rows, 'row')} cannot be taken in; nothing was imported.{used}",
        hint=f"{decide}{rest}",
        details={"rejected": [problem_plain(p) for p in problems], "total": len(problems), "tasks": list(used_by)},
    )


def _how_to_decide(request: ImportRequest, problems: Sequence[RowProblem]) -> str:
    """Return the line to paste where rows are standing waypoints by name alone; empty where there are none."""
    doubtful = [problem for problem in problems if problem.code == DOUBTFUL]
    if not doubtful:
        return ""
    another = _again(request, *(f"--new={problem.value}" for problem in doubtful))
    return (
        f"Where the row is another place: {another}\n"
        "Where it is the same one, --map OLD=NEW in place of --new; --yes takes all as the same.\n"
    )


def _again(request: ImportRequest, *options: str) -> str:
    return command_line("set import", request.path, options=["--into", request.into, *options])


def _used_by_tasks(desk: Desk, reading: SetReading, into: str) -> list[str]:
    """Return the saved tasks that use a standing waypoint whose row cannot be taken in, as far as its code is told."""
    header = reading.decided.columns.get("code")
    if header is None or header not in reading.header:
        return []
    at = reading.header.index(header)
    codes = {reject.cells[at].strip() for reject in reading.rejects if len(reject.cells) > at}
    with desk.store.reading() as c:
        head = set_rows.find_set(c, into)
        if head is None or not head.newest:
            return []
        standing = (set_rows.waypoint_at(c, head.id, head.newest, code) for code in sorted(codes))
        identities = [waypoint.identity for waypoint in standing if waypoint is not None and waypoint.identity]
        return [use.head.name for use in task_rows.tasks_using(c, identities)] if identities else []


def _write_rejects(path: str, reading: SetReading, further: Sequence[RowProblem]) -> None:
    buffer = io.BytesIO()
    write_rejects(buffer, reading, further)
    write_file(path, buffer.getvalue())


def _write(writing: Writing, head: SetHead, plan: Plan, records: Records, desk: Desk, filling: Filling | None) -> int:
    if head.newest and not (plan.added or plan.changed or plan.retired):
        writing.abandon()
        return head.newest
    columns = records.columns(plan.new_rows)
    return set_rows.write_revision(
        writing,
        head if head.newest else set_rows.create_set(writing, head.name),
        plan.changes,
        columns=columns if filling is None else filling.columns(columns),
        adding=plan.added,
        new_identity=desk.new_identity,
    )


def _confirm(plan: Plan, count: int, request: ImportRequest, write: Write) -> None:
    if request.mode is not Mode.REPLACE:
        return
    if plan.doubtful:
        named = ", ".join(f"line {problem.line} {problem.value}" for problem in plan.doubtful[:8])
        require_confirmed(
            write,
            f"{len(plan.doubtful)} row(s) are standing waypoints by their names alone ({named})."
            " Are they the same places?",
            lines=[f"line {problem.line}: {problem.message}" for problem in plan.doubtful],
            doubtful=[problem_plain(problem) for problem in plan.doubtful],
        )
    if plan.reused:
        require_confirmed(
            write,
            f"{len(plan.reused)} code(s) come to name another place: {', '.join(plan.reused[:8])}. Go ahead?",
            reused=list(plan.reused),
        )
    if plan.retired * 4 > count:
        require_confirmed(
            write,
            f"Replacing retires {plan.retired} of {count} waypoints of {request.into!r}. Go ahead?",
            retired=plan.retired,
        )


def counts(result: ImportResult) -> Mapping[str, int]:
    """Return the counts that reconcile: read = added + changed + unchanged + rejected rows."""
    rejected_rows = len({problem.line for problem in result.rejected})
    return {
        "read": result.read,
        "added": result.added,
        "changed": result.changed,
        "unchanged": result.unchanged,
        "rejected": rejected_rows,
    }
