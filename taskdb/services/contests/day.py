"""The days of a contest: kept, and shown with the sun on them."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.contests.days import DayChange, changed_day, date_notes, day_of, require_one_date
from taskdb.core.contests.scopes import Holding, require_scope, what_holds
from taskdb.core.course.day import SunTimes, legal_end_of
from taskdb.core.kinds import LegalEnd
from taskdb.core.model import Contest, ContestDay, Scope
from taskdb.core.pasted import command_line
from taskdb.errors import NotFoundError
from taskdb.reference.sun import sun_times
from taskdb.services.contests.contest import revise_contest
from taskdb.services.desk import Desk, Write
from taskdb.services.references import newest_contest
from taskdb.services.tasks.day import legal_end, site_position, sun_notes, timezone_of

if TYPE_CHECKING:
    from taskdb.store.engine import Connection, Writing


@dataclass(frozen=True)
class DayShown:
    """A contest's day with the sun on it; times local in `timezone`, the sun's in UTC where that is None.

    `holding` is what holds on it for everybody, or for the class that was named.
    """

    contest: Contest
    revision: int
    day: ContestDay
    timezone: str | None
    sun: SunTimes | None
    legal_end: LegalEnd
    legal_end_is_set: bool
    notes: tuple[str, ...]
    holding: Holding

    @property
    def legal_end_at(self) -> datetime.datetime | None:
        return None if self.sun is None else legal_end_of(self.sun, self.legal_end)


def set_day(
    desk: Desk, name: str, number: int, change: DayChange, write: Write, class_name: str | None = None
) -> DayShown:
    """Keep what is given with day `number` of a contest, for all or for one class, as a new revision if it is new.

    A day of which nothing is left is taken out. UsageError for a class that is not there, and for a class's own date.
    """
    require_one_date(change, class_name)

    def work(writing: Writing) -> DayShown:
        head, after = revise_contest(writing, name, lambda _, before: changed_day(before, number, change, class_name))
        day = day_of(after, number) or ContestDay(number)
        return _shown(writing.connection, after, head.newest, day, class_name)

    return desk.write(write, work)


def show_day(desk: Desk, name: str, number: int, class_name: str | None = None) -> DayShown:
    """Return day `number` of a contest as it holds for all or for a class. NotFoundError with the days that there are.

    UsageError for a class that is not there.
    """
    with desk.store.reading() as c:
        head, contest = newest_contest(c, name)
        day = day_of(contest, number)
        if day is None:
            there = ", ".join(str(one.number) for one in contest.days)
            makes_it = command_line("contest day", contest.name, str(number), options=["--date", "DATE"])
            raise NotFoundError(
                "day-not-found",
                f"The contest {contest.name!r} has no day {number}." + (f" Its days: {there}." if there else ""),
                hint=f"`{makes_it}` makes it.",
            )
        require_scope(contest, Scope(class_name, number))
        return _shown(c, contest, head.newest, day, class_name)


def _shown(c: Connection, contest: Contest, revision: int, day: ContestDay, class_name: str | None) -> DayShown:
    zone, zone_name, notes = timezone_of(contest)
    holding = what_holds(contest, class_name, day.number)
    rule, is_set = legal_end(holding, notes)
    sun = None
    site = site_position(c, contest)
    if day.date is not None and site is None:
        names_it = command_line("contest edit", contest.name, options=["--site", "CODE"])
        notes.append(f"no sun times: the contest has no site (`{names_it}`)")
    elif day.date is not None and site is not None:
        sun = sun_times(site, day.date, zone or datetime.UTC)
        notes.extend(sun_notes(sun, rule))
    notes.extend(date_notes(contest, day))
    return DayShown(contest, revision, day, zone_name, sun, rule, is_set, tuple(notes), holding)
