"""Taking a file of waypoints into a set: read, match to what stands, decide what changes, write one revision.

The stages are separate functions over plain values; nothing is kept when one row is bad, and every bad row is told.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from taskdb.core.geodesy import distance_m
from taskdb.core.history.changes import SetChanges, changed_fields
from taskdb.core.history.match import MatchRound, match_waypoints
from taskdb.core.model import RowProblem, Waypoint
from taskdb.core.names import fold, require_name
from taskdb.core.plain import problem_plain
from taskdb.core.quantities import format_short_distance
from taskdb.errors import InputError
from taskdb.files.reading import open_input
from taskdb.formats.registry import Decided, ReadOptions, Record, Records, read_set
from taskdb.services.desk import Desk, Write, require_confirmed
from taskdb.store import sets as set_rows

if TYPE_CHECKING:
    from taskdb.store.engine import Writing
    from taskdb.store.sets import SetHead

TOLD_OVER_M = 1000.0
"""An identity or a code with its name matches over any distance; above this it is told."""


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


@dataclass(frozen=True)
class ToldMatch:
    """A row that was matched to a standing waypoint otherwise than by code with name, or from far away."""

    line: int
    code: str
    old_code: str
    round: MatchRound
    distance_m: float


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
    matches: tuple[ToldMatch, ...]
    renumbered: int
    kept_values: int
    """Empty cells that left a standing value as it was."""
    count: int


@dataclass(frozen=True)
class _Plan:
    changes: SetChanges
    added: int
    changed: int
    retired: int
    unchanged: int
    problems: tuple[RowProblem, ...]
    matches: tuple[ToldMatch, ...]
    renumbered: int
    kept_values: int
    reused: tuple[str, ...]


def import_set(desk: Desk, request: ImportRequest, write: Write) -> ImportResult:
    """Import a file of waypoints into a set, making one revision, or none where nothing differs.

    Raises NotFoundError for a missing file, InputError (code `rows-rejected`) with every bad row, RefusedError where
    a person has to confirm (a reused code or many retirements in replace mode).
    """
    into = require_name(request.into, what="set")
    with open_input(request.path) as stream:
        reading = read_set(stream, file_name=request.path, options=request.options)
    left_out = {problem.line for problem in reading.problems}
    if reading.problems and not request.skip_bad_rows:
        raise rows_rejected(request, reading.problems)
    with desk.writing(write) as writing:
        c = writing.connection
        head = set_rows.find_set(c, into) or set_rows.create_set(writing, into)
        head = set_rows.lock_set(writing, head.id)

        def plan_without(lines: set[int]) -> _Plan:
            standing = set_rows.iterate_waypoints_at(c, head.id, head.newest) if head.newest else iter(())
            return _Planner(reading.records, lines, request).run(standing)

        plan = plan_without(left_out)
        problems = (*reading.problems, *plan.problems)
        if plan.problems:
            if not request.skip_bad_rows:
                raise rows_rejected(request, problems)
            plan = plan_without(left_out | {problem.line for problem in plan.problems})
        count = set_rows.count_at(c, head.id, head.newest)
        _confirm(plan, count, request, write)
        revision = _write(writing, head, plan, desk)
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
        count=count + plan.added - plan.retired,
    )


def rows_rejected(request: ImportRequest, problems: Sequence[RowProblem]) -> InputError:
    """Return the refusal for a file with bad rows: all of them, and the line to paste for taking the rest."""
    rows = len({problem.line for problem in problems})
    return InputError(
        "rows-rejected",
        f"{request.path}: {rows} row{'s' if rows != 1 else ''} cannot be taken in; nothing was imported.",
        hint=f"Mend them, or take the rest: taskdb set import {request.path} --into {request.into} --on-error skip",
        details={"rejected": [problem_plain(p) for p in problems], "total": len(problems)},
    )


def _write(writing: Writing, head: SetHead, plan: _Plan, desk: Desk) -> int:
    if head.newest and not (plan.added or plan.changed or plan.retired):
        writing.abandon()
        return head.newest
    return set_rows.write_revision(writing, head, plan.changes, new_identity=desk.new_identity, adding=plan.added)


def _confirm(plan: _Plan, count: int, request: ImportRequest, write: Write) -> None:
    if request.mode is not Mode.REPLACE:
        return
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


class _Planner:
    """Decides what each row does to the set, without holding what stays as it is: most of a large set does.

    A row whose code and name a standing waypoint bears is that waypoint (the second round of matching; codes are
    unique on both sides), so those are paired as the set streams by and only the rest is matched as a whole. A file
    that carries identities is matched as a whole: the first round comes before the second.
    """

    def __init__(self, records: Records, left_out: set[int], request: ImportRequest) -> None:
        self.records, self.request = records, request
        replacing = request.mode is Mode.REPLACE
        self.replacing = replacing
        self.clears = request.on_empty is OnEmpty.CLEARS or (request.on_empty is None and replacing)
        self.open = [i for i, line in enumerate(records.lines) if line not in left_out]
        self.changed: list[tuple[Waypoint, Waypoint]] = []
        self.changed_lines: list[int] = []
        self.matches: list[ToldMatch] = []
        self.unchanged = self.renumbered = self.kept_values = 0

    def run(self, standing: Iterator[Waypoint]) -> _Plan:
        """Return the plan; `standing` are the set's waypoints, each with its identity."""
        left = self._pair_by_code_and_name(standing)
        numbers = self.open
        if left:
            rows = [self.records[i] for i in numbers]
            matching = match_waypoints(left, [row.waypoint for row in rows])
            for pair in matching.pairs:
                self._take(left[pair.old_index], rows[pair.new_index], pair.round, pair.distance_m)
            left = [left[i] for i in matching.unmatched_old]
            numbers = [numbers[i] for i in matching.unmatched_new]
        return self._plan(left, numbers)

    def _pair_by_code_and_name(self, standing: Iterator[Waypoint]) -> list[Waypoint]:
        """Take the rows that are plainly the same waypoint; return what stands besides."""
        records = self.records
        if "identity" in records.given:
            return list(standing)
        row_of = {records.codes[i]: i for i in self.open}
        taken = bytearray(len(records))
        left = []
        for before in standing:
            i = row_of.get(before.code)
            if i is None or not (before.name == records.names[i] or fold(before.name) == fold(records.names[i]) != ""):
                left.append(before)
                continue
            taken[i] = 1
            if records.is_as(i, before):
                self.unchanged += 1
            else:
                record = records[i]
                off = distance_m(before.position, record.waypoint.position)
                self._take(before, record, MatchRound.CODE_AND_NAME, off)
        self.open = [i for i in self.open if not taken[i]]
        return left

    def _take(self, before: Waypoint, record: Record, made_by: MatchRound, off_m: float) -> None:
        after, kept = merged(before, record, clears=self.clears)
        self.kept_values += kept
        self.renumbered += before.code != after.code
        if made_by not in (MatchRound.IDENTITY, MatchRound.CODE_AND_NAME) or off_m > TOLD_OVER_M:
            self.matches.append(ToldMatch(record.line, after.code, before.code, made_by, off_m))
        if changed_fields(before, after):
            self.changed.append((before, after))
            self.changed_lines.append(record.line)
        else:
            self.unchanged += 1

    def _plan(self, left: Sequence[Waypoint], numbers: Sequence[int]) -> _Plan:
        holders = {waypoint.code: waypoint for waypoint in left}
        codes = self.records.codes
        reused = sorted(codes[i] for i in numbers if codes[i] in holders) if self.replacing and holders else []
        problems = [] if self.replacing or not holders else self._clashes(holders, numbers)
        return _Plan(
            changes=SetChanges(
                added=self.records.waypoints(numbers),
                changed=self.changed,
                retired=left if self.replacing else (),
            ),
            added=len(numbers),
            changed=len(self.changed),
            retired=len(left) if self.replacing else 0,
            unchanged=self.unchanged,
            problems=tuple(problems),
            matches=tuple(sorted(self.matches, key=lambda match: match.line)),
            renumbered=self.renumbered,
            kept_values=self.kept_values,
            reused=tuple(reused),
        )

    def _clashes(self, holders: Mapping[str, Waypoint], numbers: Iterable[int]) -> Iterator[RowProblem]:
        """Yield the rows whose code a standing waypoint holds that the file does not mention."""
        for i in numbers:
            record = self.records[i]
            if record.waypoint.code in holders:
                yield _clash(record.line, record.waypoint, holders[record.waypoint.code])
        for line, (before, after) in zip(self.changed_lines, self.changed, strict=True):
            if before.code != after.code and after.code in holders:
                yield _clash(line, after, holders[after.code])


def merged(before: Waypoint, record: Record, *, clears: bool) -> tuple[Waypoint, int]:
    """Return the standing waypoint with the row's values, and how many empty cells left a value as it was.

    A column that the file lacks keeps the old value; an empty cell keeps or clears it as asked.
    """
    values: dict[str, object] = {}
    kept = 0
    for name in record.given:
        if name == "identity":
            continue
        if name in record.empty and not clears:
            kept += getattr(before, name) not in (None, "", ())
            continue
        values[name] = getattr(record.waypoint, name)
    return replace(before, typed=record.waypoint.typed, extras=record.waypoint.extras or before.extras, **values), kept  # type: ignore[arg-type]


def _clash(line: int, waypoint: Waypoint, holder: Waypoint) -> RowProblem:
    off = format_short_distance(distance_m(waypoint.position, holder.position))
    same_name = fold(waypoint.name) == fold(holder.name)
    what = "the same name" if same_name else f"another name ({holder.name!r})"
    return RowProblem(
        line=line,
        field="code",
        value=waypoint.code,
        code="code-in-use",
        message=f"the code {waypoint.code} stands for a place {off} away under {what}",
        suggestion="give the new place a code of its own, or import with --mode replace",
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
