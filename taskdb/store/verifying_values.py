"""Are the values in single rows such as could have been written? Dates, names, numbers, what was typed, who wrote.

Reads only, and says what is wrong. What rows say of each other is `verifying_history`'s.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, select

from taskdb.core.contests.scopes import impossible_values
from taskdb.core.model import Waypoint
from taskdb.core.names import require_name
from taskdb.core.notation.as_typed import is_elevation_as_typed, is_position_as_typed
from taskdb.core.quantities import parse_date, parse_time_of_day
from taskdb.errors import TaskdbError
from taskdb.store import contests, schema

TIME = re.compile(r"\d{4}-[01]\d-[0-3]\dT[0-2]\d:[0-5]\d:[0-5]\dZ")


@dataclass(frozen=True, slots=True)
class StoreProblem:
    """A rule of the store that does not hold, at which thing, and how."""

    rule: str
    what: str
    message: str


def waypoint_problems(waypoint: Waypoint, what: str) -> Iterator[StoreProblem]:
    """Yield what cannot be so in a waypoint's state."""
    typed = waypoint.typed
    if typed is not None and not is_position_as_typed(waypoint.position, typed):
        shown = " ".join(part for part in (typed.latitude, typed.longitude) if part)
        yield StoreProblem("typed", what, f"was typed as {shown!r}, and stands at {waypoint.position}")
    if typed is not None and not is_elevation_as_typed(waypoint.elevation_m, typed):
        message = (
            f"its elevation was typed as {typed.elevation!r} {typed.elevation_unit}, and is {waypoint.elevation_m}"
        )
        yield StoreProblem("typed", what, message)
    if not waypoint.identity:
        yield StoreProblem("value", what, "has no identity")
    if waypoint.inspected_on is not None and not _date(waypoint.inspected_on):
        yield StoreProblem("value", what, f"inspected_on {waypoint.inspected_on!r} is no date")


def _date(value: Any) -> bool:
    return _is_as_read(parse_date, value)


def _time_of_day(value: Any) -> bool:
    return _is_as_read(parse_time_of_day, value)


def _time(value: Any) -> bool:
    return isinstance(value, str) and TIME.fullmatch(value) is not None


def _name(value: Any) -> bool:
    return _is_as_read(lambda text: require_name(text, what="thing", colon=True), value)


def _is_as_read(read: Callable[[str], str], value: Any) -> bool:
    try:
        return isinstance(value, str) and read(value) == value
    except TaskdbError:
        return False


def _text(value: Any) -> bool:
    return isinstance(value, str) and bool(value.strip())


def _yes_or_no(value: Any) -> bool:
    return value in (True, False)


def _from_one(value: Any) -> bool:
    return isinstance(value, int) and value >= 1


def _not_negative(value: Any) -> bool:
    return isinstance(value, (int, float)) and value >= 0


def _positive(value: Any) -> bool:
    return isinstance(value, (int, float)) and value > 0


def _bearing(value: Any) -> bool:
    return isinstance(value, (int, float)) and 0 <= value <= 360


_VALUES: tuple[tuple[str, str, Callable[[Any], bool], str], ...] = (
    # table, column, what holds for every value that is not null, in words
    ("operation", "command", _text, "a command"),
    ("waypoint_set", "name", _name, "a name"),
    ("contest", "name", _name, "a name"),
    ("contest_revision", "name", _name, "a name"),
    ("contest_revision", "retired", _yes_or_no, "yes or no"),
    ("contest_revision", "from_date", _date, "a date"),
    ("contest_revision", "to_date", _date, "a date"),
    ("contest_revision", "site", _text, "a code"),
    ("contest_revision", "timezone", _text, "a time zone"),
    ("contest_class", "name", _text, "a name"),
    ("contest_class", "slowest_kmh", _positive, "a speed"),
    ("contest_class", "fastest_kmh", _positive, "a speed"),
    ("contest_day", "day", _from_one, "a day, from 1 on"),
    ("contest_day", "date", _date, "a date"),
    ("contest_day", "start_opens", _time_of_day, "a time of day"),
    ("contest_day", "wind_from_deg", _bearing, "a bearing"),
    ("contest_day", "wind_speed_kmh", _not_negative, "a speed"),
    ("contest_day", "speed_kmh", _positive, "a speed"),
    ("set_label", "label", lambda value: isinstance(value, str), "a label"),
    ("set_label", "valid_from", _date, "a date"),
    ("task", "name", _name, "a name"),
    ("task_revision", "retired", _yes_or_no, "yes or no"),
    ("task_revision", "fai_triangle", _yes_or_no, "yes or no"),
    ("task_revision", "issued_at", _time, "a UTC time to the second"),
    ("task_revision", "day", _from_one, "a day, from 1 on"),
    ("task_revision", "class", _text, "a class"),
    ("task_revision", "variant", _text, "a variant"),
    ("task_revision", "speed_kmh", _positive, "a speed"),
    ("accepted_finding", "accepted", _yes_or_no, "yes or no"),
    ("flown_record", "flown_on", _date, "a date"),
    ("flown_record", "withdrawn", _yes_or_no, "yes or no"),
    ("flown_record", "wind_from_deg", _bearing, "a bearing"),
    ("flown_record", "wind_speed_kmh", _not_negative, "a speed"),
    ("flown_record", "starters", _not_negative, "a number of pilots"),
    ("flown_record", "finishers", _not_negative, "a number of pilots"),
    ("flown_record", "best_kmh", _positive, "a speed"),
    ("flown_record", "median_kmh", _positive, "a speed"),
    ("handout", "day", _from_one, "a day, from 1 on"),
    ("handout", "target", _text, "a place"),
)


def value_problems(c: Connection) -> Iterator[StoreProblem]:
    """Yield values that no command writes, and contests that cannot be read."""
    for table_name, column_name, holds, words in _VALUES:
        table = schema.metadata.tables[table_name]
        column = table.c[column_name]
        keys = list(table.primary_key.columns)
        query = select(column, *keys).where(column.is_not(None)).order_by(*keys)
        for value, *key in c.execute(query):
            if not holds(value):
                where = f"{table_name} {', '.join(map(str, key))}"
                yield StoreProblem("value", where, f"{column_name} {value!r} is not {words}")
    yield from _contests(c)


def _contests(c: Connection) -> Iterator[StoreProblem]:
    table = schema.contest_revision.c
    query = select(table.contest_id, table.number, table.name).order_by(table.contest_id, table.number)
    for contest_id, number, name in c.execute(query).all():
        what = f"contest {name}@{number}"
        try:
            contest = contests.contest_at(c, contest_id, number)
        except (TaskdbError, ValueError, KeyError, TypeError, AttributeError) as error:
            yield StoreProblem("contest-readable", what, f"cannot be read: {type(error).__name__}: {error}")
            continue
        for told in impossible_values(contest):
            yield StoreProblem("contest-value", what, told)
