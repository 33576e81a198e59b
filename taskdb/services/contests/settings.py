"""What a contest is set to: its settings, classes, frequencies, dates and name; last season's copied for the next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from taskdb.core.contests.scopes import WHOLE, set_channels, set_values, tidy, without_days
from taskdb.core.contests.settings import with_values
from taskdb.core.model import Contest, ContestClass, Scope
from taskdb.core.names import require_name
from taskdb.core.revision_words import contest_changes
from taskdb.errors import UsageError
from taskdb.services.airspace.held import pins_of
from taskdb.services.contests.contest import (
    ContestShown,
    change_contest,
    contest_shown,
    on_set,
    require_dates,
    require_free,
    require_timezone,
    revision_of,
)
from taskdb.services.desk import Desk, Progress, Write
from taskdb.services.references import resolve_contest, resolve_set, resolve_waypoint, set_under, split_revision
from taskdb.services.tasks.basis import Basis
from taskdb.services.tasks.carrying import CarriedTask, CarryRequest, Decided, decide_season, write_carried
from taskdb.store import contests as contest_rows
from taskdb.store.contests import ContestHead

if TYPE_CHECKING:
    from taskdb.core.kept import RevisionInfo
    from taskdb.store.engine import Connection, Writing

_NOT_YET = 0
"""The id of a contest that is not kept yet."""


def set_settings(
    desk: Desk,
    name: str,
    values: Mapping[str, Any],
    frequencies: Mapping[str, str],
    write: Write,
    scope: Scope = WHOLE,
) -> ContestShown:
    """Set settings by key (None: what is farther holds) and channels by purpose (empty text: taken away) for a scope.

    UsageError for a class that is not there, and for a setting that cannot be set for this scope.
    """

    def change(_: Connection, contest: Contest) -> Contest:
        return set_channels(set_values(contest, values, scope), frequencies, scope)

    return change_contest(desk, name, write, change)


def set_classes(
    desk: Desk, name: str, classes: Sequence[ContestClass], dropped: Sequence[str], write: Write
) -> ContestShown:
    """Add or change classes by name, and drop some with all that is set for them.

    UsageError for dropping one that is not there.
    """

    def change(_: Connection, contest: Contest) -> Contest:
        known = {item.name: item for item in contest.classes}
        missing = [item for item in dropped if item not in known]
        if missing:
            raise UsageError(
                "unknown-class",
                f"{contest.name!r} has no class {missing[0]!r}.",
                hint=f"Its classes: {', '.join(known) or 'none'}.",
            )
        known.update({item.name: item for item in classes})
        kept = [item for key, item in sorted(known.items()) if key not in dropped]
        return tidy(replace(contest, classes=tuple(kept)))

    return change_contest(desk, name, write, change)


@dataclass(frozen=True)
class ContestEdit:
    """What to change of a contest; None leaves it."""

    new_name: str | None = None
    site: str | None = None
    from_date: str | None = None
    to_date: str | None = None
    timezone: str | None = None
    values: Mapping[str, Any] | None = None
    airspace: tuple[str, ...] | None = None
    """What its tasks are held against from now on, as NAME or NAME@R; empty: nothing."""


def edit_contest(desk: Desk, name: str, edit: ContestEdit, write: Write) -> ContestShown:
    """Change a contest's name, site, dates, time zone, airspace or plain settings."""

    timezone = require_timezone(edit.timezone)

    def change(c: Connection, contest: Contest) -> Contest:
        changes: dict[str, Any] = {
            key: value
            for key, value in (("from_date", edit.from_date), ("to_date", edit.to_date), ("timezone", timezone))
            if value is not None
        }
        if edit.new_name is not None:
            changes["name"] = require_name(edit.new_name, what="contest")
        if edit.site is not None:
            at = set_under(c, contest)
            changes["site"] = resolve_waypoint(c, edit.site, at).code
        if edit.airspace is not None:
            changes["airspace"] = pins_of(c, edit.airspace)
        after = with_values(replace(contest, **changes), edit.values or {})
        require_dates(after.from_date, after.to_date)
        return after

    return change_contest(desk, name, write, change)


@dataclass(frozen=True)
class CopiedContest:
    shown: ContestShown
    tasks: tuple[CarriedTask, ...]


@dataclass(frozen=True)
class ContestCopy:
    """How a contest is copied: on which set (None: the old pin), for which dates, with its tasks or without."""

    new_name: str
    set_reference: str | None = None
    from_date: str | None = None
    to_date: str | None = None
    with_tasks: bool = False
    name_pattern: str = "{name}"


def copy_contest(
    desk: Desk, reference: str, copy: ContestCopy, write: Write, progress: Progress | None = None
) -> CopiedContest:
    """Make next season's contest from an old one: settings, zones and classes, without its days.

    With its tasks they are carried over, those with a point in doubt left and told. The old contest is untouched.
    """
    old_name, number = split_revision(reference, what="contest")
    new_name = require_name(copy.new_name, what="contest")
    require_dates(copy.from_date, copy.to_date)

    def work(writing: Writing) -> CopiedContest:
        c = writing.connection
        head = resolve_contest(c, old_name)
        require_free(c, new_name)
        old = contest_rows.contest_at(c, head.id, revision_of(head, number))
        at = set_under(c, old) if copy.set_reference is None else resolve_set(c, copy.set_reference)
        named = replace(without_days(old), name=new_name, from_date=copy.from_date, to_date=copy.to_date)
        moved = on_set(c, named, at)
        decided: tuple[Decided, ...] = ()
        if copy.with_tasks:
            decided = decide_season(
                writing,
                CarryRequest(from_contest=head.name, contest=new_name, name_pattern=copy.name_pattern),
                Basis(at, ContestHead(_NOT_YET, new_name, 1, retired=False), moved.contest),
                new_from=(head.id, revision_of(head, number)),
                confirm_far=write.confirmed,
                progress=progress,
            )
        written = contest_rows.write_contest(writing, None, moved.contest)
        tasks = write_carried(writing, decided, written.id)
        shown = contest_shown(c, new_name)
        return CopiedContest(replace(shown, told=(moved.told,) if moved.told is not None else ()), tasks)

    return desk.write(write, work)


@dataclass(frozen=True)
class ContestLogged:
    """A revision of a contest, and what it changed in a few words each."""

    info: RevisionInfo
    changes: tuple[str, ...]


def contest_log(desk: Desk, name: str) -> tuple[str, tuple[ContestLogged, ...]]:
    """Return the contest's name and its revisions, newest first, each with what it changed."""
    with desk.store.reading() as c:
        head = resolve_contest(c, name)
        infos = contest_rows.contest_log(c, head.id)
        states = [contest_rows.contest_at(c, head.id, info.number) for info in infos]
        olds = [*states[1:], None]
        changes = [contest_changes(old, new) for old, new in zip(olds, states, strict=True)]
        return head.name, tuple(map(ContestLogged, infos, changes))
