"""Several mends at once: which of them agree, and which still hold once the first has been taken.

A point's first mend, that of its position where there is one, is taken and the rules look again; the next is taken only
if they still ask for it. Mends that lead one point to different places, or give one field different values, contradict
each other and are refused.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from taskdb.core.geodesy import distance_m
from taskdb.core.matching.limits import MEASURED_AGAIN_WITHIN_M
from taskdb.core.model import VALUE_FIELDS, Finding, Position, Suggestion, Waypoint
from taskdb.core.pasted import command_line
from taskdb.core.quantities import format_short_distance
from taskdb.errors import RefusedError

_SAME_E7 = 20
"""Less than this, 0.2 m, is no change of a coordinate."""


@dataclass(frozen=True)
class WantedMend:
    """A mend that was asked for: a finding, which of its suggestions, and that suggestion."""

    finding: Finding
    choice: int
    suggestion: Suggestion


@dataclass(frozen=True)
class NotTaken:
    """A mend that was asked for and not taken, and why."""

    finding: Finding
    reason: str


def take_mends(
    set_name: str,
    waypoints: Mapping[str, Waypoint],
    wanted: Sequence[WantedMend],
    look_again: Callable[[Mapping[str, Waypoint]], Sequence[Finding]],
) -> tuple[Mapping[str, Waypoint], tuple[NotTaken, ...]]:
    """Return the mended waypoints by code, and the mends that no longer held.

    `waypoints` are those of the set by code. `look_again` returns what the same checks find with some waypoints as they
    are mended. RefusedError for mends that contradict each other, naming both findings.
    """
    _require_agreement(set_name, waypoints, wanted)
    waiting: dict[str, list[WantedMend]] = {}
    # Places first: what a height or a runway should be is judged by where they are.
    for one in sorted(wanted, key=lambda one: one.suggestion.field is not None):
        waiting.setdefault(one.suggestion.code, []).append(one)
    mended = {code: mend(waypoints[code], ones[0].suggestion) for code, ones in waiting.items()}
    taken = {code: [ones[0]] for code, ones in waiting.items()}
    not_taken: list[NotTaken] = []
    while waiting := {code: ones[1:] for code, ones in waiting.items() if ones[1:]}:
        seen = look_again(mended)
        for code, ones in waiting.items():
            again = _found_again(seen, ones[0])
            if again is None:
                not_taken.append(NotTaken(ones[0].finding, f"it no longer holds after {_names(taken[code])}"))
                continue
            for before in taken[code]:
                _require_one_way(set_name, waypoints[code], before, again)
            mended[code] = mend(mended[code], again.suggestion)
            taken[code].append(again)
    return mended, tuple(not_taken)


def mend(before: Waypoint, suggestion: Suggestion) -> Waypoint:
    """Return a waypoint as a suggestion would have it. RefusedError for one that is told in words only."""
    if suggestion.position is not None and suggestion.field is None:
        return replace(before, position=suggestion.position)
    if suggestion.field not in VALUE_FIELDS:
        raise RefusedError(
            "no-such-mend",
            f"The mend of {suggestion.code} is told in words only: {suggestion.reason}.",
            hint=f"Mend it by `{command_line('waypoint edit', suggestion.code)}`.",
        )
    values: dict[str, Any] = {suggestion.field: suggestion.value}
    return replace(before, **values)


def _require_agreement(set_name: str, waypoints: Mapping[str, Waypoint], wanted: Sequence[WantedMend]) -> None:
    by_code: dict[str, list[WantedMend]] = {}
    for one in wanted:
        for other in by_code.get(one.suggestion.code, ()):
            _require_one_way(set_name, waypoints[one.suggestion.code], other, one)
        by_code.setdefault(one.suggestion.code, []).append(one)


def _require_one_way(set_name: str, before: Waypoint, first: WantedMend, second: WantedMend) -> None:
    """Raise RefusedError where two mends of one waypoint cannot both be meant."""
    if not _contradict(before, first.suggestion, second.suggestion):
        return
    named = [f"{one.finding.id} ({one.finding.rule}) {_wants(before, one.suggestion)}" for one in (first, second)]
    raise RefusedError(
        "two-mends",
        f"Two mends of {before.code} contradict each other: {named[0]}; {named[1]}.",
        hint=f"Take one of them: {command_line('check fix', set_name, first.finding.id)}",
        details={"code": before.code, "findings": [first.finding.id, second.finding.id]},
    )


def _contradict(before: Waypoint, first: Suggestion, second: Suggestion) -> bool:
    if first.field is not None or second.field is not None:
        return first.field == second.field and first.value != second.value
    if first.position is None or second.position is None:
        return False
    # One may mend the latitude and the other the longitude: then both are meant.
    was, one, other = before.position, first.position, second.position
    differing = {
        "latitude": (was.latitude_e7, one.latitude_e7, other.latitude_e7),
        "longitude": (was.longitude_e7, one.longitude_e7, other.longitude_e7),
    }
    both = [name for name, (a, b, c) in differing.items() if min(abs(b - a), abs(c - a)) > _SAME_E7]
    shared = Position.from_e7(
        other.latitude_e7 if "latitude" in both else one.latitude_e7,
        other.longitude_e7 if "longitude" in both else one.longitude_e7,
    )
    return distance_m(one, shared) > MEASURED_AGAIN_WITHIN_M


def _wants(before: Waypoint, suggestion: Suggestion) -> str:
    if suggestion.field is not None:
        return f"sets {suggestion.field} to {suggestion.value!r}"
    if suggestion.position is None:
        return "says what to do in words"
    at = suggestion.position
    off = format_short_distance(distance_m(before.position, at))
    return f"moves it {off} to {at.latitude_deg:.5f}, {at.longitude_deg:.5f}"


def _found_again(seen: Sequence[Finding], wanted: WantedMend) -> WantedMend | None:
    """Return what the same rule now says of the same points, None where it is content with them.

    Its id is another where a value that it read was mended; of several, the one against the same reference counts.
    """
    finding = wanted.finding
    fitting = [one for one in seen if one.rule == finding.rule and one.codes == finding.codes]
    fitting.sort(
        key=lambda one: (one.id != finding.id, one.evidence.get("reference") != finding.evidence.get("reference"))
    )
    for one in fitting:
        offered = [s for s in (one.suggestion, *one.alternatives) if s is not None]
        same = [s for s in offered if (s.code, s.field) == (wanted.suggestion.code, wanted.suggestion.field)]
        if same:
            choice = wanted.choice if wanted.choice < len(offered) and offered[wanted.choice] in same else 0
            suggestion = offered[choice] if offered[choice] in same else same[0]
            return WantedMend(one, choice, suggestion)
    return None


def _names(taken: Sequence[WantedMend]) -> str:
    return " and ".join(f"{one.finding.id} ({one.finding.rule})" for one in taken)
