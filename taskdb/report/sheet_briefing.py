"""What the sheet says of the briefing: the day's programme by the clock, the outlanding desk's telephone, remarks.

Texts are shown as they were typed, cleaned for display; what is not set is not said.
"""

from __future__ import annotations

import re

from taskdb.core.contests.scopes import Holding
from taskdb.core.contests.setting_kinds import LONGEST_PHONE, LONGEST_ROW
from taskdb.core.contests.settings import BY_KEY
from taskdb.report.lettering import shown

_TIMED = re.compile(r"(\d{2}:\d{2})(?:\s+(.*))?", re.ASCII | re.DOTALL)


def programme_rows(holding: Holding) -> tuple[tuple[str, str], ...]:
    """Return (time, what) in order of time: briefing, grid and the rows of the programme; the time may be empty.

    A row without a time stays behind the row that it was given after.
    """
    rows = [(str(holding.get(key)), what) for key, what in _TIMES if holding.get(key)]
    for row in holding.get("programme") or ():
        timed = _TIMED.fullmatch(str(row))
        rows.append(("", str(row)) if timed is None else (timed[1], timed[2] or ""))
    ordered, last = [], ""
    for time, what in rows:
        last = time or last
        ordered.append((last, (time, shown(what, LONGEST_ROW) if what else "")))
    return tuple(row for _, row in sorted(ordered, key=lambda entry: entry[0]))


_TIMES = (("briefing_at", "briefing"), ("grid_at", "grid"))


def outlanding_phone(holding: Holding) -> str | None:
    """Return the telephone of the outlanding desk as it was typed, or None."""
    phone = holding.get("outlanding_phone")
    return shown(str(phone), LONGEST_PHONE) if phone else None


def remarks(holding: Holding) -> str | None:
    """Return what else pilots are to know, or None."""
    said = holding.get("remarks")
    return shown(str(said), BY_KEY["remarks"].most) if said else None


def programme_letters(rows: tuple[tuple[str, str], ...]) -> int:
    """Return how many letters the programme takes in one line."""
    return sum(len(time) + len(what) + 5 for time, what in rows)
