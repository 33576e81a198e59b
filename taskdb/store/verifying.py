"""Is a store whole? The engine's own checks of its file, and the rules of the store held against its rows by queries.

Reads only, and says what is wrong; what a task measures to is recomputed by the caller. That single values are as
they were written is what `checksums` tell; here stand the rules on what rows say of each other, and what is derived.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, func, select, text, true
from sqlalchemy.exc import SQLAlchemyError

from taskdb.core.airspace.changes import airspace_changes
from taskdb.core.airspace.volume import Volume, canonical_polygons
from taskdb.core.contests.scopes import impossible_values
from taskdb.core.model import Position, Task
from taskdb.core.names import fold
from taskdb.errors import TaskdbError
from taskdb.store.airspaces import airspace_info, every_revision, volumes_at
from taskdb.store.checksums import SEALED, Summed, summed_rows, summed_states
from taskdb.store.contests import contest_at
from taskdb.store.rows import READ_COLUMNS, waypoint_of
from taskdb.store.schema import (
    contest,
    contest_revision,
    task,
    task_revision,
    waypoint_set,
    waypoint_state,
    waypoint_word,
)
from taskdb.store.tasks import extremes_at, task_at, words_of as task_words_of
from taskdb.store.word_index import words_of

_BATCH = 5_000

UNREADABLE = (SQLAlchemyError, ValueError, LookupError, TypeError, AttributeError, ArithmeticError, AssertionError)
"""In what reading a damaged row may end. That a row is not there which has to be is a SQLAlchemyError or an assertion;
UnicodeDecodeError, a ValueError, is how SQLite's driver tells of a message that quotes what cannot be read."""


@dataclass(frozen=True, slots=True)
class StoreProblem:
    """A rule of the store that does not hold, at which thing, and how."""

    rule: str
    what: str
    message: str


@dataclass(frozen=True, slots=True)
class SavedTask:
    """A revision of a task as it can be held against its recomputation; `task` None where it cannot be read."""

    what: str
    task: Task | None
    unreadable: str | None
    fingerprint: str
    metres: dict[str, float | None]
    words: str
    shape: str
    is_fai_triangle: object
    first_course_deg: float | None
    extremes: tuple[tuple[Position, ...] | None, tuple[Position, ...] | None]


def file_problems(c: Connection) -> list[StoreProblem]:
    """Return what SQLite finds wrong with its file and its references; nothing on a server, which sees to both."""
    if c.dialect.name != "sqlite":
        return []
    found = [row[0] for row in c.exec_driver_sql("PRAGMA integrity_check")]
    problems = [StoreProblem("file-integrity", "file", line) for line in found if line != "ok"]
    for table, row, parent, _ in c.exec_driver_sql("PRAGMA foreign_key_check"):
        message = f"refers to a row of {parent} that is not there"
        problems.append(StoreProblem("reference", f"{table}, row {row}", message))
    return problems


def rule_problems(c: Connection) -> Iterator[StoreProblem]:
    """Yield what breaks the store's own rules, rule by rule."""
    for rule in _RULES:
        yield from rule(c)


def saved_tasks(c: Connection) -> Iterator[SavedTask]:
    """Yield every revision of every task, retired ones too, in order of task and revision."""
    query = (
        select(contest.c.name.label("contest_name"), task_revision)
        .join_from(task_revision, task, task.c.id == task_revision.c.task_id)
        .join(contest, contest.c.id == task.c.contest_id, isouter=True)
        .order_by(task_revision.c.task_id, task_revision.c.number)
    )
    for row in c.execute(query).all():
        value, unreadable = None, None
        extremes: tuple[tuple[Position, ...] | None, tuple[Position, ...] | None] = (None, None)
        try:
            value = task_at(c, row.task_id, row.number)
            extremes = extremes_at(c, row.task_id, row.number)
        except UNREADABLE as error:
            value, unreadable = None, f"{type(error).__name__}: {error}"
        prefix = f"{row.contest_name}:" if row.contest_name else ""
        yield SavedTask(
            what=f"task {prefix}{row.name}@{row.number}",
            task=value,
            unreadable=unreadable,
            fingerprint=row.fingerprint,
            metres={name: getattr(row, name) for name in ("centres_m", "task_m", "minimum_m", "maximum_m")},
            words=row.words,
            shape=row.shape,
            is_fai_triangle=row.fai_triangle,
            first_course_deg=row.first_course_deg,
            extremes=extremes,
        )


