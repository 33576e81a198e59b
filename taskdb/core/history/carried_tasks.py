"""A task on other ground: what becomes of each of its places, whether it measures the same, what a review says anew."""

from __future__ import annotations

from collections.abc import Mapping

from taskdb.core.history.carry import Carried, CarryOver, Doubtful
from taskdb.core.model import Finding, Place, Task


def is_same_course(before: Task, after: Task) -> bool:
    """Say whether a task that was carried measures the same: most of a season stays where it was."""
    mine, theirs = ((t.type, t.rules, t.time_s, t.speed_kmh, t.free) for t in (before, after))
    return mine == theirs and all(
        (a.role, a.place.position, a.zone) == (b.role, b.place.position, b.zone)
        for a, b in zip(before.points, after.points, strict=True)
    )


def carried_places(before: Task, ground: CarryOver) -> list[tuple[int | None, str, Place, Carried | Doubtful]]:
    """Return what becomes of each point by number and label, then of take-off and landing, then of the free codes."""
    places: list[tuple[int | None, str, Place]] = [
        (number, f"point {number}", point.place) for number, point in enumerate(before.points)
    ]
    ends = [("take-off", before.take_off), ("landing", before.landing)]
    places += [(None, label, place) for label, place in ends if place is not None]
    results = [(number, label, place, ground.carry(place)) for number, label, place in places]
    for code in before.free.from_codes if before.free is not None else ():
        result = ground.carry_code(code)
        old = ground.old_place(code) or result.place
        results.append((None, "free point", old, result))
    return results


def new_findings(
    before: tuple[Finding, ...], after: tuple[Finding, ...], codes: Mapping[str, str]
) -> tuple[Finding, ...]:
    """Return those findings after carrying over that were not there before; `codes` are the new ones by the old."""

    def key(finding: Finding, renamed: Mapping[str, str]) -> tuple[str, tuple[str, ...]]:
        return finding.rule, tuple(sorted(renamed.get(code, code) for code in finding.codes))

    known = {key(finding, codes) for finding in before}
    return tuple(finding for finding in after if key(finding, {}) not in known)
