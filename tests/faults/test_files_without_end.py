"""Files that are too much of something are refused early, in words, and in little memory; nothing is kept of them.

Each is read by the command line in a process of its own that may take half a gigabyte.
"""

from __future__ import annotations

import io
import json
import os
import random
import resource
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from taskdb.errors import ExitCode

pytestmark = pytest.mark.slow

LARGE = 200 << 20
MEMORY_BYTES = 512 << 20
LONGEST_S = 20.0
"""With start-up, on a busy machine; an honest file of this size takes about as long."""

HEADER = b"code,name,latitude_deg,longitude_deg\n"
GPX = b'<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1">'
KML = b'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>'

FILES: dict[str, tuple[bytes, bytes, str]] = {
    "one line of commas.csv": (b"", b"a,", "line-too-long"),
    "a header of columns.csv": (b"code,lat,lon" + b",x" * 2000 + b"\n", b"\n", "too-many-columns"),
    "one cell.csv": (HEADER + b"1,", b"a", "line-too-long"),
    "a quote without end.csv": (HEADER + b'1,"', b"a\n", "too-many-problems"),
    "rows of one cell.csv": (HEADER, b"x\n", "too-many-problems"),
    "only line ends.csv": (b"", b"\n", "empty-file"),
    "one name.gpx": (GPX + b'<wpt lat="48" lon="11"><name>', b"a", "file-too-large"),
    "one attribute.gpx": (GPX + b'<wpt lat="', b"4", "file-too-large"),
    "one tag.gpx": (GPX + b"<wpt ", b"a", "file-too-large"),
    "one comment.gpx": (GPX + b"<!--", b"a", "file-too-large"),
    "elements.gpx": (GPX, b"<a/>", "file-too-large"),
    "coordinates.kml": (KML + b"<Placemark><Point><coordinates>", b"1,2 ", "file-too-large"),
    "folders.kml": (KML, b"<Folder></Folder>", "file-too-large"),
    "brackets.geojson": (b"", b"[", "file-too-large"),
    "no features.geojson": (b'{"type":"FeatureCollection","features":[', b"[],", "file-too-large"),
}  # fmt: skip


def fill(path: Path, head: bytes, piece: bytes, size: int = LARGE) -> None:
    block = piece * (-(-(1 << 20) // len(piece)))
    with path.open("wb") as stream:
        stream.write(head)
        for _ in range(size // len(block) + 1):
            stream.write(block)


Refused = Callable[..., str]


@pytest.fixture
def refused(tmp_path: Path) -> Refused:
    """Import a file in a process of little memory, and return the code of its refusal; nothing may be kept."""

    def run(path: Path, *options: str, exit_code: ExitCode = ExitCode.INPUT_UNUSABLE) -> str:
        store = tmp_path / "store.db"
        began = time.monotonic()
        done = subprocess.run(
            [
                sys.executable,
                "-m",
                "taskdb",
                "set",
                "import",
                path,
                "--into",
                "x",
                "--store",
                store,
                "--json",
                *options,
            ],
            capture_output=True,
            text=True,
            preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES)),
            timeout=120,
            check=False,
        )
        assert time.monotonic() - began < LONGEST_S
        assert done.returncode == exit_code, done.stdout + done.stderr
        assert not store.exists()
        document = json.loads(done.stdout)
        assert document["error"]["hint"]
        return str(document["error"]["code"])

    return run


@pytest.mark.parametrize("name", FILES)
def test_a_file_that_is_too_much_of_something_is_refused(refused: Refused, tmp_path: Path, name: str) -> None:
    head, piece, code = FILES[name]
    path = tmp_path / name.replace(" ", "-")
    fill(path, head, piece, 100_000_000 if name.startswith("no features") else LARGE)
    assert refused(path) == code


@pytest.mark.parametrize("random_bytes", [1 << 20, 0])
def test_a_gigabyte_of_junk_is_refused_by_its_first_bytes(refused: Refused, tmp_path: Path, random_bytes: int) -> None:
    path = tmp_path / "junk.csv"
    with path.open("wb") as stream:
        stream.write(random.Random(1).randbytes(random_bytes))  # some junk begins like a file of some format
        stream.truncate(1 << 30)
    assert refused(path) == "not-text"


def test_more_than_a_gigabyte_is_refused_unread(refused: Refused, tmp_path: Path) -> None:
    path = tmp_path / "large.csv"
    with path.open("wb") as stream:
        stream.truncate((1 << 30) + 1)
    assert refused(path) == "file-too-large"


def test_pipes_folders_and_devices_are_refused_and_not_waited_for(refused: Refused, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    assert refused(tmp_path / "pipe.csv") == "not-a-file"
    (tmp_path / "folder.csv").mkdir()
    assert refused(tmp_path / "folder.csv") == "not-a-file"
    assert refused(Path("/dev/zero")) == "not-a-file"


def test_a_kmz_that_unpacks_without_end_is_refused(refused: Refused, tmp_path: Path) -> None:
    path = tmp_path / "bomb.kmz"
    with (
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
        archive.open("doc.kml", "w") as entry,
    ):
        entry.write(KML)
        for _ in range(600):
            entry.write(b"<!--" + b" " * (1 << 20) + b"-->")
    assert path.stat().st_size < 4_000_000
    assert refused(path) == "unpacks-too-large"


def test_a_kmz_of_a_million_entries_is_refused(refused: Refused, tmp_path: Path) -> None:
    one = io.BytesIO()
    with zipfile.ZipFile(one, "w") as archive:
        archive.writestr("a", b"")
    content = one.getvalue()
    at = content.index(b"PK\x01\x02")
    local, central, end = content[:at], content[at:-22], bytearray(content[-22:])
    count = (1 << 25) // len(central)
    end[8:12] = b"\xff\xff\xff\xff"
    end[12:16] = (count * len(central)).to_bytes(4, "little")
    end[16:20] = len(local).to_bytes(4, "little")
    path = tmp_path / "entries.kmz"
    path.write_bytes(local + central * count + bytes(end))
    assert refused(path) == "too-many-entries"


@pytest.mark.parametrize("size", [66_000_000, 15_000_000])
@pytest.mark.parametrize(
    "words",
    [
        ("set", "apply", "FILE", "--into", "x"),
        ("check", "fix", "x", "--apply", "FILE"),
        ("task", "check", "A", "FILE"),
        ("task", "flown", "--from-file", "FILE"),
    ],
)
def test_documents_that_are_held_as_a_whole_are_refused_by_size_or_lists(
    tmp_path: Path, words: tuple[str, ...], size: int
) -> None:
    if size < 60_000_000 and words[1] == "flown":
        pytest.skip("a file of this size is read, and is no CSV of ours")
    path = tmp_path / "lists.json"
    fill(path, b"[", b"[],", size)
    done = subprocess.run(
        [sys.executable, "-m", "taskdb", *(str(path) if word == "FILE" else word for word in words), "--json"],
        env={**os.environ, "TASKDB_STORE": str(tmp_path / "store.db")},
        capture_output=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES)),
        timeout=120,
        check=False,
    )
    assert done.returncode == ExitCode.INPUT_UNUSABLE, done.stdout
    assert json.loads(done.stdout)["error"]["code"] == "file-too-large"