def words_of_task(value: Task) -> str:
    """Return what a task's column of search words must hold."""
    return task_words_of(value)


# -- what was written ----------------------------------------------------------------------------------------------


def checksum_problems(c: Connection) -> Iterator[StoreProblem]:
    """Yield what is not as it was written: revisions and records with their parts, and states of waypoints."""
    for sealed in SEALED:
        for one in summed_rows(c, sealed, true()):
            if one.kept != one.now:
                parts = ", or a part of it," if sealed.parts else ""
                message = f"it{parts} is not as it was written" if one.kept else "has no checksum"
                yield StoreProblem("checksum", one.called, message)
    for one in summed_states(c):
        if one.kept is None:
            yield StoreProblem("checksum", one.called, "has no checksum of its waypoints")
        elif one.kept != one.now:
            yield from _changed_states(c, one)


def _changed_states(c: Connection, one: Summed) -> Iterator[StoreProblem]:
    """Name the codes among which a state is that is not as it was written: a hundred are summed together."""
    kept, state = set((one.kept or "").split()), waypoint_state.c
    now = one.now.split()
    firsts = [int(each.partition(":")[0]) for each in now]
    for each, first, end in zip(now, firsts, [*firsts, None][1:], strict=True):
        if each in kept:
            continue
        mine = [state.set_id == one.key["set_id"], state.valid_from == one.key["number"], state.id >= first]
        codes = select(func.min(state.code), func.max(state.code), func.count()).where(
            *mine, true() if end is None else state.id < end
        )
        low, high, count = c.execute(codes).one()
        message = (
            f"its waypoint {low} is not as it was written"
            if count == 1
            else f"of its waypoints {low} to {high} one or more are not as they were written"
        )
        yield StoreProblem("checksum", one.called, message)
    if len(now) < len(kept):
        yield StoreProblem("checksum", one.called, "of its waypoints some are not there")


# -- the rules ---------------------------------------------------------------------------------------------------


def _set_names(c: Connection) -> dict[int, str]:
    return {row[0]: row[1] for row in c.execute(select(waypoint_set.c.id, waypoint_set.c.name))}


def _open_codes(c: Connection) -> Iterator[StoreProblem]:
    names = _set_names(c)
    query = (
        "SELECT set_id, code, count(*) FROM waypoint_state WHERE valid_to IS NULL"
        " GROUP BY set_id, code HAVING count(*) > 1 ORDER BY set_id, code"
    )
    for set_id, code, count in c.execute(text(query)):
        yield StoreProblem(
            "code-unique", f"set {names.get(set_id, set_id)}", f"{count} open waypoints have code {code}"
        )


def _no_overlap(c: Connection) -> Iterator[StoreProblem]:
    names = _set_names(c)
    query = (
        "SELECT set_id, identity, valid_from, valid_to, following FROM (SELECT set_id, identity, valid_from, valid_to,"
        " lead(valid_from) OVER (PARTITION BY set_id, identity ORDER BY valid_from, id) AS following"
        " FROM waypoint_state) AS s WHERE following IS NOT NULL AND (valid_to IS NULL OR valid_to > following)"
        " ORDER BY set_id, identity, valid_from"
    )
    for set_id, identity, first, end, following in c.execute(text(query)):
        message = f"the state from revision {first} to {end or 'now'} overlaps the next one, from {following}"
        yield StoreProblem("states-overlap", f"set {names.get(set_id, set_id)}, identity {identity}", message)


