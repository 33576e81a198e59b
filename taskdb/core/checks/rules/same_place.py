"""Rule `same-place`: one place that stands in the set twice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from typing import Any

from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity
from taskdb.core.numbers import some_of
from taskdb.core.quantities import format_short_distance

LISTED_PAIRS = 2_000
"""Beyond this the pairs among points at one position are counted, not listed: 5,000 of them make 12.5 million."""
WHOLE_CLUSTER = 12
"""A chain of more points than this is told pair by pair: it says more about the distance asked for than of a place."""


def check(survey: Survey) -> Iterator[Draft]:
    """The same place stands in the set twice.

    What: two or more points lie less than 250 m apart (`--within` sets another distance). A warning where their names
    agree or their positions are equal, else a note: near neighbours under different names can both be meant.

    Why it matters: one of the two gets corrected and the other does not; then two pilots fly to different points
    under one name, or a task is set on the one that nobody looks after.

    How to mend: `check merge SET KEEP DROP` retires the second, with a pointer to the first that tasks follow. If both
    are meant (a start point beside the field, two bridges), `check accept` the finding and say why.

    Trap: equal positions under different names are seldom a duplicate: more often a row was copied and its position
    not replaced. Look both up before merging.

    Example: QRY1 "Old Quarry" and QRY2 "Old quarry" lie 38 m apart: merge them.
    """
    pairs = survey.near_pairs
    by_first: dict[int, list[tuple[int, float]]] = {}
    for one, other, distance in zip(
        pairs.first.tolist(), pairs.second.tolist(), pairs.distance_m.tolist(), strict=True
    ):
        by_first.setdefault(one, []).append((other, distance))
    groups = survey.same_spots
    for cluster in pairs.clusters():
        if len(cluster) <= WHOLE_CLUSTER or cluster == list(groups.get(cluster[0], ())):
            yield _draft(survey, cluster, _links(cluster, by_first, groups))
            continue
        heads = [index for index in cluster if index in by_first or index in groups]
        for head in heads:
            if head in groups:
                yield _draft(survey, groups[head], _links(groups[head], {}, groups))
            for other, distance in by_first.get(head, ()):
                yield _draft(survey, (head, other), [(head, other, distance)])


def _links(
    cluster: Sequence[int], by_first: Mapping[int, list[tuple[int, float]]], groups: Mapping[int, tuple[int, ...]]
) -> list[tuple[int, int, float]]:
    """Return every pair within the cluster with its distance, points at one position spelled out."""
    same = {index: groups.get(index, (index,)) for index in cluster}
    links: list[tuple[int, int, float]] = []
    for index in cluster:
        group = groups.get(index, ())
        if len(group) * (len(group) - 1) // 2 <= LISTED_PAIRS:
            links.extend((a, b, 0.0) for a, b in combinations(group, 2))
        else:
            links.extend((group[0], b, 0.0) for b in group[1:])
        for other, distance in by_first.get(index, ()):
            links.extend((min(a, b), max(a, b), distance) for a in same[index] for b in same[other])
    return sorted(links)


def _draft(survey: Survey, members: Sequence[int], links: list[tuple[int, int, float]]) -> Draft:
    groups = [survey.same_spots[index] for index in members if index in survey.same_spots]
    points = tuple(survey.waypoints[index] for index in members)
    names = survey.folded_names
    is_equal = any(distance == 0.0 for _, _, distance in links)
    is_one_name = any(names[one] == names[other] for one, other, _ in links)
    widest = max(distance for _, _, distance in links)
    evidence: dict[str, Any] = {
        "pairs": [
            [survey.waypoints[one].code, survey.waypoints[other].code, round(distance, 3)]
            for one, other, distance in links
        ],
        "within_m": survey.given.within_m,
        "same_name": is_one_name,
        "same_position": is_equal,
    }
    crowded = [len(group) for group in groups if len(group) * (len(group) - 1) // 2 > LISTED_PAIRS]
    if crowded:
        evidence["truncated"] = True
        evidence["at_one_position"] = crowded
    return Draft(
        Severity.WARNING if is_equal or is_one_name else Severity.NOTE,
        points,
        _message([f"{point.code} {point.name!r}" for point in points], widest, is_one_name),
        evidence,
    )


def _message(labels: list[str], widest_m: float, is_one_name: bool) -> str:
    shown = some_of(labels, 6)
    if widest_m == 0.0:
        if is_one_name:
            return f"{shown} stand at one and the same position: keep one, merge the rest into it."
        return (
            f"{shown} stand at one and the same position under different names: "
            "either one place twice, or a row copied whose position was not replaced."
        )
    apart = format_short_distance(widest_m)
    if is_one_name:
        return f"{shown} lie within {apart} and bear one name: probably one place twice; merge them."
    return f"{shown} lie within {apart} of each other: one place twice, unless both are meant."


RULE = Rule(
    name="same-place",
    summary="The same place stands in the set twice.",
    function=check,
    reads=("position", "name"),
)
