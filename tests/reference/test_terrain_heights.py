"""Heights of terrain files against readers that share no code with ours: GDAL (through rasterio) and scipy."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from scipy.interpolate import RegularGridInterpolator

from taskdb.core.model import Position
from taskdb.reference.terrain.folder import TerrainFolder
from tests.reference.terrain_files import random_heights, write_asc, write_hgt

RANDOM = np.random.default_rng(7)


def by_scipy(path: Path, latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
    """GDAL says where the cells' middles lie and what they hold, scipy interpolates between them."""
    with rasterio.open(path) as held:
        band = held.read(1, masked=True).astype(float).filled(np.nan)
        rows, columns = np.arange(held.height), np.arange(held.width)
        north = np.array([held.xy(int(row), 0)[1] for row in rows])
        east = np.array([held.xy(0, int(column))[0] for column in columns])
    read = RegularGridInterpolator((north[::-1], east), band[::-1], bounds_error=False, fill_value=np.nan)
    return read(np.column_stack([latitude, longitude]))


def places(south: float, west: float, size: float = 1.0, count: int = 20_000) -> tuple[np.ndarray, np.ndarray]:
    return RANDOM.uniform(south, south + size, count), RANDOM.uniform(west, west + size, count)


@pytest.mark.parametrize(
    ("name", "south", "west", "side"),
    [
        ("N47E011.hgt", 47, 11, 1201),
        ("s34w071.hgt", -34, -71, 1201),
        ("N46W002.SRTMGL1.hgt", 46, -2, 3601),
        ("S01E179.hgt", -1, 179, 1201),
    ],
)
def test_srtm_tiles_of_both_sizes_and_all_quarters(tmp_path: Path, name: str, south: int, west: int, side: int) -> None:
    path = write_hgt(tmp_path, name, random_heights(side, side))
    latitude, longitude = places(south, west)
    ours = TerrainFolder(str(tmp_path)).heights_m(latitude, longitude)
    theirs = by_scipy(path, latitude, longitude)
    assert not np.isnan(ours).any()
    np.testing.assert_allclose(ours, theirs, atol=1e-5)


@pytest.mark.parametrize("corner", ["corner", "center"])
def test_ascii_grids_by_corner_and_by_middle(tmp_path: Path, corner: str) -> None:
    path = write_asc(tmp_path, "g.asc", random_heights(90, 120, 3), 11.0, 47.0, 1 / 120, corner)
    folder = TerrainFolder(str(tmp_path))
    latitude, longitude = places(47.0, 11.0, 0.75, 5000)
    ours, theirs = folder.heights_m(latitude, longitude), by_scipy(path, latitude, longitude)
    within = ~np.isnan(theirs)
    assert within.sum() > 4000
    np.testing.assert_allclose(ours[within], theirs[within], atol=1e-4)


def test_geotiff_in_blocks(tmp_path: Path) -> None:
    heights = random_heights(1500, 2300, 5)
    heights[700:710, 1000:1040] = -32768
    path = tmp_path / "g.tif"
    with rasterio.open(
        path, "w", driver="GTiff", height=1500, width=2300, count=1, dtype="int16", crs="EPSG:4326", nodata=-32768,
        transform=Affine(1 / 1200, 0.0, 11.0, 0.0, -1 / 1000, 48.0),
    ) as out:  # fmt: skip
        out.write(heights, 1)
    latitude, longitude = RANDOM.uniform(46.51, 47.99, 30_000), RANDOM.uniform(11.01, 12.9, 30_000)
    folder = TerrainFolder(str(tmp_path))
    ours, theirs = folder.heights_m(latitude, longitude), by_scipy(path, latitude, longitude)
    both = ~np.isnan(theirs)
    np.testing.assert_allclose(ours[both], theirs[both], atol=1e-3)
    # Beside voids ours knows the triangle of three nodes, scipy does not.
    assert 0 <= (~np.isnan(ours)).sum() - both.sum() < 60
    assert len(set(folder._held)) > 1


def test_a_geotiff_whose_heights_stand_at_points(tmp_path: Path) -> None:
    """OGC GeoTIFF 1.1, 7.2.1 (GTRasterTypeGeoKey): PixelIsPoint puts the first height at the tie point itself."""
    path = tmp_path / "g.tif"
    with rasterio.open(
        path, "w", driver="GTiff", height=3, width=3, count=1, dtype="float32", crs="EPSG:4326",
        transform=Affine(1.0, 0.0, 9.5, 0.0, -1.0, 50.5),
    ) as out:  # fmt: skip
        out.update_tags(AREA_OR_POINT="Point")
        out.write(np.arange(9, dtype=np.float32).reshape(3, 3) * 100, 1)
    ground = TerrainFolder(str(tmp_path)).ground()
    assert ground.at(Position.at(50.0, 10.0)) == 0.0
    assert ground.at(Position.at(48.0, 12.0)) == 800.0