def _set_counts(c: Connection) -> Iterator[StoreProblem]:
    """Hold each revision's counts against the states that it opened and closed, and those that stood after it."""
    opened, closed = (
        {
            (row[0], row[1]): row[2]
            for row in c.execute(
                text(
                    f"SELECT set_id, {column}, count(*) FROM waypoint_state WHERE {column} IS NOT NULL "
                    f"GROUP BY set_id, {column}"
                )
            )
        }
        for column in ("valid_from", "valid_to")
    )
    names = _set_names(c)
    query = "SELECT set_id, number, count, added, changed, retired FROM set_revision ORDER BY set_id, number"
    stands: dict[int, int] = {}
    for set_id, number, count, added, changed, retired in c.execute(text(query)):
        came, went = opened.pop((set_id, number), 0), closed.pop((set_id, number), 0)
        stands[set_id] = stands.get(set_id, 0) + came - went
        what = f"set {names.get(set_id, set_id)}@{number}"
        if stands[set_id] != count:
            yield StoreProblem("set-counts", what, f"says {count} waypoints, {stands[set_id]} stand")
        if (added + changed, changed + retired) != (came, went):
            message = f"says {added} added, {changed} changed, {retired} retired; {came} states open and {went} end"
            yield StoreProblem("set-counts", what, message)
    for set_id, number in sorted({*opened, *closed}):
        yield StoreProblem(
            "set-counts", f"set {names.get(set_id, set_id)}", f"states name revision {number}, not there"
        )


def _newest_numbers(c: Connection) -> Iterator[StoreProblem]:
    for table, child, key in (
        ("waypoint_set", "set_revision", "set_id"),
        ("airspace", "airspace_revision", "airspace_id"),
        ("contest", "contest_revision", "contest_id"),
        ("task", "task_revision", "task_id"),
    ):
        query = (
            f"SELECT p.name, p.newest, coalesce(max(r.number), 0), count(r.number),"
            f" coalesce(min(r.number), 1) FROM {table} AS p"
            f" LEFT JOIN {child} AS r ON r.{key} = p.id GROUP BY p.id, p.name, p.newest ORDER BY p.id"
        )
        noun = table.removeprefix("waypoint_")
        for name, newest, greatest, count, least in c.execute(text(query)):
            if newest != greatest:
                yield StoreProblem("newest-number", f"{noun} {name}", f"says {newest}, the greatest is {greatest}")
            elif count != greatest or least != 1:
                yield StoreProblem("newest-number", f"{noun} {name}", f"not all of 1 to {greatest} are there")


def _named_heads(c: Connection) -> Iterator[StoreProblem]:
    for noun in ("airspace", "contest"):
        query = (
            f"SELECT t.name, r.name FROM {noun} AS t JOIN {noun}_revision AS r"
            f" ON r.{noun}_id = t.id AND r.number = t.newest WHERE t.name <> r.name ORDER BY t.id"
        )
        for name, newest in c.execute(text(query)):
            yield StoreProblem(f"{noun}-name", f"{noun} {name}", f"its newest revision is called {newest}")


def _task_heads(c: Connection) -> Iterator[StoreProblem]:
    query = (
        "SELECT t.id, t.name, r.name FROM task AS t JOIN task_revision AS r"
        " ON r.task_id = t.id AND r.number = t.newest WHERE t.name <> r.name ORDER BY t.id"
    )
    for _, name, newest in c.execute(text(query)):
        yield StoreProblem("task-name", f"task {name}", f"its newest revision is called {newest}")
    query = (
        "SELECT t.name, r.number, r.contest_revision FROM task AS t JOIN task_revision AS r ON r.task_id = t.id"
        " LEFT JOIN contest_revision AS k ON k.contest_id = t.contest_id AND k.number = r.contest_revision"
        " WHERE r.contest_revision IS NOT NULL AND k.number IS NULL ORDER BY t.id, r.number"
    )
    for name, number, wanted in c.execute(text(query)):
        message = f"refers to revision {wanted} of its contest, which is not there"
        yield StoreProblem("reference", f"task {name}@{number}", message)


