"""Which waypoints a search wants, as a value that decides on a waypoint; the store turns the same value into SQL.

A text asks for words: each of its folded words must begin a word of the waypoint's code or name, in either folding
of umlauts. Held against the SQL by a property test.
"""

from __future__ import annotations

from dataclasses import dataclass

from taskdb.core.geodesy import distance_m
from taskdb.core.model import Feature, Landable, Position, Waypoint
from taskdb.core.names import fold, fold_german, search_words


@dataclass(frozen=True, slots=True)
class WaypointFilter:
    """Which waypoints a search wants; None asks nothing. `near` goes with `within_m` (metres, geodesic, inclusive)."""

    text: str | None = None
    near: Position | None = None
    within_m: float | None = None
    landable: Landable | None = None
    feature: Feature | None = None

    @property
    def words(self) -> tuple[str, ...]:
        """The folded words asked for, without repetitions."""
        return tuple(dict.fromkeys(fold(self.text).split())) if self.text else ()

    @property
    def signs(self) -> str:
        """What is asked for as it stands, since it has no word: a code such as `%` is found by itself, not by all."""
        return "" if self.words or self.text is None else self.text.strip()

    def accepts(self, waypoint: Waypoint) -> bool:
        """Say whether the search wants this waypoint."""
        if self.landable is not None and waypoint.landable is not self.landable:
            return False
        if self.feature is not None and waypoint.feature is not self.feature:
            return False
        if self.words and not self._has_words(waypoint):
            return False
        if self.signs not in waypoint.code and self.signs not in waypoint.name:
            return False
        if self.near is None or self.within_m is None:
            return True
        return distance_m(self.near, waypoint.position) <= self.within_m

    def _has_words(self, waypoint: Waypoint) -> bool:
        have = search_words(waypoint.name, waypoint.code)
        return all(any(word.startswith(wanted) for word in have) for wanted in self.words)


def rank(query: str, waypoint: Waypoint) -> tuple[int, str]:
    """Return the sort key of a hit: exact code, folded code, whole name, beginning of the name, the rest; then code."""
    folded = fold(query)
    if waypoint.code == query:
        order = 0
    elif fold(waypoint.code) == folded:
        order = 1
    elif folded in (fold(waypoint.name), fold_german(waypoint.name)):
        order = 2
    elif fold(waypoint.name).startswith(folded):
        order = 3
    else:
        order = 4
    return order, waypoint.code
