"""A desk at a store of its own, on each engine, with a clock and identities that do not change from run to run."""

from __future__ import annotations

import datetime
import itertools
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from taskdb.services.desk import Desk, Write
from tests import building
from tests.conftest import EmptiedStore, KeptRows, copied

HEADER = "code,name,latitude_deg,longitude_deg,elevation_m"
REGION = """\
001,Ormsau,48.8720000,11.8105000,389
002,Kelmried,48.5610000,11.5220000,467
003,Tannwöhr,49.0510000,12.4730000,497
004,Greifenlohe,48.6310000,12.3260000,423
005,Brüxfeld,49.0350000,11.5790000,470
"""


@pytest.fixture(autouse=True)
def quick_courses(courses_kept: None) -> None:
    """Services are asked what they do with a course; how it is measured is asked elsewhere."""


@pytest.fixture
def desk(store_url: str) -> Desk:
    return building.desk(store_url)


Built = Callable[..., Desk]
Filled = tuple[KeptRows | Path, int, int]
"""What a function put into a store, and how many times and identities were given out meanwhile."""


@pytest.fixture(scope="session")
def kept_stores(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[tuple[Callable[..., Any], bool], Filled]]:
    """A folder for stores, and what stands in them by what filled them and whether that was on the server."""
    return tmp_path_factory.mktemp("built"), {}


@pytest.fixture
def built(
    request: pytest.FixtureRequest,
    store_url: str,
    kept_stores: tuple[Path, dict[tuple[Callable[..., Any], bool], Filled]],
) -> Built:
    """Fill the test's store by a function of the test's module: `built(fill, write, csv_file)` calls `fill(desk, …)`.

    It is called once on each engine, and who asks for the same one later gets a copy of the file or of the rows. The
    desk goes on from there: no time and no identity is given out twice.
    """
    folder, kept = kept_stores
    server: EmptiedStore | None = request.getfixturevalue("emptied_store") if "://" in store_url else None

    def build(fill: Callable[..., object], *given: Any) -> Desk:
        key = fill, server is not None
        if key not in kept:
            desk = building.desk(store_url)
            fill(desk, *given)
            content = server.rows() if server else copied(store_url, folder / f"{len(kept)}.db")
            looks = (desk.now() - building.CLOCK_STARTS_AT) // datetime.timedelta(minutes=1)
            kept[key] = content, looks, int(desk.new_identity(), 16) - 1
            return building.desk(store_url, looks=looks, made=kept[key][2])
        content, looks, made = kept[key]
        if isinstance(content, KeptRows):
            assert server is not None
            server.fill(content)
        else:
            shutil.copyfile(content, store_url)
        return building.desk(store_url, looks=looks, made=made)

    return build


@pytest.fixture
def write() -> Callable[..., Write]:
    """Return how writes are made in these tests."""

    def make(
        command: str = "test", *, preview: bool = False, confirmed: bool = False, note: str | None = None
    ) -> Write:
        return Write(command=command, preview=preview, confirmed=confirmed)

    return make


@pytest.fixture
def csv_file(tmp_path: Path) -> Callable[..., str]:
    """Return a maker of CSV files from rows, with the short header unless another is given."""
    numbers = itertools.count()

    def make(rows: str, header: str = HEADER) -> str:
        path = tmp_path / f"rows{next(numbers)}.csv"
        path.write_text(f"{header}\n{rows}", encoding="utf-8")
        return str(path)

    return make
