"""Waypoints that come in order of code one after the other are written to the same bytes as a list of them."""

from __future__ import annotations

import io
import random
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from taskdb.core.model import Position, Waypoint
from taskdb.files.held import IN_MEMORY_BYTES, held
from taskdb.files.pack import PackedFile, write_pack
from taskdb.formats.known import SETS_WRITTEN
from taskdb.formats.registry import InOrder, write_set

FOLDERS = '{"kml":{"folders":["Inner & outer"]}}'
POINTS = [
    Waypoint(f"W{i:02d}", f"=Name <{i}>", Position.at(48 + i / 10, 9), extras=FOLDERS if i % 3 == 0 else None)
    for i in range(12)
]


@pytest.mark.parametrize("format_name", SETS_WRITTEN)
@pytest.mark.parametrize("count", [0, 1, 12])
def test_the_same_bytes_and_losses_as_from_a_list_in_any_order(format_name: str, count: int) -> None:
    shuffled = random.Random(count).sample(POINTS[:count], count)
    whole, stream = io.BytesIO(), io.BytesIO()
    lost = write_set(whole, shuffled, format_name)
    assert write_set(stream, InOrder(iter(POINTS[:count])), format_name) == lost
    assert stream.getvalue() == whole.getvalue()
    assert bool(lost) == (count > 0 and format_name != "kml")


@pytest.mark.slow
def test_what_comes_is_not_held() -> None:
    alive: list[int] = []

    def coming() -> Iterator[Waypoint]:
        for i in range(20_000):
            alive.append(out.tell())
            yield Waypoint(f"{i:06d}", "", Position.at(48, 9))

    for format_name in SETS_WRITTEN:
        out = io.BytesIO()
        alive.clear()
        write_set(out, InOrder(coming()), format_name)
        assert alive[-1] > len(out.getvalue()) // 2, format_name


def test_a_large_content_is_packed_as_its_bytes_are(tmp_path: Path) -> None:
    content = random.Random(1).randbytes(IN_MEMORY_BYTES + 100)
    file, size = held(lambda stream: stream.write(content))
    assert (len(file), size) == (len(content), len(content))
    for name in ("of-bytes.zip", "of-held.zip", "folder"):
        given = content if name == "of-bytes.zip" else file
        write_pack(tmp_path / name, [PackedFile("a.gpx", given, "gpx")])
    assert (tmp_path / "of-held.zip").read_bytes() == (tmp_path / "of-bytes.zip").read_bytes()
    assert (tmp_path / "folder" / "a.gpx").read_bytes() == content
    with zipfile.ZipFile(tmp_path / "of-held.zip") as archive:
        assert archive.read("a.gpx") == content
