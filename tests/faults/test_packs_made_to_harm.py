"""Zips, folders and targets that somebody made to fill the memory, to hang a command, or to lead a file elsewhere."""

from __future__ import annotations

import io
import json
import os
import signal
import stat
import struct
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from taskdb.errors import InputError, RefusedError
from taskdb.files.pack import MANIFEST, PackedFile, verify_pack, write_pack
from taskdb.files.writing import write_file
from taskdb.untrusted.zip_directory import directory_bytes

pytestmark = pytest.mark.slow

A = PackedFile("a.gpx", b"new", "gpx")


@pytest.fixture(autouse=True)
def not_waited_for() -> Iterator[None]:
    """Whoever waits for a pipe or reads a device without end fails after five seconds."""

    def stop(*_: object) -> None:
        raise AssertionError("hangs")

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, 5)
    yield
    signal.setitimer(signal.ITIMER_REAL, 0)
    signal.signal(signal.SIGALRM, before)


def entries_without_end(count: int = 400_000) -> bytes:
    """A zip whose list names the same empty entry so many times, as no library writes it: 46 bytes and a name each."""
    one = io.BytesIO()
    with zipfile.ZipFile(one, "w") as archive:
        archive.writestr("a", b"")
    content = one.getvalue()
    at = content.index(b"PK\x01\x02")
    local, central, end = content[:at], content[at:-22], bytearray(content[-22:])
    end[8:12] = b"\xff\xff\xff\xff"
    end[12:16] = struct.pack("<L", count * len(central))
    end[16:20] = struct.pack("<L", len(local))
    return local + central * count + bytes(end)


def with_a_second_mark(content: bytes) -> bytes:
    """The same with a mark among the numbers of disks, which readers leave aside: a search from behind stops there."""
    return content[:-18] + b"PK\x05\x06" + content[-14:]


def with_sizes_of_64_bits(content: bytes) -> bytes:
    """The same with an innocent last record: the size stands in one of 64 bits, which counts where there is one."""
    end = bytearray(content[-22:])
    size, offset = struct.unpack("<LL", end[12:20])
    record = b"PK\x06\x06" + struct.pack("<QHHLLQQQQ", 44, 45, 45, 0, 0, 1, 1, size, offset)
    locator = b"PK\x06\x07" + struct.pack("<LQL", 0, len(content) - 22, 1)
    end[12:16] = struct.pack("<L", 100)
    return content[:-22] + record + locator + bytes(end)


@pytest.mark.parametrize("made", [bytes, with_a_second_mark, with_sizes_of_64_bits])
def test_a_zip_of_entries_without_end_is_refused_before_its_list_is_read(
    tmp_path: Path, made: Callable[[bytes], bytes]
) -> None:
    path = tmp_path / "entries.zip"
    path.write_bytes(made(entries_without_end()))
    with zipfile.ZipFile(io.BytesIO(made(entries_without_end(3)))) as archive:
        assert len(archive.namelist()) == 3, "the library takes it: the attack is real"
    with pytest.raises(InputError) as refused:
        verify_pack(path)
    assert refused.value.code == "too-many-entries"
    with pytest.raises(RefusedError):
        write_pack(path, [A])


def test_the_size_of_a_list_of_entries_is_read_as_the_library_reads_it() -> None:
    for count in (0, 1, 300):
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w") as archive:
            archive.comment = b"said by hand"
            for i in range(count):
                archive.writestr(f"file {i}", b"x")
            begun = archive.start_dir
        assert directory_bytes(packed.getvalue()) == len(packed.getvalue()) - 22 - len(b"said by hand") - begun
    assert directory_bytes(b"no zip at all") == 0


