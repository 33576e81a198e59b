"""Deciding what each row of a file does to a set, over plain values: same, changed, new, gone, or not to be taken.

Nothing is read from a file or written to a store here; a row problem that shows only against what stands is a value
like any other.
"""

from __future__ import annotations

from array import array
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from types import MappingProxyType

from taskdb.core.geodesy import distance_m
from taskdb.core.history.changes import SetChanges, changed_fields
from taskdb.core.history.finer import Settled, settle, with_typed
from taskdb.core.history.import_doubts import (
    RowMatch,
    clash_problem,
    date_problem,
    is_questionable,
    is_reused,
    sort_matches,
)
from taskdb.core.history.packed_changes import PackedChanges, SomeWaypoints
from taskdb.core.history.rows import Row, Rows
from taskdb.core.history.told import PackedTold, ToldMatch
from taskdb.core.matching.limits import FAR_APART_M
from taskdb.core.matching.match import MatchRound, match_listed
from taskdb.core.matching.renamed import find_renamed
from taskdb.core.matching.sides import Listed
from taskdb.core.model import Position, RowProblem, Waypoint
from taskdb.core.names import fold
from taskdb.core.packed_waypoints import PackedWaypoints
from taskdb.core.waypoint_columns import WaypointColumns
from taskdb.errors import UsageError

_WAYPOINTS = "waypoints"


@dataclass(frozen=True)
class How:
    """How rows are taken: whether what the file lacks is retired, an empty cell clears, a zero-less code is new.

    `mapping` (standing code to the row's), `own` (codes of rows that are new places) and `is_confirmed` (whatever a
    row's name says is so) are what a person decided. `takes_coarser`: a coarser statement replaces a finer one.
    """

    replaces: bool
    clears: bool
    codes_as_written: bool
    mapping: Mapping[str, str]
    own: frozenset[str]
    is_confirmed: bool
    takes_coarser: bool


@dataclass(frozen=True)
class Fineness:
    """Waypoints of which a finer value stood and was kept, and such that became finer; and how often by field."""

    kept: int = 0
    refined: int = 0
    kept_fields: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    refined_fields: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True)
class Plan:
    changes: SetChanges
    """What is changed and retired; what is added are rows, and taken from the records as columns."""
    new_rows: Sequence[int]
    added: int
    changed: int
    retired: int
    unchanged: int
    problems: tuple[RowProblem, ...]
    matches: Sequence[ToldMatch]
    """In order of their lines."""
    renumbered: int
    kept_values: int
    restored_codes: int
    reused: tuple[str, ...]
    doubtful: tuple[RowProblem, ...] = ()
    """Rows that only their name makes a standing waypoint, where a person is asked: in replace mode."""
    fineness: Fineness = field(default_factory=Fineness)


