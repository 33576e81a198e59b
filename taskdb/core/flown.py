"""What is known of the days on which a task was flown: by a person's hand, by flight logs, or by both.

Both are kept. Where both say a thing the person's counts, since a log is missing of whoever handed none in; that they
differ is told. Starters and finishers are one statement: one of them from here and one from there would be neither.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from taskdb.core.model import FlownRecord

LOG_CHECKSUM_DIGITS = 32
"""Of a log's SHA-256 (FIPS 180-4) so many hexadecimal digits are kept: 128 bits, so that no two logs share them."""
FLAT_NAMES_BY_LOGS = {
    "starters": "log_starters", "finishers": "log_finishers", "best_kmh": "log_best_kmh",
    "median_kmh": "log_median_kmh", "first_start": "first_start", "last_start": "last_start",
    "first_finish": "first_finish", "last_finish": "last_finish", "ended_near": "ended_near", "logs": "logs",
}  # fmt: skip
"""Where each field of `FlownByLogs` stands in a table that holds it beside what a person wrote."""


def beside(record: FlownRecord, standing: FlownRecord | None) -> FlownRecord:
    """Return a record with what it says nothing of as it stands: what logs told, or all that a person wrote."""
    if standing is None:
        return record
    if record.by_logs is None:
        return replace(record, by_logs=standing.by_logs)
    is_of_logs_alone = record == FlownRecord(record.flown_on, by_logs=record.by_logs)
    return replace(standing, by_logs=record.by_logs) if is_of_logs_alone else record


def who_finished(record: FlownRecord) -> tuple[int | None, int | None]:
    """Return how many started and how many finished: as a person wrote both of them, else as the logs tell."""
    if record.by_logs is None or (record.starters is not None and record.finishers is not None):
        return record.starters, record.finishers
    return record.by_logs.starters, record.by_logs.finishers


def best_kmh(record: FlownRecord) -> float | None:
    """Return the best speed of a day, None where it is not known."""
    if record.best_kmh is None and record.by_logs is not None:
        return record.by_logs.best_kmh
    return record.best_kmh


def median_kmh(record: FlownRecord) -> float | None:
    """Return the median speed of a day, None where it is not known."""
    if record.median_kmh is None and record.by_logs is not None:
        return record.by_logs.median_kmh
    return record.median_kmh


def finish_rate_percent(record: FlownRecord) -> float | None:
    """Return how many of the starters finished, in percent; None where it is not known or nobody started."""
    starters, finishers = who_finished(record)
    return finishers * 100 / starters if starters and finishers is not None else None


def mean_rate_percent(records: Sequence[FlownRecord]) -> float | None:
    """Return how many of all starters on all days finished, percent; None where it is not known of any day."""
    finished = all_finished(records)
    return None if finished is None else finished.finishers * 100 / finished.starters


@dataclass(frozen=True, slots=True)
class Finished:
    """How many started and how many finished, on the days of which both are known."""

    starters: int
    finishers: int


def all_finished(records: Sequence[FlownRecord]) -> Finished | None:
    """Return the sums over all days of which it is known; None where it is not known of any, or nobody started."""
    rated = [who_finished(record) for record in records if finish_rate_percent(record) is not None]
    starters = sum(started or 0 for started, _ in rated)
    return Finished(starters, sum(finished or 0 for _, finished in rated)) if starters else None


@dataclass(frozen=True, slots=True)
class FlownSummary:
    """On how many days a task was flown, on which last, who finished where it is known, and the best speed."""

    times: int
    last_flown: str
    finished: Finished | None
    best_kmh: float | None

    def words(self, best: str | None) -> str:
        """Return it in words, the best speed as it is to be shown: `3 times, last on …, 19 of 22 finished, best …`."""
        often = {1: "once", 2: "twice"}.get(self.times, f"{self.times} times")
        parts = [f"{often}, {'last ' if self.times > 1 else ''}on {self.last_flown}"]
        if self.finished is not None:
            parts.append(f"{self.finished.finishers} of {self.finished.starters} finished")
        if best is not None:
            parts.append(f"best {best}")
        return ", ".join(parts)


def flown_summary(records: Sequence[FlownRecord]) -> FlownSummary | None:
    """Return what a task's flown days add up to, None where there is none."""
    if not records:
        return None
    speeds = [best for best in map(best_kmh, records) if best is not None]
    last = max(record.flown_on for record in records)
    return FlownSummary(len(records), last, all_finished(records), max(speeds, default=None))


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A figure of a day that a person wrote otherwise than the logs tell; speeds in km/h."""

    field: str
    by_hand: float
    by_logs: float


SPEEDS_DIFFER_FROM_KMH = 0.5
"""A speed that a person wrote down is a whole number as a rule."""


def contradictions(record: FlownRecord) -> tuple[Contradiction, ...]:
    """Return where a person and the logs differ; nothing where only one of them says it."""
    if record.by_logs is None:
        return ()
    found = []
    for field in ("starters", "finishers", "best_kmh", "median_kmh"):
        by_hand, by_logs = getattr(record, field), getattr(record.by_logs, field)
        least = SPEEDS_DIFFER_FROM_KMH if field.endswith("_kmh") else 0
        if by_hand is not None and by_logs is not None and abs(by_hand - by_logs) > least:
            found.append(Contradiction(field, by_hand, by_logs))
    return tuple(found)
