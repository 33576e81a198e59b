"""Folders and zips of flight logs that were made to harm: each is refused or told, and the rest is read."""

from __future__ import annotations

import io
import os
import zipfile
import zlib
from pathlib import Path

import pytest

from taskdb.errors import InputError, NotFoundError
from taskdb.files import gathering
from taskdb.files.gathering import gather
from taskdb.services.logs import read_logs
from tests.logbook import flight, written, zipped

LIMIT = 100_000
LOG = flight(legs=1, interval_s=40.0)


def names(paths) -> list[tuple[str, bool]]:
    return [(one.name, one.content is not None) for one in gather([str(path) for path in paths], ".igc", LIMIT)]


def test_files_come_in_order_and_hidden_ones_do_not(tmp_path):
    written(tmp_path / "logs" / "b", {"2.igc": LOG, "10.IGC": LOG, ".3.igc": LOG, "notes.txt": b"x"})
    written(tmp_path / "logs" / "a", {"9.igc": LOG})
    written(tmp_path / "logs" / ".hidden", {"8.igc": LOG})
    assert names([tmp_path / "logs"]) == [("9.igc", True), ("10.IGC", True), ("2.igc", True)]


def test_entries_that_lead_out_of_a_zip_are_read_and_never_written(tmp_path):
    path = tmp_path / "out.zip"
    with zipfile.ZipFile(path, "w") as archive:
        for name in ("../../up.igc", "/etc/root.igc", "C:\\\\far.igc", "__MACOSX/._a.igc", "folder.igc/", "a.igc"):
            archive.writestr(name, LOG)
    assert [name for name, _ in names([path])] == ["up.igc", "root.igc", "far.igc", "a.igc"]
    assert sorted(tmp_path.iterdir()) == [path]


def test_an_entry_that_unpacks_without_end_is_told_and_the_next_one_read(tmp_path):
    path = tmp_path / "bomb.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("1.igc", b"B" * 50_000_000)
        archive.writestr("2.igc", LOG)
    assert path.stat().st_size < LIMIT
    assert names([path]) == [("1.igc", False), ("2.igc", True)]


def test_an_entry_whose_size_is_a_lie_is_bounded_as_it_unpacks(tmp_path):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("1.igc", b"B" * 5_000_000)
    true, lie = (size.to_bytes(4, "little") for size in (5_000_000, 10))
    content = packed.getvalue()
    assert content.count(true) == 2
    (tmp_path / "lie.zip").write_bytes(content.replace(true, lie))
    assert names([tmp_path / "lie.zip"]) == [("1.igc", False)]


def test_spoilt_and_locked_entries_are_told(tmp_path):
    path = zipped(tmp_path / "spoilt.zip", {"1.igc": LOG})
    content = bytearray(path.read_bytes())
    content[80:120] = bytes(40)
    path.write_bytes(bytes(content))
    locked = bytearray(zipped(tmp_path / "locked.zip", {"1.igc": LOG}).read_bytes())
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        locked[locked.find(mark) + offset] |= 1
    (tmp_path / "locked.zip").write_bytes(bytes(locked))
    assert names([path, tmp_path / "locked.zip"]) == [("1.igc", False), ("1.igc", False)]
    with pytest.raises(InputError, match="None of 2 logs can be read"):
        list(read_logs([str(path), str(tmp_path / "locked.zip")]))


def test_zips_in_a_folder_are_opened_and_what_is_not_opened_is_told(tmp_path):
    logs = written(tmp_path / "logs", {"2.igc": LOG, "5.zip": b"PK no zip", "notes.txt": b"x"})
    zipped(logs / "1.zip", {"day/b.igc": LOG, "a.igc": LOG, "inner.zip": b"PK", ".hidden.zip": b"PK"})
    zipped(logs / "3.ZIP", {"c.igc": LOG, "readme.txt": b"x"})
    told = list(gather([str(logs)], ".igc", LIMIT))
    assert [(one.name, one.content is not None) for one in told] == [
        ("b.igc", True), ("a.igc", True), ("inner.zip", False), ("2.igc", True), ("c.igc", True), ("5.zip", False)
    ]  # fmt: skip
    assert [(one.number, one.total) for one in told] == [(n, 6) for n in range(1, 7)]
    assert [one.error.message for one in told if one.error is not None] == [
        "It is a zip within a zip.", "It cannot be opened as a zip."
    ]  # fmt: skip


def test_what_is_no_zip_or_is_not_there_is_refused_before_anything_is_read(tmp_path):
    (tmp_path / "no.zip").write_bytes(zlib.compress(LOG))
    with pytest.raises(InputError, match="is no zip"):
        names([tmp_path / "no.zip"])
    logs = written(tmp_path / "logs", {"1.igc": LOG})
    with pytest.raises(NotFoundError):
        names([logs, tmp_path / "none.igc"])
    with pytest.raises(InputError, match=r"There is no \.igc file"):
        names([written(tmp_path / "empty", {"a.txt": b"x"})])
    os.mkfifo(tmp_path / "pipe.igc")
    with pytest.raises(InputError, match="pipe or a device"):
        names([tmp_path / "pipe.igc"])


def test_more_files_than_a_season_has_are_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(gathering, "MOST_FILES", 2)
    logs = written(tmp_path / "logs", {f"{n}.igc": b"" for n in range(3)})
    with pytest.raises(InputError, match="above the limit of 2"):
        names([logs])


def test_a_link_out_of_a_folder_is_read_as_the_file_it_leads_to_and_a_ring_is_not_followed(tmp_path):
    logs = written(tmp_path / "logs", {"1.igc": LOG})
    (logs / "ring").symlink_to(logs, target_is_directory=True)
    assert names([logs]) == [("1.igc", True)]


def test_a_file_that_grew_beyond_the_limit_is_told_without_its_path(tmp_path):
    logs = written(tmp_path / "logs", {"1.igc": b"B" * (LIMIT + 1), "2.igc": LOG})
    told = list(gather([str(logs)], ".igc", LIMIT))
    assert [(one.name, one.content is None) for one in told] == [("1.igc", True), ("2.igc", False)]
    assert told[0].error is not None and str(logs) not in told[0].error.message
    assert Path(logs).is_dir()
