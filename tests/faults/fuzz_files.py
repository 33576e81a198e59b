"""Readers for the fuzzer that take more than one file, or none with a name: folders, tiles, standard input, a cache."""

from __future__ import annotations

import io
import sys
import tempfile
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
import rasterio
from affine import Affine

from taskdb.core.model import Position
from taskdb.disk.putting_back import put_back
from taskdb.errors import TaskdbError
from taskdb.reference.terrain.folder import TerrainFolder
from taskdb.reference.terrain.hgt import SIDES, read_hgt_name
from taskdb.services.flights.reading import FlightsRequest, read_flights
from taskdb.services.handing_out.tiles import background
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks.importing import TaskImportRequest, import_tasks
from taskdb.services.tasks.plain import shown_plain
from taskdb.services.tasks.task import show_task
from taskdb.store.rows import to_json
from tests.faults.fuzz_store import PREVIEW, Ground

GRIDS = (
    b"ncols 3\nnrows 2\nxllcorner 11\nyllcorner 47\ncellsize 0.5\nNODATA_value -9999\n1 2 3\n4 5 6\n",
    b"NCOLS 2\nNROWS 2\nXLLCENTER -180\nYLLCENTER 89\nCELLSIZE 1\n1.5 -9999\n1e3 0\n",
)
ASKED = ((47.5, 11.5), (47.9, 11.0), (90.0, -180.0), (48.0, 12.0))
PICTURES = (b"\x89PNG\r\n\x1a\n0000", b"\xff\xd8\xff", b"RIFFxxxxWEBP")
ADDRESSES = (
    b"https://tiles.example.org/{z}/{x}/{y}.png", b"http://h:8080/{x}/{y}?z={z}", b"/tmp", b"",
    b"https://h/{z}/{x}/{y}; script-src *", b"\nhttps://h/{z}{x}{y}",
)  # fmt: skip
_OF_X = b"2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881"
SWAPS = (
    b'[{"path": "a.gpx", "sha256": "' + _OF_X + b'", "stood": true}]',
    b'[{"path": "../outside", "sha256": null, "stood": true}, {"path": "b/c", "sha256": "'
    + _OF_X
    + b'", "stood": false}]',
)
FINDINGS = b'[["3f1", "same-place", "warning", ["001", "004"], "Two points lie at one place."]]'


def _heights(file: str, content: bytes, size: int | None = None) -> Any:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / file
        path.write_bytes(content)
        if size is not None:
            with path.open("r+b") as stream:
                stream.truncate(size)
        ground = TerrainFolder(folder).ground()
        return [ground.at(Position.at(*place)) for place in ASKED]


def grid(content: bytes) -> Any:
    """A grid of heights, asked at its edges; what may be the name of a tile."""
    read_hgt_name(content[:40].decode("latin-1"))
    return _heights("g.asc", content)


def tile(content: bytes) -> Any:
    """A tile whose first heights are these, at its whole size or at that which it has."""
    with suppress(TaskdbError):
        _heights("N47E011.hgt", content)
    return _heights("N47E011.hgt", content, SIDES[-1] ** 2 * 2)


@cache
def pictures_of_heights() -> tuple[bytes, ...]:
    """Return GeoTIFFs of a few heights: plain, in blocks and packed, with scale and offset."""
    found = []
    heights = np.arange(32 * 32, dtype=np.int16).reshape(32, 32)
    shapes: tuple[dict[str, Any], ...] = (
        {},
        {"tiled": True, "blockxsize": 16, "blockysize": 16, "compress": "deflate"},
    )
    for shape in shapes:
        with rasterio.MemoryFile() as held:
            with held.open(
                driver="GTiff", width=32, height=32, count=1, dtype="int16", crs="EPSG:4326", nodata=-9999,
                transform=Affine(1 / 16, 0, 11, 0, -1 / 16, 48), **shape,
            ) as written:  # fmt: skip
                written.write(heights, 1)
                if shape:
                    written.scales, written.offsets = (0.1,), (-5.0,)
            found.append(held.read())
    return tuple(found)


