"""What a killed command left behind goes with the next one, what may be in use stays; half swaps are put back."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from taskdb.disk import private
from taskdb.disk.private import STRAY_AFTER_S, clear_left_behind, private_folder
from taskdb.errors import RefusedError
from taskdb.files.pack import PackedFile, verify_pack, write_pack
from taskdb.files.writing import write_file
from tests.faults.boundary import Boundary, counted, failing

pytestmark = pytest.mark.skipif(os.name != "posix", reason="locks and forks as on POSIX")

HOLDER = """
import sys, time
from pathlib import Path
from taskdb.disk.private import private_folder
with private_folder(Path(sys.argv[1])) as own:
    (own / "new").write_bytes(b"half")
    print(own.name, flush=True)
    time.sleep(60)
"""


@contextmanager
def another_writer(folder: Path) -> Iterator[tuple[subprocess.Popen[str], Path]]:
    """Yield a process that writes into a folder, and its private folder there."""
    with subprocess.Popen([sys.executable, "-c", HOLDER, str(folder)], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        own = folder / process.stdout.readline().strip()
        try:
            yield process, own
        finally:
            process.kill()


def age(folder: Path, seconds: float) -> None:
    """Date a folder and what is in it back (or, where negative, ahead)."""
    then = time.time() - seconds
    for path in (*folder.iterdir(), folder):
        os.utime(path, (then, then))


DAY_S = 86_400.0


@pytest.mark.parametrize("seconds", [0.0, 30 * DAY_S, -30 * DAY_S])
def test_what_is_in_use_stays_whatever_the_clock_says_and_goes_when_its_owner_was_killed(
    tmp_path: Path, seconds: float
) -> None:
    with another_writer(tmp_path) as (process, own):
        age(own, seconds)
        write_file(tmp_path / "x.csv", b"new")
        assert own.exists(), "a file in use was taken away"
        process.send_signal(signal.SIGKILL)
        process.wait()
        age(own, seconds)
        write_file(tmp_path / "x.csv", b"newer")
    assert [path.name for path in tmp_path.iterdir()] == ["x.csv"]


def left_by(kernel: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Leave behind what a machine that was switched off would."""
    with monkeypatch.context() as patch:
        patch.setattr(private, "_kernel", lambda: kernel)
        own, lock = private._made(folder)
    os.close(lock)
    return own


@pytest.mark.parametrize(
    ("seconds", "stays"), [(0.0, True), (STRAY_AFTER_S - 60, True), (STRAY_AFTER_S + 60, False), (-2 * DAY_S, False)]
)
def test_what_another_machine_left_goes_only_when_it_has_not_been_touched_for_long(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seconds: float, stays: bool
) -> None:
    own = left_by("00000001", tmp_path, monkeypatch)
    age(own, seconds)
    clear_left_behind(tmp_path)
    assert own.exists() is stays


def test_where_the_file_system_has_no_locks_only_what_is_old_goes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(private.fcntl, "flock", lambda *_: failing(errno.ENOLCK)(""))
    young, old = (left_by(private._kernel(), tmp_path, monkeypatch) for _ in range(2))
    age(old, STRAY_AFTER_S + 60)
    write_file(tmp_path / "x.csv", b"new")
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([young.name, "x.csv"])


def test_where_nothing_may_be_written_nothing_is_cleared_and_nothing_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = left_by(private._kernel(), tmp_path, monkeypatch)
    with counted(Boundary(1, failing(errno.EROFS))):
        clear_left_behind(tmp_path)
    assert own.exists()
    clear_left_behind(tmp_path / "nowhere")


def test_a_private_folder_is_taken_from_nobody_while_it_is_being_made(tmp_path: Path) -> None:
    with private_folder(tmp_path) as one, private_folder(tmp_path) as two:
        assert one.exists() and two.exists()
    assert list(tmp_path.iterdir()) == []


# -- swaps that were killed -------------------------------------------------------------------------------------------

BEFORE = [
    PackedFile("a.gpx", b"old a", "gpx"),
    PackedFile("b.csv", b"old b", "csv"),
    PackedFile("c/d.csv", b"d", "csv"),
]
AFTER = [PackedFile("a.gpx", b"new a", "gpx"), PackedFile("b.csv", b"new b", "csv"), PackedFile("e/f.csv", b"f", "csv")]


