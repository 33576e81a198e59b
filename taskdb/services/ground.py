"""The ground that a command works with: the user's terrain where it is named, else the grid that is shipped."""

from __future__ import annotations

from functools import lru_cache

from taskdb.core.ground import GroundHeights


@lru_cache(maxsize=2)
def open_terrain(folder: str) -> GroundHeights:
    """Return the heights of a folder of terrain, listed once a process.

    NotFoundError for a folder that is not there, InputError for one without heights or with damaged files.
    """
    from taskdb.reference.terrain.folder import TerrainFolder

    return TerrainFolder(folder).ground()


def open_ground(folder: str | None) -> GroundHeights:
    """Return the user's terrain, or without a folder the shipped grid of 9 km; what it is stands in `source`."""
    if folder is not None:
        return open_terrain(folder)
    from taskdb.reference.outlines import load_elevation_grid
    from taskdb.reference.terrain.shipped import shipped_ground

    return shipped_ground(load_elevation_grid())
