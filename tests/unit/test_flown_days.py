"""A flown day is known by a person's hand, by logs, or by both: whose figure counts, and where they differ."""

from __future__ import annotations

from dataclasses import fields

import pytest

from taskdb.core.flown import (
    FLAT_NAMES_BY_LOGS,
    all_finished,
    best_kmh,
    contradictions,
    finish_rate_percent,
    flown_summary,
    median_kmh,
    who_finished,
)
from taskdb.core.model import FlownByLogs, FlownRecord
from tests.building import flown_by_logs

DAY = "2027-05-14"
LOGS = flown_by_logs(starters=8, finishers=6, best_kmh=98.7, median_kmh=92.4)


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ({}, (None, None)),
        ({"starters": 9, "finishers": 3}, (9, 3)),
        ({"by_logs": LOGS}, (8, 6)),
        ({"starters": 9, "finishers": 0, "by_logs": LOGS}, (9, 0)),
        ({"starters": 9, "by_logs": LOGS}, (8, 6)),
        ({"finishers": 3, "by_logs": LOGS}, (8, 6)),
    ],
)
def test_a_person_s_pair_counts_and_else_that_of_the_logs(given, expected):
    assert who_finished(FlownRecord(DAY, **given)) == expected


def test_speeds_are_a_person_s_where_they_are_written():
    assert (best_kmh(FlownRecord(DAY)), median_kmh(FlownRecord(DAY))) == (None, None)
    assert (best_kmh(FlownRecord(DAY, by_logs=LOGS)), median_kmh(FlownRecord(DAY, by_logs=LOGS))) == (98.7, 92.4)
    written = FlownRecord(DAY, best_kmh=104.0, median_kmh=90.0, by_logs=LOGS)
    assert (best_kmh(written), median_kmh(written)) == (104.0, 90.0)


def test_rates_of_many_days_are_sums_over_those_of_which_both_are_known():
    records = [FlownRecord(DAY, starters=10, finishers=1), FlownRecord(DAY, by_logs=LOGS), FlownRecord(DAY, starters=5)]
    finished = all_finished(records)
    assert finished is not None and (finished.starters, finished.finishers) == (18, 7)
    assert all_finished([FlownRecord(DAY, starters=0, finishers=0)]) is None
    assert finish_rate_percent(FlownRecord(DAY, starters=0, finishers=0)) is None


def test_only_what_both_say_can_contradict_and_speeds_may_be_rounded():
    assert contradictions(FlownRecord(DAY, starters=9, finishers=3)) == ()
    assert contradictions(FlownRecord(DAY, by_logs=LOGS)) == ()
    assert contradictions(FlownRecord(DAY, starters=8, best_kmh=99.0, by_logs=LOGS)) == ()
    found = contradictions(FlownRecord(DAY, None, None, None, 8, 5, 99.3, None, by_logs=LOGS))
    assert [(one.field, one.by_hand, one.by_logs) for one in found] == [("finishers", 5, 6), ("best_kmh", 99.3, 98.7)]


def test_every_field_of_what_logs_tell_has_its_column():
    assert list(FLAT_NAMES_BY_LOGS) == [field.name for field in fields(FlownByLogs)]


def test_what_is_known_of_a_task_s_days_is_said_in_one_line():
    assert flown_summary([]) is None
    records = [
        FlownRecord("2026-05-14", starters=12, finishers=10, best_kmh=104.0),
        FlownRecord("2027-05-14", starters=10, finishers=9, by_logs=LOGS),
        FlownRecord("2025-05-14"),
    ]
    summary = flown_summary(records)
    assert summary is not None
    assert summary.words("104 km/h") == "3 times, last on 2027-05-14, 19 of 22 finished, best 104 km/h"
    assert summary.best_kmh == 104.0
    once = flown_summary([FlownRecord("2025-05-14")])
    assert once is not None and once.words(None) == "once, on 2025-05-14"