def there(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and not path.relative_to(folder).parts[0].startswith(".taskdb-")
    }


def end_at(folder: Path, step: int) -> bool:
    """Publish in a process that ends at a call of the system as if it were killed; say whether it came so far."""
    child = os.fork()
    if child == 0:
        with counted(Boundary(step, lambda _: os._exit(9))):
            write_pack(folder, AFTER, whole=True)
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9


def test_a_swap_that_was_killed_at_any_call_is_put_back_by_the_next_writer(tmp_path: Path) -> None:
    write_pack(tmp_path / "wanted", AFTER)
    after = there(tmp_path / "wanted")
    halves = 0
    for step in range(1, 200):
        folder = tmp_path / f"at-{step}"
        write_pack(folder, BEFORE)
        before = there(folder)
        if not end_at(folder, step):
            break
        halves += there(folder) not in (before, after)
        clear_left_behind(folder)
        assert there(folder) in (before, after), f"ended at call {step}"
        assert verify_pack(folder) == []
        write_pack(folder, AFTER, whole=True)  # unasked: nothing is told to be foreign or changed by hand
        assert there(folder) == after
        assert [path.name for path in folder.iterdir() if path.name.startswith(".")] == []
    assert step > 30 and halves > 5


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO])
def test_a_pack_that_fails_at_any_call_leaves_its_folder_as_it_was(tmp_path: Path, number: int) -> None:
    write_pack(tmp_path / "wanted", AFTER)
    after = there(tmp_path / "wanted")
    for step in range(1, 200):
        folder = tmp_path / f"at-{step}"
        write_pack(folder, BEFORE)
        before = there(folder)
        boundary = Boundary(step, failing(number))
        try:
            with counted(boundary):
                write_pack(folder, AFTER, whole=True)
        except RefusedError as refused:
            assert there(folder) == before, f"{boundary.fell} at call {step}"
            assert refused.details["reason"] == errno.errorcode[number]
        else:
            assert there(folder) == after, f"{boundary.fell} at call {step}"
        clear_left_behind(folder)
        assert verify_pack(folder) == []
        assert [path.name for path in folder.iterdir() if path.name.startswith(".")] == []
        if not boundary.fell:
            break
    assert step > 30


def test_what_was_changed_since_is_not_put_back(tmp_path: Path) -> None:
    folder = tmp_path / "x"
    write_pack(folder, BEFORE)
    steps = [step for step in range(1, 60) if end_and_forget(folder, step)]
    assert len(steps) > 2
    for step in steps[:3]:
        write_pack(folder, BEFORE, overwrite=True, whole=True)
        end_at(folder, step)
        (folder / "a.gpx").write_bytes(b"mended by hand")
        clear_left_behind(folder)
        assert (folder / "a.gpx").read_bytes() == b"mended by hand"


def end_and_forget(folder: Path, step: int) -> bool:
    """Say whether an end at this call leaves `a.gpx` swapped; the folder is as before afterwards."""
    end_at(folder, step)
    is_swapped = (folder / "a.gpx").read_bytes() == b"new a"
    clear_left_behind(folder)
    write_pack(folder, BEFORE, overwrite=True, whole=True)
    return is_swapped


@pytest.mark.parametrize("path", ["../secret", "sub/../../secret", "/secret", "link/secret"])
def test_a_plan_that_leads_out_of_its_folder_is_not_followed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    target = tmp_path / "in"
    target.mkdir()
    (tmp_path / "secret").write_bytes(b"x")
    (target / "link").symlink_to(tmp_path)
    own = left_by(private._kernel(), target, monkeypatch)
    swaps = [{"path": path, "sha256": hashlib.sha256(b"x").hexdigest(), "stood": False}]
    (own / "plan.json").write_text(json.dumps(swaps))
    clear_left_behind(target)
    assert (tmp_path / "secret").read_bytes() == b"x"
    assert not own.exists()


@pytest.mark.parametrize("content", ["", "[", "{}", "[1]", '[{"path": 1}]', "[" * 100_000])
def test_a_plan_that_cannot_be_read_is_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, content: str
) -> None:
    own = left_by(private._kernel(), tmp_path, monkeypatch)
    (own / "plan.json").write_text(content)
    clear_left_behind(tmp_path)
    assert list(tmp_path.iterdir()) == []