class Planner:
    """Decides what each row does to the set, without holding what stays as it is: most of a large set does.

    A row whose code and name a standing waypoint bears is that waypoint (the second round of matching; codes are
    unique on both sides), so those are paired as the set streams by and only the rest is matched as a whole. A file
    that carries identities is matched as a whole: the first round comes before the second.
    """

    def __init__(self, records: Rows, left_out: set[int], how: How) -> None:
        """Plan for the rows of `records` whose lines are not left out."""
        self.records, self.how = records, how
        self.open: Sequence[int] = range(len(records))
        if left_out:
            self.open = [i for i, line in enumerate(records.lines) if line not in left_out]
        self.in_file = self.open
        self.standing = PackedWaypoints()
        """What stands and is not plainly as the file has it. What is left of it are numbers into this."""
        self.changed = PackedChanges(self.standing)
        self.changed_lines = array("q")
        self.matches = PackedTold()
        self.problems: list[RowProblem] = []
        self.doubtful: list[RowProblem] = []
        self.kept_finer: Counter[str] = Counter()
        self.refined: Counter[str] = Counter()
        self.unchanged = self.renumbered = self.kept_values = self.restored = 0

    def run(self, standing: Iterator[WaypointColumns]) -> Plan:
        """Return the plan; `standing` are the set's waypoints, each with its identity."""
        left = self._pair_by_code_and_name(standing)
        numbers = self.open
        if left:
            left, numbers = self._match_rest(left)
        return self._plan(left, numbers)

    def _match_rest(self, left: Sequence[int]) -> tuple[Sequence[int], Sequence[int]]:
        """Match what code and name did not settle, as a whole; return what remains on both sides."""
        records, own, standing = self.records, self.how.own, self.standing
        numbers = [i for i in self.open if records.codes[i] not in own] if own else self.open
        matching = match_listed(
            Listed(left, standing.codes, standing.names, standing.identities, standing.position, standing.__getitem__),
            Listed(
                numbers, records.codes, records.names, records.identities, self._row_position, self._row_waypoint
            ),
        )  # fmt: skip
        done = bytearray(len(records))
        questionable: list[RowMatch] = []
        number_of: dict[str, int] = {}
        olds = array("i", (pair.old_index for pair in matching.pairs))
        news = array("i", (pair.new_index for pair in matching.pairs))
        for pair, before, record in zip(matching.pairs, standing.some(olds), records.some(news), strict=True):
            done[pair.new_index] = 1
            if is_questionable(pair):
                number_of[before.code] = pair.old_index
                questionable.append(RowMatch(before, pair.new_index, record, pair.round, pair.distance_m))
            else:
                self._take(pair.old_index, before, record, pair.round, pair.distance_m)
        remaining: Sequence[int] = matching.unmatched_old
        if questionable:
            unmatched = {records.codes[j]: j for j in matching.unmatched_new}
            remaining = [*remaining, *self._decide(questionable, number_of, unmatched, done)]
        numbers = [i for i in self.open if not done[i]]
        return self._match_renamed(remaining, numbers) if self.how.replaces else (remaining, numbers)

    def _row_position(self, row: int) -> Position:
        return Position.from_e7(self.records.latitudes_e7[row], self.records.longitudes_e7[row])

    def _row_waypoint(self, row: int) -> Waypoint:
        return self.records[row].waypoint

    def _decide(
        self,
        questionable: Sequence[RowMatch],
        number_of: Mapping[str, int],
        unmatched: Mapping[str, int],
        done: bytearray,
    ) -> list[int]:
        """Take the questionable matches that are sure or were confirmed; return the waypoints of the others.

        In merge mode the others are row problems. In replace mode they are asked about as a whole, and planned as they
        would then be done.
        """
        in_file = frozenset(map(self.records.codes.__getitem__, self.in_file))
        sort = sort_matches(questionable, unmatched, self.records.__getitem__, in_file.__contains__)
        taken, doubtful = list(sort.sure), [match for match, _ in sort.doubtful]
        problems = [problem for _, problem in sort.doubtful]
        for match in questionable:
            done[match.row] = 0
        if self.how.is_confirmed or self.how.replaces:
            taken += doubtful
            self.doubtful = [] if self.how.is_confirmed else problems
            doubtful = []
        else:
            self.problems += problems
        for match in taken:
            self._take(number_of[match.before.code], match.before, match.record, match.round, match.distance_m)
        for match in (*taken, *doubtful):
            done[match.row] = 1
        return [number_of[match.before.code] for match in doubtful]

    def _match_renamed(self, left: Sequence[int], numbers: Sequence[int]) -> tuple[Sequence[int], Sequence[int]]:
        """Take rows with another code and name near where a waypoint stood that would be retired."""
        records = self.records
        candidates = [i for i in numbers if records.codes[i] not in self.how.own]
        rows = list(records.some(candidates)) if left else []
        olds = [self.standing[k] for k in left] if rows else []
        everything = chain(map(self.standing.position, left), map(self._row_position, self.in_file))
        pairs = find_renamed(olds, [row.waypoint for row in rows], everything)
        for i, j, off in pairs:
            self._take(left[i], olds[i], rows[j], MatchRound.NEARBY, off)
        gone, done = {left[i] for i, _, _ in pairs}, {candidates[j] for _, j, _ in pairs}
        return [k for k in left if k not in gone], [i for i in numbers if i not in done]

    def _pair_by_code_and_name(self, standing: Iterator[WaypointColumns]) -> Sequence[int]:
        """Take the rows that are plainly the same waypoint; return what stands besides."""
        records = self.records
        if "identity" in records.given:
            for batch in standing:
                self.standing.extend(batch)
            return self._take_mapped(range(len(self.standing)))
        find = _RowsOfCodes(records.codes, self.open, {*self.how.mapping, *self.how.mapping.values()})
        taken = bytearray(len(records))
        left = array("i")
        for batch in standing:
            rows = find.rows(batch.codes)
            same = records.give(rows, batch)
            if all(same):
                self.unchanged += len(rows)
                if isinstance(rows, range):
                    taken[rows.start : rows.stop] = b"\1" * len(rows)
                    continue
                for i in rows:
                    taken[i or 0] = 1
                continue
            differing: dict[int, int] = {}
            others: list[int] = []
            for at, (i, is_as_given) in enumerate(zip(rows, same, strict=True)):
                if i is not None and is_as_given:
                    taken[i] = 1
                    self.unchanged += 1
                    continue
                number = len(self.standing) + len(others)
                others.append(at)
                if i is None or not _have_one_name(batch.names[at], records.names[i]):
                    left.append(number)
                    continue
                taken[i] = 1
                differing[i] = number
            self.standing.extend(batch.some(others))
            self._take_same_code_and_name(differing)
        if 1 in taken:
            self.open = [i for i in self.open if not taken[i]]
        return self._pair_without_zeros(self._take_mapped(left))

    def _take_mapped(self, left: Sequence[int]) -> Sequence[int]:
        """Take the rows that a person gave to standing waypoints. UsageError for a code that is not there."""
        mapping = self.how.mapping
        if not mapping:
            return left
        codes = self.standing.codes
        standing = {codes[k]: k for k in left if codes[k] in mapping}
        rows = {self.records.codes[i]: i for i in self.open}
        for old, new in mapping.items():
            if old not in standing or new not in rows:
                missing, where = (old, "the set has") if old not in standing else (new, "the file has")
                raise UsageError(
                    "map-code-missing",
                    f"--map {old}={new}: no waypoint that {where} bears the code {missing!r}.",
                    hint="Write --map OLD=NEW: the code in the set, and the code of the row in the file.",
                )
        for old, new in mapping.items():
            record = self.records[rows[new]]
            before = self.standing[standing[old]]
            off = distance_m(before.position, record.waypoint.position)
            self._take(standing[old], before, record, MatchRound.MAP, off)
        done = {rows[new] for new in mapping.values()}
        self.open = [i for i in self.open if i not in done]
        return [k for k in left if codes[k] not in mapping]

    def _pair_without_zeros(self, left: Sequence[int]) -> Sequence[int]:
        """Take the rows whose code is a standing one without its leading zeros, under the same name."""
        if self.how.codes_as_written or not left:
            return left
        codes, names = self.records.codes, self.records.names
        row_of = {codes[i]: i for i in self.open if codes[i].isdigit()}
        for k in left if row_of else ():
            row_of.pop(self.standing.codes[k], None)
        if not row_of:
            return left
        taken: dict[int, int] = {}
        still = array("i")
        for k in left:
            code = self.standing.codes[k]
            i = row_of.get(code.lstrip("0") or "0") if code.startswith("0") else None
            if i is None or i in taken or fold(self.standing.names[k]) != fold(names[i]):
                still.append(k)
                continue
            taken[i] = k
        self._take_same_code_and_name(taken)
        self.open = [i for i in self.open if i not in taken]
        return still

    def _take_same_code_and_name(self, standing: Mapping[int, int]) -> None:
        """Take rows, each with the waypoint that stands under its code and name."""
        numbers = list(standing.values())
        befores = self.standing.some(numbers)
        for k, before, record in zip(numbers, befores, self.records.some(list(standing)), strict=True):
            off = distance_m(before.position, record.waypoint.position)
            self._take(k, before, record, MatchRound.CODE_AND_NAME, off)

    def _take(self, k: int, before: Waypoint, record: Row, made_by: MatchRound, off_m: float) -> None:
        """Take a row for a waypoint that stands, with its number."""
        after, kept = merged(before, record, clears=self.how.clears)
        self.kept_values += kept
        is_refined = False
        if not self.how.takes_coarser:
            settled = settle(before, after)
            after, is_refined = settled.waypoint, "position" in settled.refined
            self._count(settled)
        if after.code != before.code and not self.how.codes_as_written:
            if after.code == (before.code.lstrip("0") or "0"):
                after = replace(after, code=before.code)
                self.restored += 1
            elif (problem := date_problem(record.line, after.code, before.code)) is not None:
                self.problems.append(problem)
        self.renumbered += before.code != after.code
        is_plain = made_by in (MatchRound.IDENTITY, MatchRound.CODE_AND_NAME) and before.code == after.code
        if not is_plain or off_m > FAR_APART_M:
            moved_m = 0.0 if after.position == before.position else off_m
            told = ToldMatch(record.line, after.code, before.code, after.name, made_by, off_m, moved_m, is_refined)
            self.matches.add(told)
        if changed_fields(before, after):
            self.changed.add(k, after)
            self.changed_lines.append(record.line)
        else:
            self.unchanged += 1

    def _count(self, settled: Settled) -> None:
        if settled.kept:
            self.kept_finer.update((*settled.kept, _WAYPOINTS))
        if settled.refined:
            self.refined.update((*settled.refined, _WAYPOINTS))

    def _plan(self, left: Sequence[int], numbers: Sequence[int]) -> Plan:
        holders = {self.standing.codes[k]: k for k in left}
        replaces = self.how.replaces
        taken_over = list(self._taken_over(holders, numbers)) if holders else []
        reused = [after.code for _, after, before in taken_over if is_reused(before, after)] if replaces else []
        clashes = [] if replaces else [clash_problem(*one) for one in taken_over]
        return Plan(
            changes=SetChanges(
                changed=self.changed,
                retired=SomeWaypoints(self.standing, left) if replaces else (),
            ),
            new_rows=numbers,
            added=len(numbers),
            changed=len(self.changed),
            retired=len(left) if replaces else 0,
            unchanged=self.unchanged,
            problems=(*self.problems, *clashes),
            matches=self.matches.by_line(),
            renumbered=self.renumbered,
            kept_values=self.kept_values,
            restored_codes=self.restored,
            reused=tuple(sorted(reused)),
            doubtful=tuple(self.doubtful),
            fineness=Fineness(
                kept=self.kept_finer.pop(_WAYPOINTS, 0),
                refined=self.refined.pop(_WAYPOINTS, 0),
                kept_fields=self.kept_finer,
                refined_fields=self.refined,
            ),
        )

    def _taken_over(
        self, holders: Mapping[str, int], numbers: Iterable[int]
    ) -> Iterator[tuple[int, Waypoint, Waypoint]]:
        """Yield line and waypoint of each row whose code a waypoint holds that no row is, and that waypoint."""
        codes = self.records.codes
        for row in self.records.some([i for i in numbers if codes[i] in holders]):
            yield row.line, row.waypoint, self.standing[holders[row.waypoint.code]]
        for number, (before, after) in enumerate(self.changed.codes()):
            if before != after and after in holders:
                yield self.changed_lines[number], self.changed[number][1], self.standing[holders[after]]


