"""Where a wrong point probably belongs when no reference knows it: the places from which one slip leads to it.

Of the places that a slip may have come from those are kept that lie in the right country; they are ranked by how
likely the slip is, how many points of the set lie around, above all those with like codes, and how well the stated
elevation fits. Offers, ranks and words; decides nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from taskdb.core.checks.elevations import Ground, ground_at
from taskdb.core.checks.outlines import countries_at
from taskdb.core.checks.region import FAR_OUT_M, Region
from taskdb.core.checks.shared_slips import SharedSlips, find_shared
from taskdb.core.checks.slips import Slip, SlipKind, possible_origins
from taskdb.core.checks.survey import Survey
from taskdb.core.checks.terrain_fit import UNKNOWN_GROUND_MISFIT, TerrainFit, terrain_fits
from taskdb.core.geodesy import distance_m
from taskdb.core.ground import filled_by
from taskdb.core.matching.points import Points, counts_around
from taskdb.core.model import Suggestion, Waypoint

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

OFFERED = 3
_DISTINCT_M = 200.0
"""Mends that lead within this of each other offer one place."""
_SCALES = ((2.0, 0.7), (8.0, 0.3 / 16.0))
_NOWHERE = 0.02
_CODE_NEIGHBOURS = 5
_MOST_KIN = 200
_KIN_COUNTS = 6.0
"""How many points with like codes it takes to count as much as the whole set."""
_KIN_WITHIN = 4.0
_COAST_SCALE_M = 60.0
_TYPED_SO = 6.0
"""How much a slip is likelier, as natural logarithm, where the row has just the digit less or more."""
_OTHERS_COUNT = 0.5
"""How much others with the same explanation count: fully, they pushed single slips from the first three places."""
_MISSTATED = 0.02
_HEIGHT_RANGE_M = 3_000.0

_NAMED_THERE = 5.0
_NAMED_WITHIN_M = 4_000.0
"""A settlement's middle is good to some kilometres; by chance few places of a name lie so near to a slip's origin."""

_AT_ONCE = 250
"""How many points are looked at together: each has some 400 origins, a kilobyte each."""

Origin = tuple[int, Slip]


def likely_origins(
    survey: Survey, indexes: Sequence[int], keep: Callable[[int, Slip], bool] | None = None
) -> dict[int, tuple[Suggestion, ...]]:
    """Return for each point the mends that fit best, the likeliest first, at most three distinct places.

    `keep` leaves out slips that other evidence rules out.
    """
    known, shared = _by_reference(survey), find_shared(survey, indexes, keep)
    found: dict[int, tuple[Suggestion, ...]] = {}
    for begin in range(0, len(indexes), _AT_ONCE):
        some = indexes[begin : begin + _AT_ONCE]
        origins = [one for index in some for one in _origins(survey, index, keep)]
        ranked = _ranked(survey, origins, shared)
        for index in some:
            if index in known or index in ranked:
                mends = _in_words(survey.waypoints[index], ranked.get(index, ()), shared, index)
                found[index] = distinct(mends, known.get(index, ()))
    return found


def _origins(survey: Survey, index: int, keep: Callable[[int, Slip], bool] | None) -> Iterator[Origin]:
    point = survey.waypoints[index]
    for slip in possible_origins(point.position, point.typed):
        if keep is None or keep(index, slip):
            yield index, slip


def _ranked(survey: Survey, slips: list[Origin], shared: SharedSlips) -> dict[int, list[tuple[float, Slip]]]:
    """Return for each point its origins in the right country, each with how unlikely it is."""
    slips = _in_country(survey, slips, shared)
    if not slips:
        return {}
    points = Points.of([slip.mended for _, slip in slips])
    grid = survey.given.elevation
    grounds = ground_at(grid, [slip.mended for _, slip in slips]) if grid is not None else [None] * len(slips)
    company = _company(points, survey.region)
    terrain = survey.terrain
    stood = [slip.mended for _, slip in slips]
    fits = terrain_fits(terrain, [survey.waypoints[k] for k, _ in slips], stood) if terrain else [None] * len(slips)
    kinship = _kinship(survey, slips, points, company)
    odd = {(one.index, one.axis): one for one in survey.oddities}
    ranked: dict[int, list[tuple[float, Slip]]] = {}
    for (index, slip), ground, fit, share in zip(slips, grounds, fits, kinship, strict=True):
        others = shared.of(index, slip)
        score = slip.cost - _OTHERS_COUNT * math.log1p(others)
        if others and (index, slip.words) in shared.abroad:
            # The others are all the company that it finds there; the nearer to the set, the likelier.
            share = max(share, others / max(len(survey.region.dense), 1))
            score += 2.0 * math.log(max(shared.abroad[index, slip.words].gap_m, FAR_OUT_M) / FAR_OUT_M)
        score -= math.log(share)
        if terrain is not None and survey.waypoints[index].elevation_m and not filled_by(survey.waypoints[index]):
            score += _terrain_misfit(survey.waypoints[index], fit)
        elif grid is not None:
            score += misfit(survey.waypoints[index], ground)
        score -= _named_there(survey, index, slip)
        oddity = odd.get((index, slip.axis))
        if oddity is not None and slip.kind is (SlipKind.DROPPED if oddity.digits < oddity.usual else SlipKind.DOUBLED):
            score -= _TYPED_SO
        ranked.setdefault(index, []).append((score, slip))
    return ranked


def _by_reference(survey: Survey) -> dict[int, tuple[Suggestion, ...]]:
    """Return the mends that a reference gives: nothing else says as surely where a point belongs."""
    found: dict[int, tuple[Suggestion, ...]] = {}
    for one in survey.disagreements:
        if one.side != "reference":
            point, slip = survey.waypoints[one.index], one.counterpart.slip
            theirs = Suggestion(
                point.code, f"the position of {one.other.code} in {one.reference.name}", one.other.position
            )
            found[one.index] = (Suggestion(point.code, slip.words, slip.mended), theirs) if slip else (theirs,)
    return found


def _in_country(survey: Survey, slips: list[Origin], shared: SharedSlips) -> list[Origin]:
    outlines = survey.given.outlines
    if outlines is None or not slips:
        return slips
    around = countries_at(outlines, [slip.mended for _, slip in slips])
    expected = survey.region.expected
    return [
        (index, slip)
        for (index, slip), codes in zip(slips, around, strict=True)
        if not expected[index] or not expected[index].isdisjoint(codes) or (index, slip.words) in shared.abroad
    ]


def misfit(point: Waypoint, ground: Ground | None) -> float:
    """Return how badly the stated elevation fits the ground, as a negative log-likelihood; 0 where none is stated.

    Measured on 25,000 airfields: differences from the cell fall off exponentially, with a tenth of the relief in
    valleys below it; 2 % of elevations are taken to be simply wrong. A cell without data is taken for a coast.
    """
    if not point.elevation_m:
        return 0.0
    scale, centre = _COAST_SCALE_M, 0.0
    if ground is not None:
        scale = 10.0 + 0.22 * ground.relief_m
        centre = ground.cell_m - 0.12 * max(ground.relief_m - 100.0, 0.0)
    likelihood = math.exp(-abs(point.elevation_m - centre) / scale) / (2.0 * scale)
    return -math.log((1.0 - _MISSTATED) * likelihood + _MISSTATED / _HEIGHT_RANGE_M)


def _terrain_misfit(point: Waypoint, fit: TerrainFit | None) -> float:
    return UNKNOWN_GROUND_MISFIT if fit is None or not point.elevation_m else fit.misfit(point.elevation_m)


def _named_there(survey: Survey, index: int, slip: Slip) -> float:
    """Return how much likelier a place is, as natural logarithm, for a settlement of the point's name beside it."""
    if survey.given.places is None:
        return 0.0
    named = survey.given.places.by_name.get(survey.folded_names[index], ())
    return _NAMED_THERE if any(distance_m(place.position, slip.mended) <= _NAMED_WITHIN_M for place in named) else 0.0


