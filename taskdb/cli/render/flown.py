"""Flown days for people: what a person wrote and what flight logs told, side by side, and where they differ."""

from __future__ import annotations

from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import Cell, right
from taskdb.core.flown import contradictions
from taskdb.core.numbers import counted

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.flown import Contradiction
    from taskdb.core.model import FlownByLogs, FlownRecord
    from taskdb.core.quantities import Units
    from taskdb.services.tasks.flown import FlownShown

_CALLED = {"starters": "starters", "finishers": "finishers", "best_kmh": "best speed", "median_kmh": "median speed"}


def show_flown(printer: Printer, shown: FlownShown) -> None:
    """Show the days on which a task was flown."""
    if not shown.records:
        printer.line(f"There is no flown record of {shown.task!r}.")
        return
    printer.heading(shown.task)
    columns = ["day", "by", "wind", *right("cloud base", "starters", "finishers", "best", "median"), "remarks"]
    printer.table(columns, [row for record in shown.records for row in _rows(record, printer.units)])
    for record in shown.records:
        if record.by_logs is not None:
            printer.line(f"{record.flown_on}, by logs: {logs_words(record.by_logs)}.")
        if differ := difference_words(record, printer.units):
            printer.line(differ, style="warning")


def _rows(record: FlownRecord, units: Units) -> list[list[Cell]]:
    """Return a day as a person wrote it and as logs tell it; a line without anything in it is left out."""
    has_wind = record.wind_from_deg is not None and record.wind_speed_kmh is not None
    wind = f"{numbers.course(record.wind_from_deg)} {numbers.speed(record.wind_speed_kmh, units)}" if has_wind else None
    by_hand: list[Cell] = [
        wind, numbers.elevation(record.cloud_base_m), record.starters, record.finishers,
        numbers.speed(record.best_kmh, units), numbers.speed(record.median_kmh, units), record.remarks,
    ]  # fmt: skip
    told = record.by_logs
    rows = [[record.flown_on, "hand", *by_hand]] if told is None or any(c is not None for c in by_hand) else []
    if told is not None:
        speeds = (numbers.speed(told.best_kmh, units), numbers.speed(told.median_kmh, units))
        logs = counted(len(told.logs), "log")
        rows.append([record.flown_on, logs, None, None, told.starters, told.finishers, *speeds, None])
    return rows


def logs_words(told: FlownByLogs) -> str:
    """Return when flights started and finished, and where the others ended, in words."""
    parts = []
    for what, first, last in (
        ("started", told.first_start, told.last_start),
        ("finished", told.first_finish, told.last_finish),
    ):
        if first is not None and last is not None:
            times = first[11:19] if first == last else f"{first[11:19]} to {last[11:19]}"
            parts.append(f"{what} {times} UTC")
    parts += [
        f"{counted(count, 'flight')} ended {'near no waypoint' if code is None else f'near {code}'}"
        for code, count in told.ended_near
    ]
    return "; ".join(parts) or "nobody started"


def difference_words(record: FlownRecord, units: Units) -> str | None:
    """Return where a person and the logs differ on a day, in one sentence; None where they do not."""
    found = contradictions(record)
    if not found:
        return None
    told = "; ".join(_difference(one, units) for one in found)
    return f"{record.flown_on}: {told}. Both are kept, and the hand's count."


def _difference(found: Contradiction, units: Units) -> str:
    is_speed = found.field.endswith("_kmh")
    by_hand, by_logs = (numbers.speed(v, units) if is_speed else f"{v:g}" for v in (found.by_hand, found.by_logs))
    return f"{_CALLED[found.field]} {by_hand} by hand, {by_logs} by logs"
