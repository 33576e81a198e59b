"""Contests: making them, their zone defaults per role, the set revision that they pin, and what they show."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from taskdb.core.contests.scopes import WHOLE, require_scope, set_values, set_zones, source_key, zones_at
from taskdb.core.contests.settings import BY_KEY, Reach, read_values, with_sources, with_values
from taskdb.core.course.zones import allowed_for_role, parse_zone, same_geometry
from taskdb.core.history.words import counted
from taskdb.core.model import Contest, ContestClass, Earth, Role, Rules, Scope, Zone
from taskdb.core.names import require_name
from taskdb.errors import InputError, RefusedError, UsageError
from taskdb.reference.presets import Preset
from taskdb.reference.sun import find_timezone, timezone_names
from taskdb.services.contests.site import SiteCarried, on_set
from taskdb.services.desk import Desk, Write
from taskdb.services.references import nearest, only_set, resolve_contest, resolve_set, resolve_waypoint, split_revision
from taskdb.store import contests as contest_rows, task_lines

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from taskdb.core.kept import ContestSummary
    from taskdb.store.engine import Writing


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
    preset_zones = _preset_zones(request.preset) if request.preset is not None else {}
    zones = {**preset_zones, **(request.zones or {})}
    require_zones(zones)
    require_dates(request.from_date, request.to_date)
    timezone = require_timezone(request.timezone)
    with desk.writing(write) as writing:
        c = writing.connection
        if contest_rows.find_contest(c, name) is not None:
            raise RefusedError(
                "contest-exists",
                f"There is a contest {name!r} already.",
                hint=f"`taskdb contest show {name!r}` shows it; choose another name for a new one.",
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
            contest = _with_preset(contest, request.preset, request)
        contest_rows.write_contest(writing, None, contest)
        return contest_shown(c, name, None)


def set_contest_zones(
    desk: Desk, name: str, zones: Mapping[Role, Zone | None], write: Write, scope: Scope = WHOLE
) -> ContestShown:
    """Change the zone defaults of the roles named for a scope, as a new revision; saved tasks keep theirs, turn stale.

    None takes a role back to what is farther: the contest's zone for a class or day, the built-in one for a contest.
    """
    require_zones({role: zone for role, zone in zones.items() if zone is not None})
    with desk.writing(write) as writing:
        c = writing.connection
        head = contest_rows.lock_contest(writing, resolve_contest(c, name).id)
        before = contest_rows.contest_at(c, head.id, head.newest)
        require_scope(before, scope)
        own = zones_at(before, scope)
        if any(_differs(own.get(role), zone) for role, zone in zones.items()):
            after = set_zones(before, zones, scope)
            contest_rows.write_contest(writing, head, after)
        else:
            writing.abandon()
        return contest_shown(c, head.name, None)


def _differs(before: Zone | None, after: Zone | None) -> bool:
    if before is None or after is None:
        return before is not after
    return not same_geometry(before, after)


def pin_contest(desk: Desk, name: str, set_reference: str, write: Write) -> ContestShown:
    """Move a contest to a set revision; the tasks that become stale are named, none is changed."""
    from taskdb.services.tasks.basis import stale_tasks_of

    with desk.writing(write) as writing:
        c = writing.connection
        before = stale_tasks_of(c, resolve_contest(c, name))
        pinned = pin_into(writing, name, set_reference)
        if pinned is None:
            writing.abandon()
        after = contest_shown(c, name, None)
        return replace(
            after,
            became_stale=tuple(task for task in after.stale_tasks if task not in before),
            became_current=tuple(task for task in before if task not in after.stale_tasks),
            told=(pinned.told,) if pinned is not None and pinned.told is not None else (),
        )


def pin_into(writing: Writing, name: str, set_reference: str) -> SiteCarried | None:
    """Move a contest to a set revision within a write that is under way; None where it stood on it already."""
    c = writing.connection
    head = contest_rows.lock_contest(writing, resolve_contest(c, name).id)
    before = contest_rows.contest_at(c, head.id, head.newest)
    at = resolve_set(c, set_reference)
    if (before.set_name, before.set_revision) == (at.head.name, at.revision):
        return None
    moved = on_set(c, before, at)
    contest_rows.write_contest(writing, head, moved.contest)
    return moved


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
        tasks = Counter(row.contest for row in task_lines.list_tasks(c))
        return tuple(ContestListed(row, tasks[row.name]) for row in contest_rows.list_contests(c))


def contest_shown(c: Connection, name: str, number: int | None = None) -> ContestShown:
    """Return a contest at a revision, None for its newest, with what is shown beside it."""
    from taskdb.errors import NotFoundError
    from taskdb.services.tasks.basis import stale_tasks_of

    head = resolve_contest(c, name)
    if number is not None and number > head.newest:
        raise NotFoundError(
            "revision-not-found",
            f"The contest {name!r} has no revision {number}; its newest is {head.newest}.",
            hint=f"`taskdb contest log {name!r}` lists its revisions.",
        )
    revision = number or head.newest
    contest = contest_rows.contest_at(c, head.id, revision)
    info = contest_rows.contest_info(c, head.id, revision)
    return ContestShown(
        contest=contest,
        revision=revision,
        newest_set_revision=resolve_set(c, contest.set_name).revision,
        author=info.author,
        at=info.at,
        note=info.note,
        tasks=len(task_lines.list_tasks(c, contest_id=head.id)),
        stale_tasks=stale_tasks_of(c, head),
    )


def _preset_zones(preset: Preset) -> dict[Role, Zone]:
    """Return a preset's zones. InputError with everything in it, its classes too, that cannot be read."""
    problems: list[str] = []
    zones = _read_preset(preset, "", problems)
    for class_name, own in preset.classes.items():
        _read_preset(own, f"classes.{class_name}.", problems)
        for key in own.settings:
            if key in BY_KEY and BY_KEY[key].reach is Reach.CONTEST:
                problems.append(f"classes.{class_name}.settings.{key}: it is set for the whole contest only")
    if problems:
        raise InputError(
            "not-a-preset",
            f"{preset.name} cannot be used as a preset: {counted(len(problems), 'problem')}.",
            hint=f"Settings: {', '.join(BY_KEY)}.",
            details={"lines": problems},
        )
    return zones


