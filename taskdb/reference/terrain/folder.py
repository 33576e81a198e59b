"""A folder of files of heights: listed once, read when a place in a file is asked for, a few kept in memory.

Of several files that hold a place the finest answers, the next where that is void. Files that do not touch what is
asked are not opened beyond their headers.
"""

from __future__ import annotations

import math
import os
import stat
from collections import OrderedDict, defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from taskdb.core.ground import GroundHeights
from taskdb.errors import InputError, NotFoundError
from taskdb.reference.terrain.asc import asc_sheet
from taskdb.reference.terrain.bilinear import ON_NODE, heights_between
from taskdb.reference.terrain.geotiff import geotiff_sheet
from taskdb.reference.terrain.hgt import hgt_sheet
from taskdb.reference.terrain.sheet import Sheet

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

METRES_A_DEGREE = 111_195.0
_KEPT_NODES = 1 << 26
"""So many heights stay in memory (256 MB of them); tiles that are mapped count for less than they hold."""
_DEEPEST = 3
_PACKED = (".zip", ".gz", ".7z", ".bz2", ".xz")
_READ = (".hgt", ".asc", ".tif", ".tiff")


class TerrainFolder:
    """The heights of a folder's files; holds what it has read. Not for several threads."""

    def __init__(self, folder: str) -> None:
        """List the folder. NotFoundError where there is none; InputError where it holds no heights or damaged files."""
        self.folder = folder
        self.sheets = sorted(_sheets(folder), key=lambda sheet: (sheet.row_step_deg, sheet.path))
        self._held: OrderedDict[tuple[str, int, int], NDArray[Any]] = OrderedDict()
        self._by_degree: dict[tuple[int, int], list[Sheet]] = defaultdict(list)
        for sheet in self.sheets:
            south, west, north, east = sheet.bounds_deg
            wide = min(math.floor(east) - math.floor(west) + 1, 360)
            for latitude in range(math.floor(south), math.floor(north) + 1):
                for step in range(wide):
                    self._by_degree[latitude, _wrapped(math.floor(west) + step)].append(sheet)

    def ground(self) -> GroundHeights:
        """Return the folder as the core's ground, named by the folder's own name."""
        spacing_m = self.sheets[0].row_step_deg * METRES_A_DEGREE
        return GroundHeights(f"terrain {Path(self.folder).name or self.folder}", spacing_m, True, self.heights_m)

    def heights_m(self, latitude_deg: NDArray[np.float64], longitude_deg: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the height at each place, metres above mean sea level; NaN where no file has one.

        Latitudes −90 to 90; longitudes of any turn. Bilinear between nodes, see `heights_between`; in the outer half
        of a cell at a file's edge with the nodes of the file beside it, and where there is none with the cell's own.
        """
        latitude, longitude = latitude_deg, (longitude_deg + 180.0) % 360.0 - 180.0
        found = self._between_nodes(latitude, longitude)
        if any(sheet.is_cells for sheet in self.sheets):
            self._in_margins(latitude, longitude, found)
        return found

    def _asked(
        self, latitude: NDArray[np.float64], longitude: NDArray[np.float64], found: NDArray[np.float64], reach: bool
    ) -> Iterator[tuple[Sheet, NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]]:
        """Yield each file with the places in it that have no height yet, and their rows and columns in it.

        With `reach` also those beyond its outermost nodes, in the outer halves of its cells.
        """
        import numpy as np

        squares = np.floor(latitude).astype(np.int64) * 1000 + np.floor(longitude).astype(np.int64) + 180
        order = np.argsort(squares, kind="stable")
        keys, starts = np.unique(squares[order], return_index=True)
        for key, members in zip(keys.tolist(), np.split(order, starts)[1:], strict=True):
            south, west = divmod(key, 1000)
            for sheet in self._by_degree.get((south, west - 180), ()):
                left = members[np.isnan(found[members])]
                more = sheet.margin_rows if reach else 0.0
                row = (sheet.north_deg - latitude[left]) / sheet.row_step_deg
                first = sheet.west_deg - more * sheet.column_step_deg
                # Measured from the file's western edge, so that a turn more or less is none.
                east = (longitude[left] - first + ON_NODE * sheet.column_step_deg) % 360.0
                column = east / sheet.column_step_deg - more - ON_NODE
                inside = (row >= -more - ON_NODE) & (row <= sheet.rows - 1 + more + ON_NODE)
                inside &= column <= sheet.columns - 1 + more + ON_NODE
                if inside.any():
                    yield sheet, left[inside], row[inside], column[inside]

    def _between_nodes(self, latitude: NDArray[np.float64], longitude: NDArray[np.float64]) -> NDArray[np.float64]:
        import numpy as np

        found = np.full(len(latitude), np.nan)
        for sheet, which, row, column in self._asked(latitude, longitude, found, reach=False):
            found[which] = self._sheet_heights(sheet, row, column)
        return found

    def _in_margins(
        self, latitude: NDArray[np.float64], longitude: NDArray[np.float64], found: NDArray[np.float64]
    ) -> None:
        """Fill in the heights of places in the outer halves of the outermost cells of a file."""
        import numpy as np

        for sheet, which, row, column in self._asked(latitude, longitude, found, reach=True):
            if not sheet.is_cells:
                continue
            inside = (row >= 0) & (row <= sheet.rows - 1) & (column >= 0) & (column <= sheet.columns - 1)
            which, row, column = which[~inside], row[~inside], column[~inside]
            if not len(which):
                continue
            top, left = np.floor(row), np.floor(column)
            corners = np.empty((len(which), 2, 2))
            for below in (0, 1):
                for beside in (0, 1):
                    corners[:, below, beside] = self._nodes(sheet, top + below, left + beside)
            for k, four in enumerate(corners):
                at = np.array([row[k] - top[k]]), np.array([column[k] - left[k]])
                found[which[k]] = heights_between(four, None, *at)[0]

    def _nodes(self, sheet: Sheet, row: NDArray[np.float64], column: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the heights of nodes of a file's lattice: beyond its own a neighbour's, else the nearest own."""
        import numpy as np

        latitude = sheet.north_deg - row * sheet.row_step_deg
        longitude = (sheet.west_deg + column * sheet.column_step_deg + 180.0) % 360.0 - 180.0
        is_own = (row >= 0) & (row <= sheet.rows - 1) & (column >= 0) & (column <= sheet.columns - 1)
        own = self._sheet_heights(sheet, np.clip(row, 0, sheet.rows - 1), np.clip(column, 0, sheet.columns - 1))
        theirs = np.full(len(row), np.nan)
        beyond = ~is_own & (np.abs(latitude) <= 90.0)
        theirs[beyond] = self._between_nodes(latitude[beyond], longitude[beyond])
        return np.where(is_own | np.isnan(theirs), own, theirs)

    def _sheet_heights(
        self, sheet: Sheet, row: NDArray[np.float64], column: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        import numpy as np

        row, column = np.clip(row, 0, sheet.rows - 1), np.clip(column, 0, sheet.columns - 1)
        if sheet.block is None:
            return heights_between(self._block(sheet, 0, 0), sheet.void, row, column)
        down = np.minimum(row // sheet.block, (sheet.rows - 2) // sheet.block).astype(np.int64)
        beside = np.minimum(column // sheet.block, (sheet.columns - 2) // sheet.block).astype(np.int64)
        found = np.empty(len(row))
        for one, other in sorted(set(zip(down.tolist(), beside.tolist(), strict=True))):
            own = (down == one) & (beside == other)
            block = self._block(sheet, one, other)
            found[own] = heights_between(
                block, sheet.void, row[own] - one * sheet.block, column[own] - other * sheet.block
            )
        return found

    def _block(self, sheet: Sheet, down: int, beside: int) -> NDArray[Any]:
        """Return a block of a file with the nodes that it shares with the next ones, from memory where it is there."""
        key = (sheet.path, down, beside)
        if key in self._held:
            self._held.move_to_end(key)
            return self._held[key]
        size = sheet.block or max(sheet.rows, sheet.columns)
        ends = (min((down + 1) * size + 1, sheet.rows), min((beside + 1) * size + 1, sheet.columns))
        block = sheet.load(down * size, ends[0], beside * size, ends[1])
        self._held[key] = block
        while len(self._held) > 1 and sum(one.size for one in self._held.values()) > _KEPT_NODES:
            self._held.popitem(last=False)
        return block


def _wrapped(longitude: int) -> int:
    return (longitude + 180) % 360 - 180


def _sheets(folder: str) -> Iterator[Sheet]:
    seen: list[str] = []
    any_read = False
    for path in _files(folder, _DEEPEST):
        suffix = Path(path).suffix.lower()
        seen.append(path)
        if suffix in _READ:
            any_read = True
            yield _sheet(path, suffix)
    if not any_read:
        packed = next((path for path in seen if path.lower().endswith(_PACKED)), None)
        hint = f"Unpack {packed}." if packed else f"Name a folder with files ending in {', '.join(_READ)}."
        raise InputError("no-terrain", f"The folder {folder} holds no heights.", hint=hint, details={"path": folder})


def _files(folder: str, depth: int) -> Iterator[str]:
    """Yield the files of a folder and of those in it, in order of name; folders by links are not followed."""
    try:
        with os.scandir(folder) as listing:
            entries = sorted(listing, key=lambda entry: entry.name)
    except (FileNotFoundError, NotADirectoryError, ValueError):
        raise NotFoundError(
            "terrain-not-found", f"There is no folder {folder!r} of terrain.", hint="Check the path.",
            details={"path": folder},
        ) from None  # fmt: skip
    except OSError as error:
        raise InputError("terrain-unreadable", f"{folder} cannot be read: {error.strerror}.") from None
    for entry in entries:
        if entry.is_dir(follow_symlinks=False):
            if depth > 1:
                yield from _files(entry.path, depth - 1)
        else:
            yield entry.path


def _sheet(path: str, suffix: str) -> Sheet:
    try:
        status = Path(path).stat()
        if not stat.S_ISREG(status.st_mode):
            raise InputError("terrain-damaged", f"{path} is a pipe or a device, not a file.", details={"path": path})
        if suffix == ".hgt":
            return hgt_sheet(path, Path(path).name, status.st_size)
        if suffix == ".asc":
            with Path(path).open("rb") as stream:
                return asc_sheet(path, stream)
        return geotiff_sheet(path)
    except OSError as error:
        raise InputError("terrain-unreadable", f"{path} cannot be read: {error.strerror}.") from None
