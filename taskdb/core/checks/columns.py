"""When so many points of a set share a fault that it is its column, or that of one source, that is in doubt.

Said once, it is a question to the source; said for each point it hides everything else, and mends half a column.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.checks.rule import Draft
from taskdb.core.checks.survey import Survey
from taskdb.core.findings import severity_rank
from taskdb.core.model import Severity, Waypoint
from taskdb.core.numbers import some_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MANY, MANY_SHARE = 20, 0.20
"""More points than this, and more than this share of those that state something: then it is the column."""
_NAMED = 3


@dataclass(frozen=True, slots=True)
class Column:
    """A column in doubt: of which source ("" for the whole set), the points with the fault, and of how many."""

    source: str
    members: tuple[int, ...]
    stated: int

    @property
    def whose(self) -> str:
        """Return the words for whose column it is."""
        return f"source {self.source!r}" if self.source else "this set"


def doubtful_columns(
    survey: Survey, faulty: Sequence[int], stated: NDArray[np.int64], share: float = MANY_SHARE
) -> tuple[Column, ...]:
    """Return the columns in doubt: the whole set's, else those of single sources; each fault is in one at most.

    `faulty` are the points with the fault, `stated` all that state a value in the column.
    """
    if len(faulty) <= MANY:
        return ()
    if len(faulty) > share * len(stated):
        return (Column("", tuple(faulty), len(stated)),)
    found = []
    sources = survey.waypoints.column("source")
    is_stated = sources.numbers[stated]
    members: dict[str, list[int]] = {}
    for index in faulty:
        members.setdefault(sources[index] or "", []).append(index)
    for source, theirs in members.items():
        count = int((is_stated == sources.values.index(source)).sum()) if source else 0
        if source and len(theirs) > max(MANY, share * count):
            found.append(Column(source, tuple(theirs), count))
    return tuple(found)


def members_of(columns: Sequence[Column]) -> Set[int]:
    """Return the points that need not be told one by one."""
    return frozenset(index for column in columns for index in column.members)


def column_draft(
    survey: Survey,
    column: Column,
    severity: Severity,
    *,
    name: str,
    told: str,
    doubt: str,
    others: tuple[Waypoint, ...] = (),
) -> Draft:
    """Return the one finding: `told` follows "N of M points", `name` is the column, `doubt` what to look up."""
    points = tuple(survey.waypoints[index] for index in column.members)
    examples = some_of([f"{point.code} {point.name!r}" for point in points], _NAMED)
    return Draft(
        severity,
        points,
        f"{len(points)} of {column.stated} points of {column.whose} {told} ({examples}): {doubt}",
        {"column": name, "source": column.source or None, "points": len(points), "of": column.stated},
        others=others,
    )


def once_or_each(
    survey: Survey, found: Mapping[int, Sequence[Draft]], stated: NDArray[np.int64], *, name: str, told: str, doubt: str
) -> Iterator[Draft]:
    """Yield one finding for each column in doubt, as severe as its worst, and the rest of the findings as they are."""
    columns = doubtful_columns(survey, sorted(found), stated)
    for column in columns:
        drafts = [draft for index in column.members for draft in found[index]]
        severity = min((draft.severity for draft in drafts), key=severity_rank)
        others = tuple(other for draft in drafts for other in draft.others)
        yield column_draft(survey, column, severity, name=name, told=told, doubt=doubt, others=others)
    for index in sorted(found.keys() - members_of(columns)):
        yield from found[index]
