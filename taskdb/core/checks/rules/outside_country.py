"""Rule `outside-country`: a point that lies outside the country that it states, or the countries of its set."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from taskdb.core.checks.columns import column_draft, doubtful_columns, members_of
from taskdb.core.checks.mends import likely_origins, mend_words
from taskdb.core.checks.outlines import coarseness_m
from taskdb.core.checks.region import APART_OUT_M, FAR_OUT_M, OUTSIDE_M
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity, Suggestion
from taskdb.core.quantities import format_short_distance

_COARSE_M = 12_000.0
_AMONG = 1.0
"""As near to others as so many of the usual distances to a third neighbour, a point is among them."""


def check(survey: Survey) -> Iterator[Draft]:
    """A point lies outside its country.

    What: the point lies more than 3 km outside the country that it states; where it states none, outside the
    countries of the set (those that hold 8 % of its points, or at least ten, 1 %, close together; in a set of three
    such countries and more at least four). A warning; an error beyond 300 km, or beyond 50 km and apart from the rest
    of the set. A note where it states none, is no error and lies among the others, or, in a set that else states
    countries, beside them or on an island: a summit across the border. One note for four or more close together, beside
    the others, that state one country and lie in another that no point states: a border that is drawn otherwise.

    Why it matters: a wrong hemisphere, exchanged coordinates or a wrong degree show here first, and without any
    reference.

    How to mend: the suggestions are the places in the right country, near other points and at the stated elevation,
    from which one typing slip leads here. Look the place up, then `check fix SET FINDING`, or mend the country.

    A warning is only a note where a reference has the point at the same place. More than 20 points that are one in five
    of a set's, or a source's, that state a country are told once: it is the column, or all coordinates.

    Trap: the outlines are good to 3 km in Europe and generous over water; where they have few vertices, as along some
    rivers of Africa, they are off by up to 12 km, and what lies nearer is a note. A point just over the border under
    the wrong country is a wrong country, not a wrong position.

    Example: HILL lies 1,540 km outside DE; longitude W looks like E: the wrong hemisphere.
    """
    import numpy as np

    region = survey.region
    outside = np.flatnonzero((region.outside_m > OUTSIDE_M) & ~survey.is_at_zero).tolist()
    columns = doubtful_columns(
        survey, [index for index in outside if region.is_stated[index]], np.flatnonzero(region.is_stated)
    )
    for column in columns:
        is_far = any(region.outside_m[index] > FAR_OUT_M and not survey.is_confirmed(index) for index in column.members)
        yield column_draft(
            survey,
            column,
            Severity.ERROR if is_far else Severity.WARNING,
            name="country",
            told="lie outside the country that they state",
            doubt="the country column is in doubt (are its codes those of ISO 3166?), or the sign or order of all "
            "coordinates. Look a few of them up.",
        )
    outside = [index for index in outside if index not in members_of(columns)]
    for block in _blocks(survey, outside):
        yield _block_draft(survey, block)
        outside = [index for index in outside if index not in block]
    mends = likely_origins(survey, outside)
    # A place that only a reference gives, without a slip that leads here from there, is explained by nothing.
    unexplained = {
        one.index for one in survey.disagreements if one.side != "reference" and one.counterpart.slip is None
    }
    for index in outside:
        offered = mends.get(index, ())
        yield _draft(survey, index, offered, is_explained=bool(offered) and index not in unexplained)


def _draft(survey: Survey, index: int, mends: tuple[Suggestion, ...], *, is_explained: bool) -> Draft:
    region, point = survey.region, survey.waypoints[index]
    metres = float(region.outside_m[index])
    gap_m = region.gap_m(survey.points, index)
    is_apart = gap_m > region.link_m
    says_nothing = not region.is_stated[index] and _states_countries(survey)
    is_island = says_nothing and survey.is_on_island(index)
    is_error = metres > FAR_OUT_M or (metres > APART_OUT_M and is_apart and not is_island)
    is_among = gap_m <= _AMONG * region.spacing_m and not region.is_stated[index]
    is_note = (is_among or (says_nothing and not is_apart) or is_island) and not is_error
    is_note = is_note or _is_within_border(survey, index, metres)
    expected = sorted(region.expected[index])
    lies_in = sorted(code for code in survey.countries[index] if code) if survey.countries else []
    whose = f"{expected[0]}, the country that it states" if region.is_stated[index] else f"{', '.join(expected)}"
    where = f" and in {'/'.join(lies_in)}" if lies_in else ""
    evidence: dict[str, Any] = {
        "expected": expected,
        "stated": bool(region.is_stated[index]),
        "lies_in": lies_in,
        "outside_m": round(metres, 1),
        "gap_m": round(gap_m, 1),
        "apart": is_apart,
        "explained": is_explained,
    }
    return Draft(
        Severity.NOTE if is_note else survey.weighed(index, Severity.ERROR if is_error else Severity.WARNING),
        (point,),
        f"{point.code} {point.name!r} lies {format_short_distance(metres)} outside {whose}{where}, "
        f"{format_short_distance(gap_m)} from the nearest points of the set" + mend_words(mends),
        evidence,
        mends[0] if mends else None,
        mends[1:],
    )


def _is_within_border(survey: Survey, index: int, metres: float) -> bool:
    """Say whether the outline is so coarse there that the point may lie inside it."""
    outlines, point = survey.given.outlines, survey.waypoints[index]
    if outlines is None or metres > _COARSE_M:
        return False
    return any(metres <= coarseness_m(outlines, code, point.position) for code in survey.region.expected[index])


def _blocks(survey: Survey, outside: Sequence[int]) -> list[list[int]]:
    """Return the points that state one country and lie together in another, which no point of the set states."""
    import numpy as np

    countries, region = survey.countries, survey.region
    if countries is None:
        return []
    numbers = np.unique(region.expected.numbers[region.is_stated]).tolist()
    stated = {code for number in numbers for code in region.expected.values[number]}
    found: dict[tuple[frozenset[str], frozenset[str]], list[int]] = {}
    for index in outside:
        lies_in = countries[index]
        if region.is_stated[index] and lies_in and lies_in.isdisjoint(stated) and region.outside_m[index] <= FAR_OUT_M:
            found.setdefault((region.expected[index], lies_in), []).append(index)
    return [members for members in found.values() if region.is_block(survey.points, members)]


def _block_draft(survey: Survey, block: Sequence[int]) -> Draft:
    points = tuple(survey.waypoints[index] for index in block)
    lies_in = "/".join(sorted(survey.countries[block[0]])) if survey.countries else ""
    named = ", ".join(f"{point.code} {point.name!r}" for point in points[:3])
    return Draft(
        Severity.NOTE,
        points,
        f"{len(points)} points that state {points[0].country} lie together in {lies_in} ({named} …): the border is "
        "drawn otherwise there, or their country is wrong.",
        {"stated": points[0].country, "lies_in": lies_in, "points": len(points)},
    )


def _states_countries(survey: Survey) -> bool:
    """Say whether most points of the set state their country: then one that does not says nothing by it."""
    return 2 * int(survey.region.is_stated.sum()) > len(survey.waypoints)


RULE = Rule(
    name="outside-country",
    summary="A point lies outside the country that it states, or the countries of its set.",
    function=check,
    reads=("position", "country"),
    needs=frozenset({"outlines"}),
)
