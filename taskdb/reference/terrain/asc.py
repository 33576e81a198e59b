"""ESRI ASCII grids in degrees: a header of words and numbers, then rows of heights from north to south.

The corner or the middle of the lower left cell is given; the heights are those of the cells' middles.
"""

from __future__ import annotations

import math
import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from taskdb.reference.terrain.sheet import Sheet, damaged, require_on_earth

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_HEADER = frozenset(("ncols", "nrows", "xllcorner", "xllcenter", "yllcorner", "yllcenter", "cellsize", "nodata_value"))
_NEEDED = (("ncols",), ("nrows",), ("cellsize",), ("xllcorner", "xllcenter"), ("yllcorner", "yllcenter"))
_LINE_BYTES = 200
_MOST_CELLS = 1 << 26
_HEADER_LINES = 12


def read_asc_header(path: str, stream: BinaryIO) -> tuple[dict[str, float], int]:
    """Return the header's numbers by word, in lower case, and where the heights begin; InputError for no such file."""
    found: dict[str, float] = {}
    at = 0
    for _ in range(_HEADER_LINES):
        line = stream.readline(_LINE_BYTES)
        words = line.decode("latin-1").split()
        if len(words) != 2 or words[0].lower() not in _HEADER:
            break
        word = words[0].lower()
        try:
            number = float(words[1])
        except ValueError:
            number = math.nan
        if word in found or not (math.isfinite(number) or word == "nodata_value"):
            raise damaged(path, f"its header has {' '.join(words)!r}.")
        found[word] = number
        at += len(line)
    for choice in _NEEDED:
        if sum(word in found for word in choice) != 1:
            raise damaged(path, f"its header does not say {' or '.join(choice)} once; it is no ESRI ASCII grid.")
    return found, at


def asc_sheet(path: str, stream: BinaryIO) -> Sheet:
    """Return a grid, of which only the header is read yet; InputError where it is damaged or not in degrees."""
    header, at = read_asc_header(path, stream)
    columns, rows, step = header["ncols"], header["nrows"], header["cellsize"]
    if not (columns == int(columns) and rows == int(rows) and columns > 1 and rows > 1 and step > 0.0):
        raise damaged(path, f"{rows:.10g} rows of {columns:.10g} cells of {step:.10g} degrees are no grid.")
    if rows * columns > _MOST_CELLS:
        raise damaged(path, f"{rows:.10g} rows of {columns:.10g} cells are more than are read.", hint="Cut it up.")
    west = header["xllcenter"] if "xllcenter" in header else header["xllcorner"] + step / 2
    south = header["yllcenter"] if "yllcenter" in header else header["yllcorner"] + step / 2
    shape = (int(rows), int(columns))

    def load(first_row: int, end_row: int, first_column: int, end_column: int) -> NDArray[Any]:
        return _read_heights(path, at, shape)[first_row:end_row, first_column:end_column]

    void = header.get("nodata_value", -9999.0)
    sheet = Sheet(path, south + (rows - 1) * step, west, *shape, step, step, True, void, load)
    require_on_earth(path, sheet.bounds_deg)
    return sheet


def _read_heights(path: str, at: int, shape: tuple[int, int]) -> NDArray[np.float32]:
    import numpy as np

    try:
        with warnings.catch_warnings(), Path(path).open("rb") as stream:
            warnings.simplefilter("error")
            stream.seek(at)
            heights = np.fromfile(stream, dtype=np.float32, sep=" ")
    except (DeprecationWarning, ValueError):
        raise damaged(path, "among its heights stands what is no number.") from None
    except OSError as error:
        raise damaged(path, f"it cannot be read: {error.strerror}.") from None
    if len(heights) != shape[0] * shape[1]:
        raise damaged(path, f"it holds {len(heights):,} heights where its header says {shape[0] * shape[1]:,}.")
    return heights.reshape(shape)
