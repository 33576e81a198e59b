"""Taking a file of waypoints into a set: read, match to what stands, decide what changes, write one revision.

The stages are separate functions over plain values; nothing is kept when one row is bad, and every bad row is told.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from taskdb.core.history.changes import SetChanges, changed_fields
from taskdb.core.history.match import Matching, MatchRound, match_waypoints
from taskdb.core.model import RowProblem, Waypoint
from taskdb.core.names import fold, require_name
from taskdb.core.plain import problem_plain
from taskdb.core.quantities import format_short_distance
from taskdb.errors import InputError
from taskdb.files.reading import open_input
from taskdb.formats.registry import Decided, ReadOptions, Record, read_set
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
    bad_lines = {problem.line for problem in reading.problems}
    records = [record for record in reading.records if record.line not in bad_lines]
    if reading.problems and not request.skip_bad_rows:
        raise rows_rejected(request, reading.problems)
    with desk.writing(write) as writing:
        head = set_rows.find_set(writing.connection, into) or set_rows.create_set(writing, into)
        head = set_rows.lock_set(writing, head.id)
        old = set_rows.waypoints_at(writing.connection, head.id, head.newest) if head.newest else []
        plan = _plan(records, old, request, desk.new_identity)
        problems = (*reading.problems, *plan.problems)
        if plan.problems:
            if not request.skip_bad_rows:
                raise rows_rejected(request, problems)
            clashing = {problem.line for problem in plan.problems}
            plan = _plan([r for r in records if r.line not in clashing], old, request, desk.new_identity)
        _confirm(plan, old, request, write)
        revision = _write(writing, head, plan)
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
        count=len(old) + plan.added - plan.retired,
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


def _write(writing: Writing, head: SetHead, plan: _Plan) -> int:
    if head.newest and not (plan.added or plan.changed or plan.retired):
        writing.abandon()
        return head.newest
    return set_rows.write_revision(writing, head, plan.changes)


def _confirm(plan: _Plan, old: Sequence[Waypoint], request: ImportRequest, write: Write) -> None:
    if request.mode is not Mode.REPLACE:
        return
    if plan.reused:
        require_confirmed(
            write,
            f"{len(plan.reused)} code(s) come to name another place: {', '.join(plan.reused[:8])}. Go ahead?",
            reused=list(plan.reused),
        )
    if plan.retired * 4 > len(old):
        require_confirmed(
            write,
            f"Replacing retires {plan.retired} of {len(old)} waypoints of {request.into!r}. Go ahead?",
            retired=plan.retired,
        )


def _plan(
    records: Sequence[Record], old: Sequence[Waypoint], request: ImportRequest, new_identity: Callable[[], str]
) -> _Plan:
    """Decide what each row does to the set. `old` are the standing waypoints, each with its identity."""
    new = [record.waypoint for record in records]
    matching = match_waypoints(old, new) if old else Matching.nothing(0, len(new))
    clears = request.on_empty is OnEmpty.CLEARS or (request.on_empty is None and request.mode is Mode.REPLACE)
    changed: list[tuple[Waypoint, Waypoint]] = []
    matches: list[ToldMatch] = []
    unchanged = renumbered = kept_values = 0
    for pair in matching.pairs:
        record, before = records[pair.new_index], old[pair.old_index]
        after, kept = merged(before, record, clears=clears)
        kept_values += kept
        renumbered += before.code != after.code
        if pair.round not in (MatchRound.IDENTITY, MatchRound.CODE_AND_NAME) or pair.distance_m > TOLD_OVER_M:
            matches.append(ToldMatch(record.line, after.code, before.code, pair.round, pair.distance_m))
        if changed_fields(before, after):
            changed.append((before, after))
        else:
            unchanged += 1
    added = [_with_identity(new[i], new_identity) for i in matching.unmatched_new]
    left = [old[i] for i in matching.unmatched_old]
    replacing = request.mode is Mode.REPLACE
    lines = {id(records[i].waypoint): records[i].line for i in matching.unmatched_new}
    added_lines = [lines[id(new[i])] for i in matching.unmatched_new]
    changed_lines = _changed_lines(records, matching, changed, old)
    reused = _reused_codes(added, left)
    problems = [] if replacing else _clashes(added, added_lines, changed, changed_lines, left)
    return _Plan(
        changes=SetChanges(added=added, changed=changed, retired=left if replacing else ()),
        added=len(added),
        changed=len(changed),
        retired=len(left) if replacing else 0,
        unchanged=unchanged,
        problems=tuple(problems),
        matches=tuple(sorted(matches, key=lambda m: m.line)),
        renumbered=renumbered,
        kept_values=kept_values,
        reused=reused if replacing else (),
    )


def _changed_lines(
    records: Sequence[Record],
    matching: Matching,
    changed: Sequence[tuple[Waypoint, Waypoint]],
    old: Sequence[Waypoint],
) -> list[int]:
    line_of = {old[p.old_index].identity: records[p.new_index].line for p in matching.pairs}
    return [line_of[before.identity] for before, _ in changed]


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


def _with_identity(waypoint: Waypoint, new_identity: Callable[[], str]) -> Waypoint:
    return waypoint if waypoint.identity is not None else replace(waypoint, identity=new_identity())


def _reused_codes(added: Sequence[Waypoint], left: Sequence[Waypoint]) -> tuple[str, ...]:
    """Return codes that come to name another place while their old holder is matched to no row."""
    holders = {waypoint.code for waypoint in left}
    return tuple(sorted(waypoint.code for waypoint in added if waypoint.code in holders))


def _clashes(
    added: Sequence[Waypoint],
    added_lines: Sequence[int],
    changed: Sequence[tuple[Waypoint, Waypoint]],
    changed_lines: Sequence[int],
    left: Sequence[Waypoint],
) -> list[RowProblem]:
    """Return the rows whose code a standing waypoint holds that the file does not mention."""
    standing = {waypoint.code: waypoint for waypoint in left}
    incoming = [
        *zip(added_lines, added, strict=True),
        *(
            (line, after)
            for line, (before, after) in zip(changed_lines, changed, strict=True)
            if before.code != after.code
        ),
    ]
    return [_clash(line, waypoint, standing[waypoint.code]) for line, waypoint in incoming if waypoint.code in standing]


def _clash(line: int, waypoint: Waypoint, holder: Waypoint) -> RowProblem:
    from taskdb.core.geodesy import distance_m

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
