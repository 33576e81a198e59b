"""Files on the disk: opened with limits, written whole or not at all, safely named, packed and verified."""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, strategies as st

import taskdb.files.staging as staging_module
from taskdb.errors import ExitCode, InputError, NotFoundError, RefusedError
from taskdb.files.pack import MANIFEST, PackedFile, verify_pack, write_pack
from taskdb.files.reading import open_input
from taskdb.files.safe_names import safe_name, safe_names
from taskdb.files.writing import write_file

A = PackedFile("a.gpx", b"<gpx/>", "gpx", task="A")
B = PackedFile("b.csv", b"code\r\n", "csv", set="region@1", lost=("extras",))


def snapshot(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


# Reading


def test_a_missing_file_is_not_found_and_the_folder_is_looked_at(tmp_path: Path) -> None:
    (tmp_path / "points.csv").write_text("x")
    with pytest.raises(NotFoundError) as refused:
        open_input(tmp_path / "point.csv")
    assert refused.value.exit_code is ExitCode.NOT_FOUND
    assert "points.csv" in (refused.value.hint or "")


def test_a_folder_a_pipe_and_a_device_are_refused_without_waiting(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (tmp_path, pipe, Path("/dev/null")):
        with pytest.raises(InputError) as refused:
            open_input(path)
        assert refused.value.code == "not-a-file"


def test_a_file_above_the_limit_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "big.csv"
    path.write_bytes(b"x" * 11)
    with pytest.raises(InputError) as refused:
        open_input(path, 10)
    assert refused.value.code == "file-too-large"
    with open_input(path, 11) as stream:
        assert stream.read() == b"x" * 11


# Writing


def test_a_file_is_replaced_whole_and_keeps_its_rights(tmp_path: Path) -> None:
    path = tmp_path / "out.csv"
    path.write_bytes(b"old")
    path.chmod(0o640)
    write_file(path, b"new")
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o640
    assert list(snapshot(tmp_path)) == ["out.csv"]


def test_a_failure_leaves_the_old_file_and_nothing_beside_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "out.csv"
    path.write_bytes(b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(RefusedError) as refused:
        write_file(path, b"new")
    assert "No space left" in refused.value.message
    assert snapshot(tmp_path) == {"out.csv": b"old"}


def test_a_folder_or_a_missing_folder_cannot_be_written(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none" / "x.csv"):
        with pytest.raises(RefusedError):
            write_file(path, b"x")


# Names


@given(st.text(max_size=300))
def test_any_text_gives_a_name_that_stays_in_its_folder(text: str) -> None:
    name = safe_name(text)
    assert name and name == name.strip(" .") and len(name) <= 100
    assert not set(name) & set('/\\:*?"<>|\x00')
    assert len(name.encode()) <= 190
    assert not name.startswith((".", "-"))


@given(st.lists(st.text(max_size=5), max_size=12))
def test_names_differ_whatever_the_case(texts: list[str]) -> None:
    names = safe_names(texts)
    assert len({name.casefold() for name in names}) == len(texts)


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("../../etc/passwd", "_.._etc_passwd"),
        ("CON", "_CON"),
        ("com1.txt", "_com1.txt"),
        ("Day 1: A/B", "Day 1_ A_B"),
        ("trailing. ", "trailing"),
        ("", "unnamed"),
        ("...", "unnamed"),
        ("Zürich", "Zürich"),
    ],
)
def test_names_are_made_safe(name: str, safe: str) -> None:
    assert safe_name(name) == safe


def test_names_that_clash_are_numbered() -> None:
    assert safe_names(["Day", "day", "DAY", "Day-2"]) == ("Day", "day-2", "DAY-3", "Day-2-2")


# Packs


def test_a_folder_is_made_with_its_manifest(tmp_path: Path) -> None:
    target = tmp_path / "new" / "out"
    pack = write_pack(target, [B, A])
    manifest = json.loads((target / MANIFEST).read_text())
    assert [f.path for f in pack.files] == ["a.gpx", "b.csv"]
    assert manifest["files"][1] == {
        "path": "b.csv",
        "format": "csv",
        "bytes": 6,
        "sha256": hashlib.sha256(b"code\r\n").hexdigest(),
        "set": "region@1",
        "lost": ["extras"],
    }
    assert verify_pack(target) == []
    assert sorted(snapshot(target)) == [MANIFEST, "a.gpx", "b.csv"]


def test_a_zip_is_the_same_bytes_every_time_and_stored(tmp_path: Path) -> None:
    first, second = tmp_path / "1.zip", tmp_path / "2.ZIP"
    write_pack(first, [A, B])
    write_pack(second, [B, A])
    assert first.read_bytes() == second.read_bytes()
    with zipfile.ZipFile(first) as archive:
        assert {i.compress_type for i in archive.infolist()} == {zipfile.ZIP_STORED}
        assert archive.namelist() == ["a.gpx", "b.csv", MANIFEST]
        assert archive.testzip() is None
    assert verify_pack(first) == []


def test_a_file_that_the_manifest_does_not_list_is_not_written_over(tmp_path: Path) -> None:
    (tmp_path / "a.gpx").write_bytes(b"mine")
    before = snapshot(tmp_path)
    with pytest.raises(RefusedError) as refused:
        write_pack(tmp_path, [A, B])
    assert refused.value.code == "file-exists" and refused.value.details["files"] == ["a.gpx"]
    assert snapshot(tmp_path) == before
    write_pack(tmp_path, [A, B], overwrite=True)
    assert (tmp_path / "a.gpx").read_bytes() == A.content


def test_what_the_manifest_lists_is_replaced_and_the_rest_stays_listed(tmp_path: Path) -> None:
    write_pack(tmp_path, [A, B])
    write_pack(tmp_path, [PackedFile("a.gpx", b"<gpx>2</gpx>", "gpx", task="A")])
    assert verify_pack(tmp_path) == []
    assert {e["path"] for e in json.loads((tmp_path / MANIFEST).read_text())["files"]} == {"a.gpx", "b.csv"}


def test_a_foreign_zip_is_not_written_over(tmp_path: Path) -> None:
    target = tmp_path / "x.zip"
    with zipfile.ZipFile(target, "w") as archive:
        archive.writestr("letter.txt", "dear")
    before = target.read_bytes()
    with pytest.raises(RefusedError):
        write_pack(target, [A])
    assert target.read_bytes() == before
    write_pack(target, [A], overwrite=True)
    write_pack(target, [B])
    assert verify_pack(target) == []


@pytest.mark.parametrize("fail_at", range(1, 5))
def test_a_failure_on_the_way_leaves_the_folder_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fail_at: int
) -> None:
    write_pack(tmp_path, [A])
    before = snapshot(tmp_path)
    real, calls = Path.replace, [0]

    def failing(self: Path, target: Path) -> Path:
        calls[0] += 1
        if calls[0] == fail_at:
            raise OSError(5, "Input/output error")
        return real(self, target)

    monkeypatch.setattr(Path, "replace", failing)
    with pytest.raises(RefusedError):
        write_pack(tmp_path, [PackedFile("a.gpx", b"changed", "gpx"), PackedFile("sub/c.gpx", b"c", "gpx"), B])
    assert snapshot(tmp_path) == before
    assert not (tmp_path / "sub").exists()


def test_a_failure_takes_away_the_folder_that_was_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(staging_module, "_stage", broken)
    with pytest.raises(RefusedError):
        write_pack(tmp_path / "a" / "b", [A])
    assert not (tmp_path / "a").exists()


def test_verifying_names_what_is_missing_changed_or_was_not_exported(tmp_path: Path) -> None:
    write_pack(tmp_path, [A, B])
    (tmp_path / "a.gpx").write_bytes(b"other")
    (tmp_path / "b.csv").unlink()
    (tmp_path / "old.gpx").write_bytes(b"stray")
    (tmp_path / "notes.txt").write_bytes(b"no task")
    found = [(d.path, d.kind) for d in verify_pack(tmp_path)]
    strays = [("notes.txt", "unlisted"), ("old.gpx", "unlisted")]
    assert found == [("a.gpx", "changed"), ("b.csv", "missing"), *strays]


def test_what_is_written_whole_takes_away_what_the_manifest_lists_besides(tmp_path: Path) -> None:
    inner = PackedFile("old/c.gpx", b"three", "gpx")
    write_pack(tmp_path, [A, B, inner])
    (tmp_path / "own.txt").write_bytes(b"somebody's own")
    assert {e.path for e in write_pack(tmp_path, [A], whole=True).files} == {"a.gpx"}
    assert sorted(path.name for path in tmp_path.iterdir()) == ["MANIFEST.json", "a.gpx", "own.txt"]
    assert [(d.path, d.kind) for d in verify_pack(tmp_path)] == [("own.txt", "unlisted")]


def test_what_was_changed_by_hand_is_not_taken_away_unasked(tmp_path: Path) -> None:
    write_pack(tmp_path, [A, B])
    (tmp_path / "b.csv").write_bytes(b"mended by hand")
    with pytest.raises(RefusedError) as refused:
        write_pack(tmp_path, [A], whole=True)
    assert refused.value.details["files"] == ["b.csv"]
    assert (tmp_path / "b.csv").read_bytes() == b"mended by hand"
    write_pack(tmp_path, [A], whole=True, overwrite=True)
    assert not (tmp_path / "b.csv").exists()


def test_a_list_that_leads_elsewhere_takes_nothing_away_there(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    (other / "c.gpx").write_bytes(b"three")
    target = tmp_path / "target"
    write_pack(target, [A, PackedFile("old/c.gpx", b"three", "gpx")])
    (target / "old/c.gpx").unlink()
    (target / "old").rmdir()
    (target / "old").symlink_to(other)
    write_pack(target, [A], whole=True)
    assert (other / "c.gpx").read_bytes() == b"three"


def test_a_failing_swap_leaves_what_was_to_be_taken_away(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from taskdb.files import staging

    write_pack(tmp_path, [A, B])

    def full(_: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(staging, "sync_folder", full)
    with pytest.raises(RefusedError):
        write_pack(tmp_path, [A], whole=True)
    assert (tmp_path / "b.csv").read_bytes() == B.content


def test_verifying_what_was_never_exported_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError):
        verify_pack(tmp_path)
    with pytest.raises(NotFoundError):
        verify_pack(tmp_path / "none")
    (tmp_path / "x.zip").write_bytes(b"no zip")
    with pytest.raises(InputError):
        verify_pack(tmp_path / "x.zip")


@pytest.mark.parametrize("path", ["../out.gpx", "/etc/x", "a//b", "MANIFEST.json", "manifest.JSON"])
def test_a_path_outside_the_target_is_refused(tmp_path: Path, path: str) -> None:
    with pytest.raises(RefusedError):
        write_pack(tmp_path, [PackedFile(path, b"x", "gpx")])