def test_tiles_share_their_edges(tmp_path: Path) -> None:
    """Random neighbours whose shared row and column are equal: on the edge any of them answers, and alike."""
    whole = random_heights(2401, 2401, 9)
    names = [("N48E011", 0, 0), ("N48E012", 0, 1), ("N47E011", 1, 0), ("N47E012", 1, 1)]
    for name, down, beside in names:
        write_hgt(tmp_path, f"{name}.hgt", whole[1200 * down :, 1200 * beside :][:1201, :1201])
    lattice = np.linspace(49, 47, 2401)[::-1], np.linspace(11, 13, 2401)
    read = RegularGridInterpolator(lattice, whole[::-1].astype(float))
    latitude, longitude = places(47.0, 11.0, 2.0, 4000)
    latitude[:1000] = 48.0
    longitude[500:1500] = 12.0
    folder = TerrainFolder(str(tmp_path))
    expected = read(np.column_stack([latitude, longitude]))
    np.testing.assert_allclose(folder.heights_m(latitude, longitude), expected, atol=1e-5)
    # Each alone still has its whole edge.
    for name, *_ in names[1:]:
        (tmp_path / f"{name}.hgt").unlink()
    alone = TerrainFolder(str(tmp_path))
    edges = np.array([48.0, 48.0, 48.5, 49.0, 49.0]), np.array([11.0, 12.0, 12.0, 11.3, 12.0])
    np.testing.assert_allclose(alone.heights_m(*edges), read(np.column_stack(edges)), atol=1e-5)
    assert np.isnan(alone.heights_m(np.array([47.9999, 48.5, 49.0001]), np.array([11.5, 12.0001, 11.5]))).all()


def test_the_antimeridian_and_the_poles(tmp_path: Path) -> None:
    east, west, top, foot = (random_heights(1201, 1201, seed) for seed in (11, 12, 13, 14))
    west[:, 0] = east[:, -1]
    write_hgt(tmp_path, "N00E179.hgt", east)
    write_hgt(tmp_path, "N00W180.hgt", west)
    write_hgt(tmp_path, "N89E010.hgt", top)
    write_hgt(tmp_path, "S90W001.hgt", foot)
    folder = TerrainFolder(str(tmp_path))

    def at(latitude: float, longitude: float) -> float:
        return float(folder.heights_m(np.array([latitude]), np.array([longitude]))[0])

    for longitude in (180.0, -180.0, 540.0):
        assert at(0.5, longitude) == east[600, 1200]
    assert at(0.5, 179.5) == at(0.5, -180.5) == east[600, 600]
    assert at(0.5, -179.5) == at(0.5, 180.5) == west[600, 600]
    assert at(90.0, 10.5) == top[0, 600] and at(-90.0, -0.5) == foot[1200, 600]
    assert np.isnan(at(90.0, 20.0)) and np.isnan(at(-89.5, 10.0))
    (tmp_path / "N00W180.hgt").unlink()
    assert TerrainFolder(str(tmp_path)).ground().at(Position.at(0.5, -180.0)) == east[600, 1200]


def test_cells_side_by_side_are_joined_over_the_gap_between_their_middles(tmp_path: Path) -> None:
    whole = random_heights(40, 80, 17)
    write_asc(tmp_path, "a.asc", whole[:, :40], 10.0, 47.0, 0.01)
    write_asc(tmp_path, "b.asc", whole[:, 40:], 10.4, 47.0, 0.01)
    middles = 47.005 + 0.01 * np.arange(40), 10.005 + 0.01 * np.arange(80)
    read = RegularGridInterpolator(middles, whole[::-1].astype(float))
    latitude, longitude = RANDOM.uniform(47.01, 47.39, 2000), RANDOM.uniform(10.39, 10.41, 2000)
    folder = TerrainFolder(str(tmp_path))
    expected = read(np.column_stack([latitude, longitude]))
    np.testing.assert_allclose(folder.heights_m(latitude, longitude), expected, atol=1e-2)
    # At the outer edge the cell's own height holds for its outer half, and nothing beyond it.
    edge = folder.heights_m(np.array([47.399, 47.4001]), np.array([10.005, 10.005]))
    assert edge[0] == whole[0, 0] and np.isnan(edge[1])


def test_voids_are_bridged_by_three_nodes_and_by_no_fewer(tmp_path: Path) -> None:
    """Common practice, no source: the plane of three nodes within their triangle, nothing elsewhere."""
    nan = -9999
    write_asc(tmp_path, "g.asc", [[100, 200, 300], [100, nan, 300], [100, 200, 300]], 10.5, 46.5, 1.0)
    folder = TerrainFolder(str(tmp_path))
    latitude = np.array([48.75, 48.25, 48.0, 49.0, 48.0, 48.9])
    longitude = np.array([11.2, 11.8, 12.0, 11.5, 11.0, 12.9])
    found = folder.heights_m(latitude, longitude)
    np.testing.assert_allclose(found[[0, 3, 4, 5]], [120.0, 150.0, 100.0, 290.0], atol=1e-4)
    assert np.isnan(found[[1, 2]]).all()


def test_the_finest_file_answers_and_the_next_where_it_is_void(tmp_path: Path) -> None:
    fine = np.full((1201, 1201), 500, dtype=np.int16)
    fine[300:600] = -32768
    write_hgt(tmp_path, "N47E011.hgt", fine)
    (tmp_path / "sub").mkdir()
    write_asc(tmp_path / "sub", "coarse.asc", np.full((30, 30), 700), 10.5, 46.5, 0.1)
    ground = TerrainFolder(str(tmp_path)).ground()
    assert ground.at(Position.at(47.2, 11.5)) == 500.0
    assert ground.at(Position.at(47.6, 11.5)) == 700.0
    assert ground.at(Position.at(48.5, 11.5)) == 700.0
    assert 92 < ground.spacing_m < 93 and "above mean sea level" in ground.source
