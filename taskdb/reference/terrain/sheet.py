"""One file of heights as it is known before it is read: where it lies, how fine it is; and how damage is told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from taskdb.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import NDArray

LOWEST_M, HIGHEST_M = -500.0, 9000.0
"""No ground of the earth lies beyond (Dead Sea shore −430 m, Everest 8,849 m): what does is no height but a void."""
MOST_NODES = 1 << 28
"""A file of 268 million heights; what says that it has more is not read."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A file of heights: `rows` from north to south and `columns` from west to east of nodes, a step of degrees apart.

    The first row lies at `north_deg`, the first column at `west_deg`. `is_cells` holds where the nodes are the middles
    of cells, so that the file reaches half a step beyond them. `load` gives a block (rows from, to; columns from, to)
    as an array whose voids are `void` (NaN for None), and may lie in memory already or be mapped.
    """

    path: str
    north_deg: float
    west_deg: float
    rows: int
    columns: int
    row_step_deg: float
    column_step_deg: float
    is_cells: bool
    void: float | None
    load: Callable[[int, int, int, int], NDArray[Any]]
    block: int | None = None
    """How many rows and columns of cells are read at once; None for all."""

    @property
    def margin_rows(self) -> float:
        """How far the file reaches beyond its outermost nodes, in steps."""
        return 0.5 if self.is_cells else 0.0

    @property
    def bounds_deg(self) -> tuple[float, float, float, float]:
        """South, west, north, east; east may pass 180."""
        high, wide = self.margin_rows * self.row_step_deg, self.margin_rows * self.column_step_deg
        south = self.north_deg - (self.rows - 1) * self.row_step_deg
        east = self.west_deg + (self.columns - 1) * self.column_step_deg
        return south - high, self.west_deg - wide, self.north_deg + high, east + wide


def damaged(path: str, why: str, hint: str = "Take the file out of the folder, or get it anew.") -> InputError:
    """Return the refusal of a file of heights."""
    return InputError("terrain-damaged", f"{path}: {why}", hint=hint, details={"path": path})


def require_on_earth(path: str, bounds_deg: tuple[float, float, float, float]) -> None:
    """Refuse a file whose numbers are no degrees: metres of a projected grid look so."""
    south, west, north, east = bounds_deg
    # Half a cell beyond a pole is a file of cells whose nodes lie on it.
    if not (-91.0 <= south < north <= 91.0 and -361.0 <= west < east <= 541.0 and east - west <= 362.0):
        raise damaged(
            path,
            f"it reaches from {south:.10g} to {north:.10g} and from {west:.10g} to {east:.10g}, which are no degrees.",
            hint="Only grids in degrees of latitude and longitude are read: bring a projected one into them first.",
        )
