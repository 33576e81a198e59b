"""The days of a contest as values: which is meant, what is changed of one, what is given in its place for one look."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from taskdb.core.contests.scopes import day_at, set_values
from taskdb.core.contests.setting_kinds import wind_value
from taskdb.core.course.wind import wind_of
from taskdb.core.model import Contest, ContestDay, Scope
from taskdb.core.quantities import Wind
from taskdb.errors import UsageError

CLEARED = {
    "date": "date",
    "start-opens": "start_opens",
    "wind": "wind",
    "speed": "speed_kmh",
}
"""What of a contest's day can be emptied by name, and the key of its setting (the date is none)."""


@dataclass(frozen=True)
class DayChange:
    """What is to be kept with a contest's day; None leaves what stands, `cleared` (names of `CLEARED`) empties it.

    `values` are plain values of any settings by key; None among them takes one away.
    """

    date: str | None = None
    start_opens: str | None = None
    wind: Wind | None = None
    speed_kmh: float | None = None
    cleared: tuple[str, ...] = ()
    values: Mapping[str, Any] = field(default_factory=dict)

    @property
    def is_empty(self) -> bool:
        return self == DayChange()

    @property
    def changes_date(self) -> bool:
        return self.date is not None or "date" in self.cleared

    @property
    def settings(self) -> dict[str, Any]:
        """Return what is to be set by key, emptied ones as None; the date is no setting."""
        typed = {
            "start_opens": self.start_opens,
            "wind": None if self.wind is None else wind_value(self.wind),
            "speed_kmh": self.speed_kmh,
        }
        emptied = {CLEARED[name]: None for name in self.cleared if name != "date"}
        return {**emptied, **self.values, **{key: value for key, value in typed.items() if value is not None}}


def day_of(contest: Contest | None, number: int | None) -> ContestDay | None:
    """Return the contest's day of that number; None where there is no such day, or no contest."""
    return None if contest is None else day_at(contest, Scope(None, number))


def require_one_date(change: DayChange, class_name: str | None) -> None:
    """Raise UsageError where one class alone would get a date."""
    if class_name is not None and change.changes_date:
        raise UsageError(
            "date-of-a-class", "A day has one date for all classes.", hint="Leave out --class, or the date."
        )


def changed_day(contest: Contest, number: int, change: DayChange, class_name: str | None = None) -> Contest:
    """Return the contest with a change of its day for all, or for one class; UsageError for one that is not there.

    A day of which nothing is left is taken out.
    """
    if change.changes_date:
        day = replace(day_of(contest, number) or ContestDay(number), date=change.date)
        others = (one for one in contest.days if one.number != number)
        contest = replace(contest, days=tuple(sorted((*others, day), key=lambda one: one.number)))
    return set_values(contest, change.settings, Scope(class_name, number))


def with_given(day: ContestDay, given: DayChange) -> ContestDay:
    """Return a day as it is for one look: what is given in place of what it has."""
    wind = given.wind or wind_of(day)
    return replace(
        day,
        date=given.date or day.date,
        start_opens=given.start_opens or day.start_opens,
        speed_kmh=given.speed_kmh or day.speed_kmh,
        wind_from_deg=None if wind is None else wind.from_deg,
        wind_speed_kmh=None if wind is None else wind.speed_kmh,
        wind_text=None if wind is None else wind.text,
    )


def date_notes(contest: Contest, day: ContestDay) -> Iterator[str]:
    """Yield what is odd about the date of a day: outside of the contest, the same as another day's."""
    if day.date is None:
        return
    if not (contest.from_date or day.date) <= day.date <= (contest.to_date or day.date):
        yield f"{day.date} is not within the contest's dates, {contest.from_date} to {contest.to_date}"
    same = [one.number for one in contest.days if one.date == day.date and one.number != day.number]
    if same:
        yield f"day {same[0]} has the same date"