def _read_preset(preset: Preset, where: str, problems: list[str]) -> dict[Role, Zone]:
    """Return the zones of a preset or of one of its classes, and add what cannot be read to the problems."""
    zones: dict[Role, Zone] = {}
    for role, text in preset.zones.items():
        try:
            zones[Role(role)] = parse_zone(text)
        except UsageError as error:
            problems.append(f"{where}zones.{role}: {error.message}")
        except ValueError:
            problems.append(f"{where}zones.{role}: there is no such role; the roles are {', '.join(Role)}")
    for key, text in preset.settings.items():
        try:
            read_values({key: text})
            if BY_KEY[key].reach is Reach.DAY:
                problems.append(f"{where}settings.{key}: it is set for a day only")
        except UsageError as error:
            problems.append(f"{where}settings.{key}: {error.message}")
    return zones


def _with_preset(contest: Contest, preset: Preset, request: NewContest) -> Contest:
    """Return the contest with a preset's settings and classes, and with where they and its zones come from."""
    values = read_values(preset.settings)
    if request.earth is not None:
        values.pop("earth", None)
    by_hand = {role.value for role in request.zones or {}}
    contest = with_values(contest, values)
    names = [require_name(name, what="class") for name in preset.classes]
    contest = replace(contest, classes=tuple(ContestClass(name) for name in sorted(names)))
    taken = [*values, *(role for role in preset.zones if role not in by_hand)]
    sources: dict[str, str | None] = {key: _said(preset, key) for key in taken}
    for name, own in preset.classes.items():
        scope = Scope(name)
        zones = _read_preset(own, "", [])
        require_zones(zones)
        contest = set_zones(set_values(contest, read_values(own.settings), scope), zones, scope)
        sources |= {source_key(scope, key): _said(own, key) for key in (*own.settings, *own.zones)}
    return with_sources(contest, sources)


def _said(preset: Preset, key: str) -> str | None:
    source = preset.sources.get(key)
    return f"{preset.name}: {source}" if source else None


def require_zones(zones: Mapping[Role, Zone]) -> None:
    """Raise RefusedError where a zone cannot be the default of its role."""
    for role, zone in zones.items():
        reason = allowed_for_role(zone, role)
        if reason is not None:
            raise RefusedError(
                "zone-not-for-role",
                f"The zone {zone.text!r} cannot be the default of role {role}: {reason}.",
                hint=f"Give another zone with --{role}.",
            )


def require_timezone(name: str | None) -> str | None:
    """Return the time zone's name, trimmed; None stays None. UsageError, with the nearest names, for one that is none.

    Where the machine has no list of time zones nothing can be held against it, and the name is taken.
    """
    if name is None:
        return None
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
