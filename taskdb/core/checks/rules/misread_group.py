"""Rule `misread-group`: points that were read in the wrong notation together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from taskdb.core.checks.misread import MisreadGroup, Row, find_misread_groups
from taskdb.core.checks.outlines import UNCODED, countries_at
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Severity, Suggestion
from taskdb.core.quantities import format_short_distance

_NEARLY_ALL = 0.8


def check(survey: Survey) -> Iterator[Draft]:
    """The points of a group look like minutes and seconds that were written as decimals.

    What: of the rows of a group (those of one country, source, kind of code, run of codes, number of decimals, or
    several of these) far more than chance allows have decimals that read as minutes and seconds: 13 % of clean rows
    do, 36 % read as minutes alone. Counted are places: rows side by side, whose digits are the same, are one, and a
    group within half a degree, where all decimals are alike, says little. One finding for each such point, an error; a
    warning where the mended position leaves the point's country or the one in which nearly all the others come to lie,
    or where a reference has the point as it stands.

    Why it matters: every one of them lies up to 40 minutes of arc from its place, and the set looks tidy.

    How to mend: look two or three of them up; then `check fix SET FINDING…` with all of the group (`evidence.group`
    is the same in all of them), or import the source again with `--notation`.

    Trap: not every row of the group need be wrong. A right one reads as minutes and seconds by chance, in 13 of 100.

    Example: 14 of 15 points of source "old list" have decimals that read as minutes and seconds: 50.3433 is 50°34′33″.
    """
    for group in find_misread_groups(survey.waypoints, survey.like_codes):
        yield from _drafts(survey, group)


def _drafts(survey: Survey, group: MisreadGroup) -> Iterator[Draft]:
    mended = [row.mended for row in group.readable]
    outlines = survey.given.outlines
    around = countries_at(outlines, mended) if outlines is not None else [frozenset((UNCODED,))] * len(mended)
    most = _country_of_most(around)
    for row, codes in zip(group.readable, around, strict=True):
        expected = survey.region.expected[row.index]
        doubt = ""
        if expected and expected.isdisjoint(codes) and UNCODED not in codes:
            doubt = ", outside its country"
        elif most is not None and most not in codes:
            doubt = ", and not where the others do"
        elif survey.is_confirmed(row.index):
            doubt = "; but a reference has it where it stands"
        yield _draft(survey, group, row, doubt)


def _country_of_most(around: Sequence[frozenset[str]]) -> str | None:
    """Return the country in which nearly all mended points lie: a right point among them is often a neighbour's."""
    counts = Counter(code for codes in around for code in codes - {UNCODED})
    return next((code for code, count in counts.most_common(1) if count >= _NEARLY_ALL * len(around)), None)


def _draft(survey: Survey, group: MisreadGroup, row: Row, doubt: str) -> Draft:
    point = survey.waypoints[row.index]
    moved_m = distance_m(point.position, row.mended)
    chance = f"{group.by_chance:.0%}".replace("%", " %")
    told = (
        f"{point.code} {point.name!r} looks like {group.reading.value}: {len(group.readable)} of the "
        f"{group.rows} points with {group.shared} read so, by chance {chance} would; so mended it lies "
        f"{format_short_distance(moved_m)} away{doubt}."
    )
    return Draft(
        Severity.WARNING if doubt else Severity.ERROR,
        (point,),
        told,
        {
            "group": group.shared,
            "reading": group.reading.value,
            "rows": group.rows,
            "places": group.places,
            "readable": len(group.readable),
            "by_chance": round(group.by_chance, 4),
            "probability": group.probability,
            "moved_m": round(moved_m, 1),
        },
        Suggestion(point.code, group.reading.value, row.mended),
    )


RULE = Rule(
    name="misread-group",
    summary="The points of a group look like minutes and seconds that were written as decimals.",
    function=check,
    reads=("position", "country", "source"),
)
