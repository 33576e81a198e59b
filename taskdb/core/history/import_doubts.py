"""What of a file a person has to decide before it is taken in: names, codes and dates that may mean another place.

A row that only its name, within 5 km, makes a standing waypoint would take over its code, position, channel and
runways. That is done only where something else speaks for it, or a person says so. Finds and tells; takes nothing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from taskdb.core.facilities import format_radio, format_runways
from taskdb.core.geodesy import distance_m
from taskdb.core.history.rows import Row
from taskdb.core.matching.limits import FAR_APART_M, SAME_SPOT_WITHIN_M
from taskdb.core.matching.match import Match, MatchRound
from taskdb.core.model import RowProblem, Waypoint
from taskdb.core.names import fold
from taskdb.core.pasted import quoted
from taskdb.core.quantities import format_short_distance

PROBLEM = "doubtful-match"

# What spreadsheets write where they took a code such as 3-5 for a day.
_MONTH = r"(?:Jan|Feb|Mar|Mär|Mrz|Apr|May|Mai|Jun|Jul|Aug|Sep|Oct|Okt|Nov|Dec|Dez)"
_LOOKS_LIKE_A_DATE = re.compile(
    rf"\d{{1,2}}[-. ]{_MONTH}\.?(?:[-. ]\d{{2,4}})?|{_MONTH}[-. ]\d{{1,4}}"
    r"|\d{4}-\d{2}-\d{2}|\d{1,2}([./])\d{1,2}\1\d{2,4}",
    re.IGNORECASE,
).fullmatch


def is_reused(before: Waypoint, after: Waypoint) -> bool:
    """Say whether a code comes to name another place: one over 1 km away, under another name.

    `before` held it and is matched to nothing; where it goes on under another code, the list was renumbered.
    """
    same_name = fold(before.name) == fold(after.name) != ""
    return not same_name and distance_m(before.position, after.position) > FAR_APART_M


@dataclass(frozen=True, slots=True)
class RowMatch:
    """A row and the standing waypoint that matching makes it."""

    before: Waypoint
    row: int
    record: Row
    round: MatchRound
    distance_m: float


@dataclass(frozen=True, slots=True)
class Sorted:
    """Matches to take, and those in doubt with what is wrong."""

    sure: Sequence[RowMatch]
    doubtful: Sequence[tuple[RowMatch, RowProblem]]


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
    questionable: Sequence[RowMatch],
    unmatched: Mapping[str, int],
    row: Callable[[int], Row],
    is_in_file: Callable[[str], bool],
) -> Sorted:
    """Sort questionable matches into sure and doubtful ones by what the rest of the file says of the old code.

    `unmatched` are the rows without a match by their code. A row that bears the old code at the old place is that
    waypoint, and the row with its name another one. Where the file gives the old code to another place, its codes
    have moved on, and the name counts.
    """
    sure: list[RowMatch] = []
    doubtful: list[tuple[RowMatch, RowProblem]] = []
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
        if off <= SAME_SPOT_WITHIN_M:
            sure.append(RowMatch(match.before, rival, record, MatchRound.CODE, off))
        elif off <= FAR_APART_M:
            doubtful.append((match, _problem(match, differing, (record, off))))
        else:
            sure.append(match)
    return Sorted(sure, doubtful)


def is_questionable(match: Match) -> bool:
    """Say whether a name alone made a match, at another place."""
    return match.round is MatchRound.NAME and match.distance_m > SAME_SPOT_WITHIN_M


def _problem(match: RowMatch, differing: Sequence[str], rival: tuple[Row, float] | None) -> RowProblem:
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
        suggestion=f"--map {quoted(f'{before.code}={after.code}')} (the same place)"
        f" or --new {quoted(after.code)} (another one)",
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


def date_problem(line: int, code: str, before: str) -> RowProblem | None:
    """Return the problem of a row whose code looks like a date that a spreadsheet made of the standing one."""
    if not _LOOKS_LIKE_A_DATE(code):
        return None
    return RowProblem(
        line=line,
        field="code",
        value=code,
        code="code-is-date",
        message=f"the code {code} looks like a date that a spreadsheet made of {before}",
        suggestion=before,
    )


def clash_problem(line: int, waypoint: Waypoint, holder: Waypoint) -> RowProblem:
    """Return the problem of a row whose code a standing waypoint holds that goes on: one code cannot name both."""
    off = format_short_distance(distance_m(waypoint.position, holder.position))
    same_name = fold(waypoint.name) == fold(holder.name)
    what = "the same name" if same_name else f"another name ({holder.name!r})"
    return RowProblem(
        line=line,
        field="code",
        value=waypoint.code,
        code="code-in-use",
        message=f"the code {waypoint.code} stands for a place {off} away under {what}",
        suggestion="give the new place a code of its own, or import with --mode replace",
    )
