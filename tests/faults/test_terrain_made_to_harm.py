"""Folders of terrain that are damaged or made to harm: each is refused with the file's name, none is read wrong."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine

from taskdb.core.model import Position
from taskdb.errors import InputError, NotFoundError, TaskdbError, UsageError
from taskdb.reference.terrain.folder import TerrainFolder
from tests.reference.terrain_files import random_heights, write_asc, write_hgt

HEADER = b"ncols 3\nnrows 2\nxllcorner 11\nyllcorner 47\ncellsize 0.5\nNODATA_value -9999\n"
HEIGHTS = b"1 2 3\n4 5 6\n"

HOSTILE: list[tuple[str, bytes, str]] = [
    # file, what it holds, a word of the refusal
    ("N47E011.hgt", b"", "0 bytes"),
    ("N47E011.hgt", b"\0" * (1201 * 1201 * 2 - 1), "2,884,801 bytes"),
    ("N47E011.hgt", b"\0" * (3601 * 1801 * 2), "has"),
    ("N47E011.hgt", b"<html>not found</html>", "22 bytes"),
    ("tile.hgt", b"\0" * (1201 * 1201 * 2), "south-west corner"),
    ("N95E011.hgt", b"\0" * (1201 * 1201 * 2), "south-west corner"),
    ("N47E200.hgt", b"\0" * (1201 * 1201 * 2), "south-west corner"),
    ("g.asc", b"", "ncols"),
    ("g.asc", b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40, "ncols"),
    ("g.asc", HEIGHTS, "ncols"),
    ("g.asc", HEADER.replace(b"cellsize 0.5", b"cellsize 0") + HEIGHTS, "no grid"),
    ("g.asc", HEADER.replace(b"cellsize 0.5", b"cellsize -1") + HEIGHTS, "no grid"),
    ("g.asc", HEADER.replace(b"cellsize 0.5", b"cellsize nan") + HEIGHTS, "header"),
    ("g.asc", HEADER.replace(b"ncols 3", b"ncols 2.5") + HEIGHTS, "no grid"),
    ("g.asc", HEADER.replace(b"ncols 3", b"ncols 1e300") + HEIGHTS, "more than are read"),
    ("g.asc", HEADER.replace(b"ncols 3", b"ncols 3\nncols 4") + HEIGHTS, "ncols"),
    ("g.asc", HEADER.replace(b"xllcorner", b"xllcenter 11\nxllcorner") + HEIGHTS, "xllcorner or xllcenter"),
    ("g.asc", HEADER.replace(b"xllcorner 11", b"xllcorner 678000").replace(b"0.5", b"25") + HEIGHTS, "no degrees"),
    ("g.asc", HEADER.replace(b"yllcorner 47", b"yllcorner 5200000") + HEIGHTS, "no degrees"),
    ("g.asc", HEADER.replace(b"yllcorner 47", b"yllcorner 1e999") + HEIGHTS, "header"),
    ("g.tif", b"II*\0" + b"\xff" * 64, "GeoTIFF"),
    ("g.tif", b"", "GeoTIFF"),
    ("g.tif", b"<VRTDataset rasterXSize='2' rasterYSize='2'><SRS>EPSG:4326</SRS></VRTDataset>", "GeoTIFF"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "content", "said"), HOSTILE, ids=[f"{n}-{k}" for k, (n, *_) in enumerate(HOSTILE)])
def test_a_damaged_file_is_refused_by_its_name(tmp_path: Path, name: str, content: bytes, said: str) -> None:
    (tmp_path / name).write_bytes(content)
    with pytest.raises(InputError) as refused:
        TerrainFolder(str(tmp_path))
    assert name in refused.value.message and said in refused.value.message
    assert refused.value.hint


@pytest.mark.parametrize(
    "heights",
    [b"1 2 3\n4 5\n", b"1 2 3\n4 5 6 7\n", b"1 2 3\n4 five 6\n", b"1,5 2 3 4 5 6", b"", b"\0\0\0\0", b"\xff" * 100],
)
def test_heights_that_are_none_are_refused_when_they_are_read(tmp_path: Path, heights: bytes) -> None:
    (tmp_path / "g.asc").write_bytes(HEADER + heights)
    folder = TerrainFolder(str(tmp_path))
    with pytest.raises(InputError, match=r"g\.asc"):
        folder.ground().at(Position.at(47.5, 11.7))


def test_projected_and_nameless_geotiffs_are_refused_with_the_way_out(tmp_path: Path) -> None:
    path = tmp_path / "g.tif"
    for crs, said in (("EPSG:32632", "EPSG:32632"), (None, "no reference system")):
        with rasterio.open(
            path, "w", driver="GTiff", height=4, width=4, count=1, dtype="int16", crs=crs,
            transform=Affine(25.0, 0.0, 678000.0, 0.0, -25.0, 5200000.0),
        ) as out:  # fmt: skip
            out.write(random_heights(4, 4), 1)
        with pytest.raises(InputError, match=said) as refused:
            TerrainFolder(str(tmp_path))
        assert "EPSG:4326" in (refused.value.hint or "")


def test_without_the_package_geotiff_is_refused_with_the_line_that_installs_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "g.tif").write_bytes(b"II*\0")
    monkeypatch.setitem(sys.modules, "rasterio", None)
    with pytest.raises(UsageError) as refused:
        TerrainFolder(str(tmp_path))
    assert refused.value.hint == "Install it with: pip install 'taskdb[terrain]'"


def test_folders_that_are_none_or_hold_none(tmp_path: Path) -> None:
    for name in ("nowhere", "a\0b"):
        with pytest.raises(NotFoundError):
            TerrainFolder(str(tmp_path / name))
    file = tmp_path / "file.txt"
    file.write_text("x")
    with pytest.raises(NotFoundError):
        TerrainFolder(str(file))
    with pytest.raises(InputError, match="holds no heights"):
        TerrainFolder(str(tmp_path))
    (tmp_path / "N47E011.hgt.zip").write_bytes(b"PK")
    with pytest.raises(InputError) as refused:
        TerrainFolder(str(tmp_path))
    assert "Unpack" in (refused.value.hint or "")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no named pipes here")
def test_a_pipe_named_like_a_tile_and_a_folder_that_holds_itself(tmp_path: Path) -> None:
    write_hgt(tmp_path, "N47E011.hgt", random_heights(1201, 1201))
    (tmp_path / "again").symlink_to(tmp_path, target_is_directory=True)
    assert len(TerrainFolder(str(tmp_path)).sheets) == 1
    os.mkfifo(tmp_path / "N48E011.hgt")
    with pytest.raises(InputError, match="pipe"):
        TerrainFolder(str(tmp_path))


def test_heights_that_no_ground_has_are_voids(tmp_path: Path) -> None:
    """The lowest land is the Dead Sea's shore (−430 m), the highest Everest (8,849 m): bytes the wrong way round go far
    beyond."""
    wrong = np.full((1201, 1201), 300, dtype=np.int16)
    wrong[600, 600] = 12_000
    wrong[600, 700] = -600
    write_hgt(tmp_path, "N47E011.hgt", wrong)
    write_asc(tmp_path, "g.asc", [["nan", "inf"], ["1e30", "5"]], 20.0, 47.0, 0.5)
    ground = TerrainFolder(str(tmp_path)).ground()
    assert ground.at(Position.at(47.5, 11.5)) is None and ground.at(Position.at(47.5, 11 + 700 / 1200)) is None
    assert ground.at(Position.at(47.5, 11.7)) == 300.0
    assert ground.at(Position.at(47.3, 20.3)) is None and ground.at(Position.at(47.25, 20.75)) == 5.0


def test_random_bytes_never_raise_but_a_refusal(tmp_path: Path) -> None:
    random = np.random.default_rng(3)
    for n in range(300):
        spoilt = bytearray(HEADER + HEIGHTS)
        for _ in range(int(random.integers(1, 6))):
            spoilt[int(random.integers(len(spoilt)))] = int(random.integers(256))
        (tmp_path / "g.asc").write_bytes(bytes(spoilt) if n % 2 else bytes(spoilt[: int(random.integers(len(spoilt)))]))
        try:
            heights = TerrainFolder(str(tmp_path)).heights_m(np.array([47.5, -90.0]), np.array([11.7, 180.0]))
        except TaskdbError as refused:
            assert "g.asc" in refused.message
        else:
            assert heights.shape == (2,)
