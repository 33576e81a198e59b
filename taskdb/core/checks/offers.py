"""How a finding offers its mends: which one as a suggestion, and in which words. Ranks nothing itself."""

from __future__ import annotations

from taskdb.core.checks.survey import Survey
from taskdb.core.model import Suggestion


def candidate_words(mends: tuple[Suggestion, ...]) -> str:
    """Return the end of a message whose point may be where it stands: the mends are candidates, none is offered."""
    if not mends:
        return "; no single slip of the hand leads from the set's region to here."
    return f"; if the position is mistyped, perhaps {mends[0].reason} ({len(mends)} candidates)."


def split(
    survey: Survey, index: int, mends: tuple[Suggestion, ...]
) -> tuple[Suggestion | None, tuple[Suggestion, ...]]:
    """Return suggestion and alternatives of a point that may be right: only a reference's mend is suggested."""
    is_known = any(one.index == index and one.side != "reference" for one in survey.disagreements)
    return (mends[0], mends[1:]) if is_known and mends else (None, mends)


def mend_words(mends: tuple[Suggestion, ...]) -> str:
    """Return the end of a message that offers the likeliest mend."""
    if not mends:
        return "; no single slip of the hand leads from the set's region to here."
    others = f" ({len(mends) - 1} more possible)" if len(mends) > 1 else ""
    return f"; {mends[0].reason}{others}."