def _states_and_words(c: Connection) -> Iterator[StoreProblem]:
    """Read every state, and hold folded columns and search words against what they must be; in one pass over both."""
    names = _set_names(c)
    state = waypoint_state.c
    columns = [state.id, state.set_id, state.valid_to, state.code_folded, state.name_folded]
    states = c.execute(
        select(*columns, *(state[name] for name in READ_COLUMNS)).order_by(state.id),
        execution_options={"yield_per": _BATCH},
    )
    kept = _kept_words(c)
    next_id, next_words = next(kept, (None, set()))
    for row in states:
        state_id, set_id, valid_to, code_folded, name_folded = row[:5]
        what = f"waypoint {row.code} of set {names.get(set_id, set_id)}, state {state_id}"
        try:
            waypoint_of(row[5:])
        except UNREADABLE as error:
            yield StoreProblem("state-readable", what, f"cannot be read: {type(error).__name__}: {error}")
        if (code_folded, name_folded) != (fold(row.code), fold(row.name)):
            yield StoreProblem("folded", what, "its folded code or name is not what searches look for")
        while next_id is not None and next_id < state_id:
            yield StoreProblem("search-words", f"state {next_id}", "has search words, and is not there")
            next_id, next_words = next(kept, (None, set()))
        words: set[str] = set()
        if next_id == state_id:
            words = next_words
            next_id, next_words = next(kept, (None, set()))
        wanted = set() if valid_to is not None else set(words_of(row.name, row.code))
        if words != wanted:
            message = f"lacks the words {sorted(wanted - words)} and has {sorted(words - wanted)} too many"
            yield StoreProblem("search-words", what, message)
    for state_id, _ in ((next_id, next_words), *kept) if next_id is not None else ():
        yield StoreProblem("search-words", f"state {state_id}", "has search words, and is not there")


def _kept_words(c: Connection) -> Iterator[tuple[int | None, set[str]]]:
    query = select(waypoint_word.c.state_id, waypoint_word.c.word).order_by(waypoint_word.c.state_id)
    rows: Any = c.execute(query, execution_options={"yield_per": _BATCH})
    for state_id, group in groupby(rows, key=lambda row: row[0]):
        yield state_id, {row[1] for row in group}


def _airspaces(c: Connection) -> Iterator[StoreProblem]:
    """Read every volume of every revision, and hold the counts of a revision against the one before."""
    before: dict[str, Volume] = {}
    for airspace_id, name, number in every_revision(c):
        what = f"airspace {name}@{number}"
        try:
            volumes = {volume.name: volume for volume in volumes_at(c, airspace_id, number)}
        except (TaskdbError, *UNREADABLE) as error:
            yield StoreProblem("airspace-readable", what, f"cannot be read: {type(error).__name__}: {error}")
            volumes = {}
            before = volumes
            continue
        for volume in volumes.values():
            if volume.polygons != canonical_polygons(volume.polygons):
                yield StoreProblem("airspace-ground", f"{what}, {volume.name}", "its polygons are not as they are kept")
        changes = airspace_changes(tuple(before.values()) if number > 1 else (), tuple(volumes.values()))
        info = airspace_info(c, airspace_id, number)
        found = len(changes.added), len(changes.changed), len(changes.retired)
        if found != (info.added, info.changed, info.retired):
            yield StoreProblem(
                "airspace-counts",
                what,
                f"says {info.added} added, {info.changed} changed, {info.retired} retired; "
                f"found {found[0]}, {found[1]}, {found[2]}",
            )
        before = volumes


def _contests(c: Connection) -> Iterator[StoreProblem]:
    """Read every revision of every contest, and hold its settings against each other."""
    table = contest_revision.c
    query = select(table.contest_id, table.number, table.name).order_by(table.contest_id, table.number)
    for contest_id, number, name in c.execute(query).all():
        what = f"contest {name}@{number}"
        try:
            found = contest_at(c, contest_id, number)
        except (TaskdbError, *UNREADABLE) as error:
            yield StoreProblem("contest-readable", what, f"cannot be read: {type(error).__name__}: {error}")
            continue
        for told in impossible_values(found):
            yield StoreProblem("contest-value", what, told)


_RULES: tuple[Callable[[Connection], Iterator[StoreProblem]], ...] = (
    _open_codes,
    _no_overlap,
    _set_counts,
    _newest_numbers,
    _named_heads,
    _task_heads,
    _states_and_words,
    _airspaces,
    _contests,
)