def _company(points: Points, region: Region) -> NDArray[np.float64]:
    """Return how densely the set lies around each place, roughly in points: counted near by and, for less, further
    out, since a lonely place is nearer to being one of the set's than one in the middle of nowhere.
    """
    import numpy as np

    found = np.full(len(points), _NOWHERE)
    if not len(region.dense):
        return found + 1.0
    for widening, weight in _SCALES:
        found += weight * counts_around(points, region.company.cubes(widening * max(region.spacing_m, 5_000.0)))
    return found


def _kinship(survey: Survey, slips: list[Origin], points: Points, company: NDArray[np.float64]) -> list[float]:
    """Return for each origin what share of the point's kin lies around it: points with like codes, and for little the
    whole set. Where codes say nothing of the region, kin lie as the set does and change nothing.
    """
    import numpy as np

    everywhere = company / max(len(survey.region.dense), 1)
    within = _KIN_WITHIN * max(survey.region.spacing_m, 5_000.0)
    shares = everywhere.copy()
    rows: dict[int, list[int]] = {}
    for row, (index, _) in enumerate(slips):
        rows.setdefault(index, []).append(row)
    for index, own in rows.items():
        kin = survey.points.centred_m[_kin(survey, index)]
        if len(kin):
            apart = np.sqrt(((points.centred_m[own][:, None, :] - kin[None, :, :]) ** 2).sum(axis=2))
            near = (apart < within).sum(axis=1)
            shares[own] = (near + _KIN_COUNTS * everywhere[own]) / (len(kin) + _KIN_COUNTS)
    found: list[float] = shares.tolist()
    return found


def _kin(survey: Survey, index: int) -> list[int]:
    """Return the points with like codes: the next ones in order of code, and those of the same family."""
    around = range(max(0, index - _CODE_NEIGHBOURS), min(len(survey.waypoints), index + _CODE_NEIGHBOURS + 1))
    kin = {other for other in around if survey.region.outside_m[other] == 0.0}
    like = survey.family(index)
    kin.update(like[:: max(1, len(like) // _MOST_KIN)].tolist())
    return sorted(kin - {index})


def distinct(mends: Iterable[Suggestion], known: Sequence[Suggestion] = ()) -> tuple[Suggestion, ...]:
    """Return the known mends and then the first of the others that lie apart from all, at most three."""
    kept, places = list(known), [one.position for one in known if one.position is not None]
    for mend in mends:
        if len(kept) >= OFFERED:
            break
        position = mend.position
        if position is not None and all(distance_m(place, position) > _DISTINCT_M for place in places):
            kept.append(mend)
            places.append(position)
    return tuple(kept)


def _in_words(
    point: Waypoint, found: Sequence[tuple[float, Slip]], shared: SharedSlips, index: int
) -> Iterator[Suggestion]:
    """Yield mends, the likeliest first, with their reason: what was mistyped, and how many more points look so."""
    for _, slip in sorted(found, key=lambda one: (one[0], one[1].mended.latitude_e7, one[1].mended.longitude_e7)):
        others = shared.of(index, slip)
        more = f", as {others} more points do" if others else ""
        yield Suggestion(point.code, slip.words + more, slip.mended)


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