def _tiles(content: bytes) -> None:
    """An address of background pictures and whose they are; what a folder holds in place of pictures."""
    text = content.decode("utf-8", "replace")
    with suppress(TaskdbError):
        found = background(text, text) if "/" not in text[:1] else None
        if found is not None and any(sign in found.tiles.origin for sign in " ;,'\"\n"):
            raise AssertionError("an address widens the policy of a page")
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "3" / "2"
        place.mkdir(parents=True)
        (place / "1.png").write_bytes(content)
        (place / "2.png").write_bytes(PICTURES[0])
        background(folder, "Survey office")


def _in_folder(folder: Path, read: Callable[[str], Any], names: tuple[str, ...]) -> Callable[[bytes], Any]:
    (folder / "below").mkdir(parents=True, exist_ok=True)

    def reading(content: bytes) -> Any:
        for name in names:
            (folder / name).write_bytes(content)
        return read(str(folder))

    return reading


def _swaps(folder: Path) -> Callable[[bytes], Any]:
    """A plan of swaps that somebody left beside a target: nothing outside it changes."""
    target, outside = folder / "swapped", folder / "outside"
    (target / "stage").mkdir(parents=True, exist_ok=True)
    outside.write_bytes(b"theirs")

    def reading(content: bytes) -> Any:
        (target / "stage" / "plan.json").write_bytes(content)
        (target / "stage" / "old-0").write_bytes(b"kept")
        (target / "a.gpx").write_bytes(b"x")
        put_back(target / "stage")
        if outside.read_bytes() != b"theirs":
            raise AssertionError("a plan changed a file outside its folder")

    return reading


def _through_input(read: Callable[[str], Any]) -> Callable[[bytes], Any]:
    def reading(content: bytes) -> Any:
        with patch.object(sys, "stdin", io.TextIOWrapper(io.BytesIO(content), encoding="utf-8")):
            return read("-")

    return reading


def file_readers(
    here: Ground, tasks: tuple[bytes, ...], rows: tuple[bytes, ...], logs: tuple[bytes, ...]
) -> list[tuple[Any, ...]]:
    """Return name, seeds, reader and weight of each."""
    desk, folder = here.desk, here.folder

    def kept(content: bytes) -> None:
        with patch("taskdb.services.checks.kept.cached", lambda key: content):
            to_json(shown_plain(show_task(desk, "A"))).encode()

    def whole_set(path: str) -> Any:
        return import_set(desk, ImportRequest(path, "region"), PREVIEW)

    def all_tasks(path: str) -> Any:
        return import_tasks(desk, TaskImportRequest(path, "Cup"), PREVIEW)

    def all_flights(path: str) -> Any:
        return read_flights(desk, FlightsRequest((path,), "Cup"))

    kinds = tuple(f"below/t.{suffix}" for suffix in ("igc", "gpx", "kml", "csv", "geojson"))
    return [
        ("terrain grid", GRIDS, grid, 10),
        ("terrain tile", (b"\x80\x00\x01\x00" * 20, b"\xff" * 50), tile, 2),
        ("terrain picture", pictures_of_heights(), lambda content: _heights("g.tif", content), 3),
        ("background", (*PICTURES, *ADDRESSES), _tiles, 2),
        ("kept checks", (FINDINGS, b"[]"), kept, 1),
        ("plan of swaps", SWAPS, _swaps(folder), 3),
        ("set from input", rows, _through_input(whole_set), 1),
        ("tasks from input", tasks, _through_input(all_tasks), 1),
        ("folder of tasks", tasks, _in_folder(folder / "tasks", all_tasks, kinds), 1),
        ("folder of logs", logs, _in_folder(folder / "logs", all_flights, ("a.igc", "below/B.IGC")), 1),
    ]
