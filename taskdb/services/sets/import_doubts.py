"""Rows that may be another place than the one whose name they bear: found among an import's matches, and told.

A row that only its name, within 5 km, makes a standing waypoint would take over its code, position, channel and
runways. That is done only where something else speaks for it, or a person says so.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from taskdb.core.facilities import format_radio, format_runways
from taskdb.core.geodesy import distance_m
from taskdb.core.matching.match import SAME_CODE_WITHIN_M, SAME_PLACE_WITHIN_M, MatchRound, Pair
from taskdb.core.model import RowProblem, Waypoint
from taskdb.core.quantities import format_short_distance
from taskdb.formats.registry import Record

PROBLEM = "doubtful-match"


@dataclass(frozen=True, slots=True)
class Match:
    """A row and the standing waypoint that matching makes it."""

    before: Waypoint
    row: int
    record: Record
    round: MatchRound
    distance_m: float


@dataclass(frozen=True, slots=True)
class Sorted:
    """Matches to take, and those in doubt with what is wrong."""

    sure: Sequence[Match]
    doubtful: Sequence[tuple[Match, RowProblem]]


def what_differs(before: Waypoint, after: Waypoint) -> list[str]:
    """Return what speaks against one place: the code, the channels, the runways, where both have them."""
    differing = []
    if before.code != after.code:
        differing.append("code")
    channels = [{radio.channel for radio in one.radio} for one in (before, after)]
    if all(channels) and channels[0] != channels[1]:
        differing.append("channel")
    runways = [{runway.designator for runway in one.runways if runway.designator} for one in (before, after)]
    if all(runways) and runways[0] != runways[1]:
        differing.append("runways")
    return differing


def sort_matches(
    questionable: Sequence[Match],
    unmatched: Mapping[str, int],
    row: Callable[[int], Record],
    is_in_file: Callable[[str], bool],
) -> Sorted:
    """Sort questionable matches into sure and doubtful ones by what the rest of the file says of the old code.

    `unmatched` are the rows without a match by their code. A row that bears the old code at the old place is that
    waypoint, and the row with its name another one. Where the file gives the old code to another place, its codes
    have moved on, and the name counts.
    """
    sure: list[Match] = []
    doubtful: list[tuple[Match, RowProblem]] = []
    for match in questionable:
        differing = what_differs(match.before, match.record.waypoint)
        rival = unmatched.get(match.before.code)
        if not differing or (rival is None and is_in_file(match.before.code)):
            sure.append(match)
            continue
        if rival is None:
            doubtful.append((match, _problem(match, differing, None)))
            continue
        record = row(rival)
        off = distance_m(match.before.position, record.waypoint.position)
        if off <= SAME_PLACE_WITHIN_M:
            sure.append(Match(match.before, rival, record, MatchRound.CODE, off))
        elif off <= SAME_CODE_WITHIN_M:
            doubtful.append((match, _problem(match, differing, (record, off))))
        else:
            sure.append(match)
    return Sorted(sure, doubtful)


def is_questionable(pair: Pair) -> bool:
    """Say whether a name alone made a match, at another place."""
    return pair.round is MatchRound.NAME and pair.distance_m > SAME_PLACE_WITHIN_M


def _problem(match: Match, differing: Sequence[str], rival: tuple[Record, float] | None) -> RowProblem:
    before, after = match.before, match.record.waypoint
    off = format_short_distance(match.distance_m)
    beside = ""
    if rival is not None:
        other, rival_off = rival
        away = format_short_distance(rival_off)
        beside = f"; line {other.line} bears its code, {away} from it, as {other.waypoint.name!r}"
    return RowProblem(
        line=match.record.line,
        field="code",
        value=after.code,
        code=PROBLEM,
        message=f"only its name makes it {_words(before)}, {off} off; {_differ(differing)}; the row is"
        f" {_words(after)}{beside}",
        suggestion=f"--map {before.code}={after.code} (the same place) or --new {after.code} (another one)",
    )


def _words(waypoint: Waypoint) -> str:
    position = waypoint.position
    parts = [f"{position.latitude_deg:.5f},{position.longitude_deg:.5f}"]
    parts += [text for text in (format_radio(waypoint.radio), format_runways(waypoint.runways)) if text]
    return f"{waypoint.code} {waypoint.name} ({', '.join(parts)})"


def _differ(words: Sequence[str]) -> str:
    if not words[1:]:
        return f"{words[0]} differs"
    return f"{', '.join(words[:-1])} and {words[-1]} differ"
