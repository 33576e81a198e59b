"""Rule `odd-form`: a coordinate that was typed with a digit less or more than all others."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.checks.forms import Oddity
from taskdb.core.checks.mends import likely_origins, mend_words
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.slips import Slip, SlipKind
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity, Suggestion


def check(survey: Survey) -> Iterator[Draft]:
    """A coordinate was typed with a digit less, or more, than all others of its source.

    What: in a source of at least 40 rows, 97 % of which have the same number of digits in a part (three for the
    degrees of longitude, say, or three decimals), a row has fewer or more. A warning.

    Why it matters: it is what a digit left out or typed twice looks like, and often the only sign of it.

    How to mend: compare with the source. The suggestions are the places from which one digit left out or typed twice
    leads here; for a missing decimal they lie side by side, and none is put first.

    A warning is only a note where a reference has the point at the same place.

    Trap: a row that was added by hand, in another precision. Where trailing zeros are dropped in the source (one row
    in ten has fewer decimals), or where no degrees are filled up with zeros, nothing can be told, and the rule is
    silent.

    Example: CREEK has 2 digits in the degrees of longitude, where 1,899 of 1,900 rows have 3: a digit left out.
    """
    by_index = {one.index: one for one in survey.oddities}

    def keep(index: int, slip: Slip) -> bool:
        one = by_index[index]
        kind = SlipKind.DROPPED if one.digits < one.usual else SlipKind.DOUBLED
        return slip.kind is kind and slip.axis == one.axis

    mends = likely_origins(survey, sorted(by_index), keep)
    for one in by_index.values():
        yield _draft(survey, one, mends.get(one.index, ()))


def _draft(survey: Survey, one: Oddity, mends: tuple[Suggestion, ...]) -> Draft:
    point = survey.waypoints[one.index]
    what = "left out" if one.digits < one.usual else "too many"
    # Which decimal was left out cannot be told from the place: the candidates lie side by side.
    is_guess = one.part == "decimals"
    end = "; which one the place does not tell." if is_guess else mend_words(mends)
    return Draft(
        survey.weighed(one.index, Severity.WARNING),
        (point,),
        f"{point.code} {point.name!r} was typed with {one.digits} digits in the {one.part} of its {one.axis}, where "
        f"{one.share:.1%} of its source have {one.usual}: a digit {what}" + end,
        {"axis": one.axis, "part": one.part, "digits": one.digits, "usual": one.usual, "share": round(one.share, 4)},
        mends[0] if mends and not is_guess else None,
        mends if is_guess else mends[1:],
    )


RULE = Rule(
    name="odd-form",
    summary="A coordinate was typed with a digit less, or more, than all others of its source.",
    function=check,
)