class _RowsOfCodes:
    """Finds the rows of a file by the codes of what stands: one run of them where both are in the same order."""

    def __init__(self, codes: Sequence[str], rows: Sequence[int], but: Collection[str]) -> None:
        """Look among these rows, and never for the codes `but`."""
        self.codes, self.among, self.but = codes, rows, but
        self.following = 0
        self.row_of: dict[str, int] = {}

    def rows(self, codes: Sequence[str]) -> Sequence[int | None]:
        """Return the row of each code, None where there is none; a range where they follow each other."""
        start, end = self.following, self.following + len(codes)
        if isinstance(self.among, range) and not self.but and self.codes[start:end] == list(codes):
            self.following = end
            return range(start, end)
        if not self.row_of:
            self.row_of = dict(zip(map(self.codes.__getitem__, self.among), self.among, strict=True))
            for code in self.but:
                self.row_of.pop(code, None)
        rows = list(map(self.row_of.get, codes))
        self.following = (rows[-1] if rows and rows[-1] is not None else start) + 1
        return rows


def _have_one_name(standing: str, given: str) -> bool:
    return standing == given or fold(standing) == fold(given) != ""


def merged(before: Waypoint, record: Row, *, clears: bool) -> tuple[Waypoint, int]:
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
    typed = record.waypoint.typed
    if "elevation_m" not in values and before.typed is not None and before.typed.elevation is not None:
        typed = with_typed(typed, before.typed, ("elevation_m",))
    return replace(before, typed=typed, extras=record.waypoint.extras or before.extras, **values), kept  # type: ignore[arg-type]
