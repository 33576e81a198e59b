"""Files of heights written by hand as their descriptions say, for the tests that read them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np


def random_heights(rows: int, columns: int, seed: int = 1) -> np.ndarray:
    """Rough heights, −100 to 3,000 m, whole metres, every node another than its neighbours."""
    return np.random.default_rng(seed).integers(-100, 3000, (rows, columns)).astype(np.int16)


def write_hgt(folder: Path, name: str, heights: np.ndarray) -> Path:
    """SRTM documentation: big-endian 16-bit, rows from north to south."""
    path = folder / name
    path.write_bytes(heights.astype(">i2").tobytes())
    return path


def write_asc(
    folder: Path, name: str, heights: Sequence[Sequence[Any]] | np.ndarray, west: float, south: float, step: float,
    corner: str = "corner", nodata: str | None = "-9999",
) -> Path:  # fmt: skip
    """ESRI ASCII grid as its description says: header words, then rows from north to south."""
    rows = [" ".join(str(value) for value in row) for row in heights]
    header = [
        f"ncols {len(heights[0])}", f"nrows {len(heights)}", f"xll{corner} {west!r}", f"yll{corner} {south!r}",
        f"cellsize {step!r}",
    ]  # fmt: skip
    header += [f"NODATA_value {nodata}"] if nodata is not None else []
    path = folder / name
    path.write_text("\n".join([*header, *rows]) + "\n", encoding="ascii")
    return path
