"""What the flights of a day add up to, worked out by hand; and which two logs tell one flight."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.flights.day import by_logs, is_same_flight, sums_of
from taskdb.core.flights.flight import Flight, Flown, ZoneTime
from taskdb.core.model import Position

HOME, FIELD = Position.at(48.872, 11.8105), Position.at(48.9, 12.2)


def flight(start_s=36_000.0, finish_s=43_200.0, speed_kmh=90.0, turn_s=40_000.0, at=HOME, date="2027-06-14", **more):
    flown = Flown(1, start_s, (ZoneTime(1, turn_s),), finish_s, 100_000.0, speed_kmh, None)
    return Flight(
        **{
            "date": date, "task": 0, "flown": flown, "stood_before": None, "stood_after": None, "ended_at": at,
            "problems": (), **more,
        }
    )  # fmt: skip


def out(start_s=36_500.0, **more):
    return flight(start_s=start_s, finish_s=None, speed_kmh=None, at=FIELD, **more)


NOBODY = flight(task=None, flown=None)


def test_sums_are_of_those_that_started_and_speeds_of_those_that_finished():
    sums = sums_of([flight(speed_kmh=90.0), flight(speed_kmh=110.0), flight(speed_kmh=96.0), out(), NOBODY])
    assert (sums.starters, sums.finishers, sums.best_kmh, sums.median_kmh) == (4, 3, 110.0, 96.0)
    none = sums_of([NOBODY])
    assert (none.starters, none.finishers, none.best_kmh, none.median_kmh) == (0, 0, None, None)


def test_a_day_tells_first_and_last_and_where_the_others_ended_most_first():
    told = by_logs(
        [
            (flight(), None), (flight(start_s=35_999.6, finish_s=86_461.0), None), (out(), "003"),
            (out(start_s=37_000.0), "003"), (out(), "001"), (out(), None),
        ],
        ["b", "a", "b"],
    )  # fmt: skip
    # 36,000 s is 10:00; 35,999.6 rounds to it; 86,461 s is 61 s into the next day.
    assert (told.first_start, told.last_start) == ("2027-06-14T10:00:00Z", "2027-06-14T10:16:40Z")
    assert (told.first_finish, told.last_finish) == ("2027-06-14T12:00:00Z", "2027-06-15T00:01:01Z")
    assert told.ended_near == (("003", 2), ("001", 1), (None, 1))
    assert told.logs == ("a", "b")


def test_logs_without_a_date_have_no_times_to_tell():
    told = by_logs([(flight(date=None), None)], ["a"])
    assert (told.starters, told.first_start, told.last_finish) == (1, None, None)


@pytest.mark.parametrize(
    ("other", "is_one"),
    [
        (flight(start_s=36_001.5, finish_s=43_198.5, turn_s=40_002.0), True),
        (flight(start_s=36_002.5), False),
        (flight(finish_s=43_203.0), False),
        (flight(turn_s=40_003.0), False),
        (flight(turn_s=None), False),
        (flight(date="2027-06-15"), False),
        (flight(at=Position.at(48.8745, 11.8105)), False),
        (flight(at=Position.at(48.8735, 11.8105)), True),
        (flight(task=1), False),
        (out(start_s=36_000.0), False),
        (NOBODY, False),
    ],
)
def test_two_logs_tell_one_flight_where_all_of_it_is_the_same_within_two_seconds(other, is_one):
    # 0.0025° of latitude are 278 m, 0.0015° 167 m.
    assert is_same_flight(flight(), other) is is_one
    assert is_same_flight(other, flight()) is is_one


def test_flights_of_no_task_are_never_one():
    assert not is_same_flight(NOBODY, NOBODY)
    unknown = replace(flight(), ended_at=None)
    assert not is_same_flight(unknown, unknown)
