"""A desk at a store of its own, on each engine, with a clock and identities that do not change from run to run."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from pathlib import Path

import pytest

from taskdb.services.desk import Desk, Write
from tests import building

HEADER = "code,name,latitude_deg,longitude_deg,elevation_m"
REGION = """\
001,Ormsau,48.8720000,11.8105000,389
002,Kelmried,48.5610000,11.5220000,467
003,Tannwöhr,49.0510000,12.4730000,497
004,Greifenlohe,48.6310000,12.3260000,423
005,Brüxfeld,49.0350000,11.5790000,470
"""


@pytest.fixture
def desk(store_url: str) -> Desk:
    return building.desk(store_url)


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
