"""Names and links that would lead a file out of its folder, and what is left behind by those who were killed."""

from __future__ import annotations

import io
import json
import os
import stat
import time
import zipfile
from pathlib import Path
from typing import Any

import pytest

from taskdb.disk import private
from taskdb.disk.private import STRAY_AFTER_S
from taskdb.errors import InputError, RefusedError
from taskdb.files.pack import MANIFEST, MANIFEST_SCHEMA, PackedFile, verify_pack, write_pack
from taskdb.files.safe_names import safe_name
from taskdb.files.writing import write_file

pytestmark = pytest.mark.slow

A = PackedFile("a.gpx", b"new", "gpx")
ROUTES_OUT = (
    "../out.gpx",
    "/out.gpx",
    "sub/../../out.gpx",
    "..\\out.gpx",
    "C:\\out.gpx",
    "C:out.gpx",
    "\\\\host\\out.gpx",
)


@pytest.mark.parametrize("path", ROUTES_OUT)
@pytest.mark.parametrize("kind", ["folder", "out.zip"])
def test_a_path_that_leaves_its_target_is_refused(tmp_path: Path, path: str, kind: str) -> None:
    with pytest.raises(RefusedError):
        write_pack(tmp_path / "in" / kind, [PackedFile(path, b"x", "gpx")])
    assert not list(tmp_path.rglob("*out.gpx"))


@pytest.mark.parametrize("name", [*ROUTES_OUT, "..", ".", "~/x", "a/b", "a\0b", "~root"])
def test_a_name_becomes_a_file_in_its_folder(tmp_path: Path, name: str) -> None:
    made = safe_name(name)
    assert (tmp_path / made).resolve().parent == tmp_path.resolve()
    assert Path(made).expanduser() == Path(made)


@pytest.mark.parametrize("path", ["../secret", "/etc/hostname", "sub/../../secret"])
def test_a_manifest_that_leads_out_of_its_folder_is_not_followed(tmp_path: Path, path: str) -> None:
    (tmp_path / "secret").write_bytes(b"x")
    target = tmp_path / "in"
    target.mkdir()
    entry = {"path": path, "format": "gpx", "bytes": 1, "sha256": "0" * 64, "lost": []}
    (target / MANIFEST).write_text(json.dumps({"schema": MANIFEST_SCHEMA, "files": [entry]}))
    (found,) = verify_pack(target)
    assert found.kind == "missing"
    write_pack(target, [A])
    assert (tmp_path / "secret").read_bytes() == b"x"


def test_a_link_among_the_files_is_replaced_and_not_written_through(tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere.txt"
    elsewhere.write_bytes(b"precious")
    target = tmp_path / "in"
    target.mkdir()
    (target / "a.gpx").symlink_to(elsewhere)
    with pytest.raises(RefusedError):
        write_pack(target, [A])
    write_pack(target, [A], overwrite=True)
    assert elsewhere.read_bytes() == b"precious"
    assert not (target / "a.gpx").is_symlink()
    assert (target / "a.gpx").read_bytes() == b"new"


def test_a_link_waiting_under_a_private_name_is_not_written_through(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.setattr("secrets.token_hex", lambda _: "guessed")
    monkeypatch.setattr(private, "_kernel", lambda: "0a1b2c3d")
    (tmp_path / f"{private.PREFIX}0a1b2c3d-guessed").symlink_to(elsewhere)
    with pytest.raises(RefusedError):
        write_file(tmp_path / "x.csv", b"new")
    assert list(elsewhere.iterdir()) == []


def test_a_link_named_as_the_target_is_followed_and_stays(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link.csv").symlink_to(tmp_path / "real" / "x.csv")
    write_file(tmp_path / "link.csv", b"new")
    assert (tmp_path / "link.csv").is_symlink()
    assert (tmp_path / "real" / "x.csv").read_bytes() == b"new"


def test_what_killed_writers_left_goes_with_the_next_one_and_nothing_else(tmp_path: Path) -> None:
    old, young, stage = tmp_path / ".taskdb-old.part", tmp_path / ".taskdb-young.part", tmp_path / ".taskdb-stage"
    own = tmp_path / ".other"
    for path in (old, young, own):
        path.write_bytes(b"half")
    stage.mkdir()
    (stage / "new-0").write_bytes(b"half")
    (tmp_path / ".taskdb-link").symlink_to(own)
    long_ago = time.time() - STRAY_AFTER_S - 1
    for path in (old, own, stage / "new-0", stage):
        os.utime(path, (long_ago, long_ago))
    os.utime(tmp_path / ".taskdb-link", (long_ago, long_ago), follow_symlinks=False)
    write_file(tmp_path / "x.csv", b"new")
    assert sorted(path.name for path in tmp_path.iterdir()) == [".other", ".taskdb-young.part", "x.csv"]


def test_a_zip_that_unpacks_without_end_is_verified_without_unpacking(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "bomb.zip"
    entry = {"path": "a.gpx", "format": "gpx", "bytes": 3, "sha256": "0" * 64, "lost": []}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(MANIFEST, json.dumps({"schema": MANIFEST_SCHEMA, "files": [entry]}))
        with archive.open("a.gpx", "w", force_zip64=True) as stream:
            for _ in range(300):
                stream.write(b" " * (1 << 20))
    opened: list[str] = []
    real = zipfile.ZipFile.open

    def opening(self: zipfile.ZipFile, name: Any, *given: Any, **named: Any) -> Any:
        opened.append(getattr(name, "filename", name))
        return real(self, name, *given, **named)

    monkeypatch.setattr(zipfile.ZipFile, "open", opening)
    (found,) = verify_pack(path)
    assert found.kind == "changed"
    assert opened == [MANIFEST]


def test_a_manifest_that_unpacks_without_end_is_none(tmp_path: Path) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive, archive.open(MANIFEST, "w") as stream:
        stream.write(json.dumps({"schema": MANIFEST_SCHEMA, "files": []}).encode())  # blanks may follow
        for _ in range(80):
            stream.write(b" " * (1 << 20))
    (tmp_path / "bomb.zip").write_bytes(packed.getvalue())
    with pytest.raises(InputError):
        verify_pack(tmp_path / "bomb.zip")


def test_private_files_are_private_while_they_are_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[int] = []
    real = os.fsync

    def look(descriptor: int) -> None:
        for path in tmp_path.rglob(".taskdb-*"):
            if path.is_dir():
                seen.append(stat.S_IMODE(path.stat().st_mode))
        real(descriptor)

    monkeypatch.setattr(os, "fsync", look)
    write_pack(tmp_path, [A])
    assert seen
    assert set(seen) == {0o700}
