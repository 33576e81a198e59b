"""Which of many places lie near each of many others, and the nearest of them, within a distance.

Places are hashed into cubes of earth-centred space, so poles and antimeridian are no special case. Knows positions
only.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.matching.pairs import arc_m, earth_centred_m
from taskdb.core.model import Position

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_CUBES_A_SIDE = 1 << 20


@dataclass(frozen=True, slots=True)
class Places:
    """Positions as whole 1e-7 degrees and as earth-centred metres (one row a place)."""

    latitude_e7: NDArray[np.int64]
    longitude_e7: NDArray[np.int64]
    centred_m: NDArray[np.float64]

    @staticmethod
    def of(positions: Sequence[Position]) -> Places:
        import numpy as np

        degrees = np.array([(place.latitude_deg, place.longitude_deg) for place in positions]).reshape(-1, 2)
        e7 = np.round(degrees * 1e7).astype(np.int64)
        centred = np.stack(earth_centred_m(e7[:, 0], e7[:, 1]), axis=1)
        return Places(e7[:, 0], e7[:, 1], centred)

    def __len__(self) -> int:
        return len(self.latitude_e7)


def nearest_m(places: Places, others: Places, within_m: float) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return for each place the index of the nearest of `others`, −1 where none is within, and its distance in metres.

    Distances are good to 1.5 mm up to 50 km; of equally near ones the first is taken.
    """
    import numpy as np

    best = np.full(len(places), -1, dtype=np.int64)
    best_m = np.full(len(places), np.inf)
    for busy, other, apart in _around(places, others, within_m):
        is_nearer = (apart < best_m[busy]) | ((apart == best_m[busy]) & (other < best[busy]))
        best_m[busy] = np.where(is_nearer, apart, best_m[busy])
        best[busy] = np.where(is_nearer, other, best[busy])
    metres = arc_m(best_m)
    is_far = ~(metres <= within_m)
    best[is_far] = -1
    return best, np.where(is_far, np.inf, metres)


def has_neighbours(places: Places, others: Places, within_m: float, enough: int) -> NDArray[np.bool_]:
    """Return for each place whether at least `enough` of `others` lie within the distance (straight, metres)."""
    import numpy as np

    counts = np.zeros(len(places), dtype=np.int64)
    for busy, _, apart in _around(places, others, within_m, counts, enough):
        counts[busy] += apart <= within_m
    return np.asarray(counts >= enough)


def _around(
    places: Places, others: Places, within_m: float, counts: NDArray[np.int64] | None = None, enough: int = 0
) -> Iterator[tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]]:
    """Yield, in rounds, which places meet which other in the cubes around them, and the straight distance in metres.

    A place whose count has come to `enough` is left alone from then on.
    """
    import numpy as np

    if not len(others) or not len(places):
        return
    size = within_m * 1.001
    keys = _key(np.floor(others.centred_m / size).astype(np.int64))
    order = np.argsort(keys, kind="stable")
    keys = keys[order]
    home = np.floor(places.centred_m / size).astype(np.int64)
    # Cubes in a column along the last axis have consecutive keys, so nine look-ups meet all twenty-seven.
    for shift in sorted(np.ndindex(3, 3), key=lambda at: at != (1, 1)):
        low = _key(home + np.array([shift[0] - 1, shift[1] - 1, -1]))
        start, stop = np.searchsorted(keys, low), np.searchsorted(keys, low + 3)
        busy = np.flatnonzero(stop > start)
        while len(busy):
            if counts is not None:
                busy = busy[counts[busy] < enough]
            other = order[start[busy]]
            apart = np.sqrt(((places.centred_m[busy] - others.centred_m[other]) ** 2).sum(axis=1))
            yield busy, other, apart
            start[busy] += 1
            busy = busy[start[busy] < stop[busy]]


def _key(cubes: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return one number a cube, consecutive along the last axis."""
    shifted = cubes + _CUBES_A_SIDE // 2
    key: NDArray[np.int64] = (shifted[:, 0] * _CUBES_A_SIDE + shifted[:, 1]) * _CUBES_A_SIDE + shifted[:, 2]
    return key
