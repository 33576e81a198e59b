"""Contests: making them, their zone defaults per role, the set revision that they pin, and what they show."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from taskdb.core.contests.scopes import WHOLE, require_scope, set_zones, zones_at
from taskdb.core.course.zones import same_geometry
from taskdb.core.model import Contest, Earth, Role, Rules, Scope, Zone
from taskdb.core.names import require_name
from taskdb.core.pasted import command_line
from taskdb.errors import NotFoundError, RefusedError, UsageError
from taskdb.reference.presets import Preset
from taskdb.services.contests.presets import preset_zones, require_zones, with_preset
from taskdb.services.desk import Desk, Write
from taskdb.services.references import (
    SetAt,
    nearest,
    only_set,
    resolve_contest,
    resolve_set,
    resolve_waypoint,
    set_under,
    split_revision,
)
from taskdb.services.tasks.basis import stale_tasks_of
from taskdb.store import contests as contest_rows, sets as set_rows, task_lines

if TYPE_CHECKING:
    from taskdb.core.kept import ContestSummary
    from taskdb.store.contests import ContestHead
    from taskdb.store.engine import Connection, Writing


@dataclass(frozen=True)
class NewContest:
    """What a new contest is made of; `set_reference` None means the only set of the store."""

    name: str
    set_reference: str | None = None
    site: str | None = None
    from_date: str | None = None
    to_date: str | None = None
    timezone: str | None = None
    earth: Earth | None = None
    zones: Mapping[Role, Zone] | None = None
    preset: Preset | None = None


@dataclass(frozen=True)
class ContestShown:
    contest: Contest
    revision: int
    newest_set_revision: int
    author: str
    at: str
    note: str | None
    tasks: int
    stale_tasks: tuple[str, ...] = ()
    became_stale: tuple[str, ...] = ()
    """The tasks that moving the pin made stale, and those that it made good again; empty where nothing was pinned."""
    became_current: tuple[str, ...] = ()
    told: tuple[str, ...] = ()
    """What a person should know of what was done: a site that is not there any more."""


def new_contest(desk: Desk, request: NewContest, write: Write) -> ContestShown:
    """Make a contest on a set revision. RefusedError where the name is taken or a zone cannot serve its role."""
    name = require_name(request.name, what="contest")
    zones = {**(preset_zones(request.preset) if request.preset is not None else {}), **(request.zones or {})}
    require_zones(zones)
    require_dates(request.from_date, request.to_date)
    timezone = require_timezone(request.timezone)

    def work(writing: Writing) -> ContestShown:
        c = writing.connection
        require_free(
            c, name, hint=f"`{command_line('contest show', name)}` shows it; choose another name for a new one."
        )
        at = resolve_set(c, request.set_reference) if request.set_reference is not None else only_set(c)
        site = resolve_waypoint(c, request.site, at).code if request.site is not None else None
        contest = Contest(
            name=name,
            set_name=at.head.name,
            set_revision=at.revision,
            site=site,
            from_date=request.from_date,
            to_date=request.to_date,
            timezone=timezone,
            rules=Rules(earth=request.earth or Earth.WGS84),
            zones=zones,
        )
        if request.preset is not None:
            by_hand = {role.value for role in request.zones or {}} | ({"earth"} if request.earth is not None else set())
            contest = with_preset(contest, request.preset, by_hand)
        contest_rows.write_contest(writing, None, contest)
        return contest_shown(c, name)

    return desk.write(write, work)


def set_contest_zones(
    desk: Desk, name: str, zones: Mapping[Role, Zone | None], write: Write, scope: Scope = WHOLE
) -> ContestShown:
    """Change the zone defaults of the roles named for a scope, as a new revision; saved tasks keep theirs, turn stale.

    None takes a role back to what is farther: the contest's zone for a class or day, the built-in one for a contest.
    """
    require_zones({role: zone for role, zone in zones.items() if zone is not None})

    def change(_: Connection, contest: Contest) -> Contest:
        require_scope(contest, scope)
        own = zones_at(contest, scope)
        is_new = any(_differs(own.get(role), zone) for role, zone in zones.items())
        return set_zones(contest, zones, scope) if is_new else contest

    return change_contest(desk, name, write, change)


def change_contest(
    desk: Desk, name: str, write: Write, change: Callable[[Connection, Contest], Contest]
) -> ContestShown:
    """Write what `change` makes of a contest as a new revision; none where nothing differs. Saved tasks stay."""

    def work(writing: Writing) -> ContestShown:
        _, after = revise_contest(writing, name, change)
        return contest_shown(writing.connection, after.name)

    return desk.write(write, work)


def revise_contest(
    writing: Writing, name: str, change: Callable[[Connection, Contest], Contest]
) -> tuple[ContestHead, Contest]:
    """Write what `change` makes of a contest, and return it as it stands; a change of nothing abandons the write."""
    c = writing.connection
    head = resolve_contest(c, name)
    before = contest_rows.contest_at(c, head.id, head.newest)
    after = change(c, before)
    if after.name != before.name:
        require_free(c, after.name)
    if after == before:
        writing.abandon()
        return head, before
    return contest_rows.write_contest(writing, head, after), after


def require_free(c: Connection, name: str, *, hint: str = "Choose another.") -> None:
    """Raise RefusedError where a contest has this name already."""
    if contest_rows.find_contest(c, name) is not None:
        raise RefusedError("contest-exists", f"There is a contest {name!r} already.", hint=hint)


def _differs(before: Zone | None, after: Zone | None) -> bool:
    if before is None or after is None:
        return before is not after
    return not same_geometry(before, after)


def pin_contest(desk: Desk, name: str, set_reference: str, write: Write) -> ContestShown:
    """Move a contest to a set revision; the tasks that become stale are named, none is changed."""

    def work(writing: Writing) -> ContestShown:
        c = writing.connection
        before = stale_tasks_of(c, resolve_contest(c, name))
        pinned = pin_into(writing, name, set_reference)
        if pinned is None:
            writing.abandon()
        after = contest_shown(c, name)
        return replace(
            after,
            became_stale=tuple(task for task in after.stale_tasks if task not in before),
            became_current=tuple(task for task in before if task not in after.stale_tasks),
            told=(pinned.told,) if pinned is not None and pinned.told is not None else (),
        )

    return desk.write(write, work)


def pin_into(writing: Writing, name: str, set_reference: str) -> SiteCarried | None:
    """Move a contest to a set revision within a write that is under way; None where it stood on it already."""
    c = writing.connection
    head = resolve_contest(c, name)
    before = contest_rows.contest_at(c, head.id, head.newest)
    at = resolve_set(c, set_reference)
    if (before.set_name, before.set_revision) == (at.head.name, at.revision):
        return None
    moved = on_set(c, before, at)
    contest_rows.write_contest(writing, head, moved.contest)
    return moved


@dataclass(frozen=True)
class SiteCarried:
    """A contest that stands on another set revision; `told` is what became of its site where it is lost."""

    contest: Contest
    told: str | None = None


def on_set(c: Connection, contest: Contest, at: SetAt) -> SiteCarried:
    """Return the contest on a set revision, its site under the code that it has there.

    A site that was renumbered is carried by identity, on another set by the matching; one that nothing surely matches
    is taken out and told: under its old code another place may stand.
    """
    from taskdb.core.history.carry import Carried, CarryOver  # what shows a contest does without the matching

    moved = replace(contest, set_name=at.head.name, set_revision=at.revision)
    if contest.site is None:
        return SiteCarried(moved)
    before = set_under(c, contest)
    new = set_rows.waypoints_at(c, at.head.id, at.revision)
    ground = CarryOver(
        set_rows.waypoints_at(c, before.head.id, before.revision),
        new,
        set_rows.successors(c, at.head.id, at.revision),
    )
    found = ground.carry_code(contest.site)
    if isinstance(found, Carried):
        return SiteCarried(replace(moved, site=found.place.code))
    may_be = ", ".join(f"{waypoint.code} {waypoint.name}" for waypoint in found.candidates)
    place = f"{contest.site} {found.place.name}".strip() if found.place.name != contest.site else contest.site
    names_it = command_line("contest edit", contest.name, options=["--site", "CODE"])
    told = (
        f"{contest.name} has no site now: {place} is not surely in {at} ({found.reason})"
        f"{f'; it may be {may_be}' if may_be else ''}. `{names_it}` names it."
    )
    return SiteCarried(replace(moved, site=None), told)


def show_contest(desk: Desk, reference: str) -> ContestShown:
    """Return a contest, at its newest revision or at `NAME@3`."""
    name, number = split_revision(reference, what="contest")
    with desk.store.reading() as c:
        return contest_shown(c, name, number)


@dataclass(frozen=True)
class ContestListed:
    summary: ContestSummary
    tasks: int


def list_contests(desk: Desk) -> tuple[ContestListed, ...]:
    """Return every contest with its newest revision and the number of its tasks, in code-point order of names."""
    with desk.store.reading() as c:
        tasks = task_lines.counts_by_contest(c)
        return tuple(ContestListed(row, tasks.get(row.name, 0)) for row in contest_rows.list_contests(c))


def revision_of(head: ContestHead, number: int | None) -> int:
    """Return the number of a contest's revision, None meaning the newest. NotFoundError for one that is not there."""
    if number is not None and number > head.newest:
        raise NotFoundError(
            "revision-not-found",
            f"The contest {head.name!r} has no revision {number}; its newest is {head.newest}.",
            hint=f"`{command_line('contest log', head.name)}` lists its revisions.",
        )
    return number or head.newest


