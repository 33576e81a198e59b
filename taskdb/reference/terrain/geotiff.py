"""GeoTIFF in degrees, through the optional package rasterio: blocks are read as they are asked for."""

from __future__ import annotations

import math
import warnings
from typing import TYPE_CHECKING, Any

from taskdb.errors import UsageError
from taskdb.reference.terrain.sheet import MOST_NODES, Sheet, damaged, require_on_earth

if TYPE_CHECKING:
    from numpy.typing import NDArray

_BLOCK = 1024


def geotiff_sheet(path: str) -> Sheet:
    """Return a file's heights (its first band); InputError where it is damaged, turned or not in degrees.

    UsageError where the optional package is not installed, with the line that installs it.
    """
    rasterio = _rasterio(path)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            # Of this format only: others that a .tif may hold name further files, or addresses in the network.
            with rasterio.open(path, driver="GTiff") as held:
                crs, placed = held.crs, held.transform
                rows, columns, scale, offset = held.height, held.width, held.scales[0], held.offsets[0]
    except rasterio.errors.RasterioError as error:
        raise damaged(path, f"it is no GeoTIFF that can be read: {error}") from None
    if crs is None or not crs.is_geographic:
        said = "says no reference system" if crs is None else f"is in {crs.to_string()[:60]}"
        hint = "Bring it into degrees first: gdalwarp -t_srs EPSG:4326 IN.tif OUT.tif"
        raise damaged(path, f"it {said}; only heights by latitude and longitude are read.", hint=hint)
    if placed.b or placed.d or placed.a <= 0.0 or placed.e >= 0.0 or rows < 2 or columns < 2:
        raise damaged(path, "its rows do not run from north to south and from west to east.")
    if rows * columns > 64 * MOST_NODES:
        raise damaged(path, f"{rows:,} rows of {columns:,} cells are more than are read.", hint="Cut it up.")

    def load(first_row: int, end_row: int, first_column: int, end_column: int) -> NDArray[Any]:
        window = ((first_row, end_row), (first_column, end_column))
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                with rasterio.open(path, driver="GTiff") as held:
                    block = held.read(1, window=window, masked=True).astype("float32").filled(math.nan)
        except rasterio.errors.RasterioError as error:
            raise damaged(path, f"it cannot be read: {error}") from None
        return block if (scale, offset) == (1.0, 0.0) else block * scale + offset  # type: ignore[no-any-return]

    north, west = placed.f + placed.e / 2, placed.c + placed.a / 2
    is_whole = rows * columns <= _BLOCK * _BLOCK
    sheet = Sheet(
        path, north, west, rows, columns, -placed.e, placed.a, True, None, load, None if is_whole else _BLOCK
    )  # fmt: skip
    require_on_earth(path, sheet.bounds_deg)
    return sheet


def _rasterio(path: str) -> Any:
    try:
        import rasterio
        import rasterio.errors
    except ImportError:
        raise UsageError(
            "no-geotiff",
            f"{path}: GeoTIFF is read by the optional package rasterio, which is not installed.",
            hint="Install it with: pip install 'taskdb[terrain]'",
        ) from None
    return rasterio
