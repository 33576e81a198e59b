"""Heights between nodes: bilinear within a cell of four, and what is said where some of the four are void."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from taskdb.reference.terrain.sheet import HIGHEST_M, LOWEST_M

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

ON_NODE = 1e-6
"""Nearer to a node than this part of a step (below a tenth of a millimetre) is on it: no more than rounding."""


def heights_between(
    block: NDArray[Any], void: float | None, row: NDArray[np.float64], column: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the heights at places given in rows and columns of the block, both within it; NaN where it has none.

    A place has a height if all nodes that bear on it (weight above zero) have one. Where one node of the four is void,
    a place in the triangle of the other three has that of the plane through them. Nothing is carried beyond nodes.
    """
    import numpy as np

    top = np.clip(np.floor(row), 0, block.shape[0] - 2).astype(np.int64)
    left = np.clip(np.floor(column), 0, block.shape[1] - 2).astype(np.int64)
    down, right = _snapped(row - top), _snapped(column - left)
    flat = block.reshape(-1) if block.flags.c_contiguous else None
    values = np.empty((4, len(row)))
    for k, (below, beside) in enumerate(((0, 0), (0, 1), (1, 0), (1, 1))):
        if flat is not None:
            values[k] = flat[(top + below) * block.shape[1] + left + beside]
        else:
            values[k] = block[top + below, left + beside]
    bad = (values < LOWEST_M) | (values > HIGHEST_M) | np.isnan(values)
    if void is not None:
        bad |= values == void
    weights = np.stack([(1 - down) * (1 - right), (1 - down) * right, down * (1 - right), down * right])
    found: NDArray[np.float64] = (weights * np.where(bad, 0.0, values)).sum(axis=0)
    lacking = (bad & (weights > 0.0)).any(axis=0)
    found[lacking] = np.nan
    some = np.flatnonzero(lacking & (bad.sum(axis=0) == 1))
    if len(some):
        found[some] = _in_triangle(np.where(bad, np.nan, values)[:, some], bad[:, some], down[some], right[some])
    return found


def _snapped(part: NDArray[np.float64]) -> NDArray[np.float64]:
    """Put what rounding has moved off a node back onto it, in place."""
    part[part < ON_NODE] = 0.0
    part[part > 1.0 - ON_NODE] = 1.0
    return part


def _in_triangle(
    values: NDArray[np.float64], bad: NDArray[np.bool_], down: NDArray[np.float64], right: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the height of the plane through the three nodes that are there, NaN beyond their triangle."""
    import numpy as np

    a, b, c, d = values
    up, back = 1.0 - down, 1.0 - right
    planes = (
        (down + right >= 1.0, d + back * (c - d) + up * (b - d)),
        (right <= down, c + right * (d - c) + up * (a - c)),
        (right >= down, b + back * (a - b) + down * (d - b)),
        (down + right <= 1.0, a + right * (b - a) + down * (c - a)),
    )
    found = np.full(len(down), np.nan)
    for void, (holds, height) in zip(bad, planes, strict=True):
        found = np.where(void & holds, height, found)
    return found