def contest_shown(c: Connection, name: str, number: int | None = None) -> ContestShown:
    """Return a contest at a revision, None for its newest, with what is shown beside it."""
    head = resolve_contest(c, name)
    revision = revision_of(head, number)
    contest = contest_rows.contest_at(c, head.id, revision)
    info = contest_rows.contest_info(c, head.id, revision)
    return ContestShown(
        contest=contest,
        revision=revision,
        newest_set_revision=resolve_set(c, contest.set_name).revision,
        author=info.author,
        at=info.at,
        note=info.note,
        tasks=task_lines.count_of_contest(c, head.id),
        stale_tasks=stale_tasks_of(c, head),
    )


def require_timezone(name: str | None) -> str | None:
    """Return the time zone's name, trimmed; None stays None. UsageError, with the nearest names, for one that is none.

    Where the machine has no list of time zones nothing can be held against it, and the name is taken.
    """
    if name is None:
        return None
    from taskdb.reference.sun import find_timezone, timezone_names

    text = name.strip()
    if find_timezone(text) is not None:
        return text
    known = timezone_names()
    if not known:
        return text
    near = nearest(text, known)
    raise UsageError(
        "bad-timezone",
        f"{text!r} is no time zone: one is named by its region and city.",
        hint=f"Did you mean {', '.join(near)}?" if near else "Write e.g. Europe/Berlin.",
        details={"name": text, "nearest": near},
    )


def require_dates(first: str | None, last: str | None) -> None:
    """Raise RefusedError where a contest would end before it begins."""
    if first is not None and last is not None and last < first:
        raise RefusedError(
            "dates-reversed",
            f"The contest would end on {last}, before it begins on {first}.",
            hint="Exchange --from and --to.",
        )