@pytest.mark.parametrize("kind", ["pipe", "device"])
def test_a_pack_that_is_a_pipe_or_device_is_refused_and_not_waited_for(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "out.zip"
    if kind == "pipe":
        os.mkfifo(path)
    else:
        path.symlink_to("/dev/zero")
    with pytest.raises(InputError):
        verify_pack(path)
    for overwrite in (False, True):
        with pytest.raises(RefusedError):
            write_pack(path, [A], overwrite=overwrite)


def test_pipes_in_a_folder_that_is_verified_are_not_waited_for(tmp_path: Path) -> None:
    write_pack(tmp_path, [A])
    os.mkfifo(tmp_path / "b.gpx")
    assert verify_pack(tmp_path) == []
    (tmp_path / "a.gpx").unlink()
    os.mkfifo(tmp_path / "a.gpx")
    assert [found.kind for found in verify_pack(tmp_path)] == ["missing"]
    (tmp_path / MANIFEST).unlink()
    os.mkfifo(tmp_path / MANIFEST)
    with pytest.raises(InputError):
        verify_pack(tmp_path)


@pytest.mark.parametrize("overwrite", [False, True])
def test_a_folder_within_the_target_that_is_a_link_is_not_written_into(tmp_path: Path, overwrite: bool) -> None:
    elsewhere, target = tmp_path / "elsewhere", tmp_path / "in"
    elsewhere.mkdir()
    target.mkdir()
    (target / "sub").symlink_to(elsewhere, target_is_directory=True)
    with pytest.raises(RefusedError) as refused:
        write_pack(target, [A, PackedFile("sub/b.gpx", b"x", "gpx")], overwrite=overwrite)
    assert refused.value.code == "link-in-target"
    assert list(elsewhere.iterdir()) == []
    assert [path.name for path in target.iterdir()] == ["sub"]


@pytest.mark.parametrize(
    ("listed", "told"),
    [
        ('{"schema":"taskdb.manifest/1","files":' + "[" * 100_000, None),
        ('{"schema":"taskdb.manifest/1","files":[{"path":1,"sha256":"x"}]}', None),
        ('{"schema":"taskdb.manifest/1","files":[[1,2]]}', None),
        ('{"schema":"taskdb.manifest/1","files":{"path":"a"}}', None),
        ('{"schema":"taskdb.manifest/1","files":[{"path":"x\\u0000","sha256":"x","bytes":1e999}]}', "missing"),
        ('{"schema":"taskdb.manifest/1","files":[{"path":"../../../../etc/hostname","sha256":"x"}]}', "missing"),
    ],
)
@pytest.mark.parametrize("in_zip", [False, True])
def test_a_manifest_that_is_none_of_ours_is_refused_and_one_that_leads_out_not_followed(
    tmp_path: Path, listed: str, told: str | None, in_zip: bool
) -> None:
    target = tmp_path / ("x.zip" if in_zip else "x")
    if in_zip:
        with zipfile.ZipFile(target, "w") as archive:
            archive.writestr(MANIFEST, listed)
            archive.writestr("../../../../etc/hostname", "x")
    else:
        target.mkdir()
        (target / MANIFEST).write_text(listed)
    if told is None:
        with pytest.raises(InputError):
            verify_pack(target)
    else:
        assert [f.kind for f in verify_pack(target) if f.kind != "unlisted"] == [told]


def test_what_is_being_written_is_private_and_what_was_written_has_the_users_rights(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: set[int] = set()
    names: list[str] = []
    real = os.fsync

    def look(descriptor: int) -> None:
        mode = os.fstat(descriptor).st_mode
        if stat.S_ISREG(mode):
            seen.add(stat.S_IMODE(mode))
            names.extend(p.name for p in tmp_path.rglob(".taskdb-*"))
        real(descriptor)

    monkeypatch.setattr(os, "fsync", look)
    before = os.umask(0o022)
    try:
        for target in (tmp_path / "x.csv", tmp_path / "y.csv"):
            write_file(target, b"one")
        write_pack(tmp_path, [A])
        assert {p.name: stat.S_IMODE(p.stat().st_mode) for p in tmp_path.iterdir()} == {
            "x.csv": 0o644, "y.csv": 0o644, "a.gpx": 0o644, MANIFEST: 0o644,
        }  # fmt: skip
        for name in ("x.csv", "a.gpx"):
            (tmp_path / name).chmod(0o640)
        write_file(tmp_path / "x.csv", b"two")
        write_pack(tmp_path, [A])
    finally:
        os.umask(before)
    assert seen == {0o600}
    assert {stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("x.csv", "a.gpx")} == {0o640}
    assert len(set(names)) >= 5, "a new name each time, in the target's folder"


def test_a_manifest_keeps_no_entry_that_leads_out(tmp_path: Path) -> None:
    (tmp_path / "secret").write_bytes(b"x")
    target = tmp_path / "in"
    target.mkdir()
    entry = {"path": "../secret", "format": "gpx", "bytes": 1, "sha256": "0" * 64, "lost": []}
    (target / MANIFEST).write_text(json.dumps({"schema": "taskdb.manifest/1", "files": [entry]}))
    write_pack(target, [A])
    assert [one["path"] for one in json.loads((target / MANIFEST).read_text())["files"]] == ["a.gpx"]
