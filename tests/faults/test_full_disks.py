"""A disk that is full from the k-th write on: store and targets are as they were or hold all, and the words are right.

Every fifth k or so, and others beside them each time it is run with TASKDB_TEST_SEED; every one of them takes minutes.
The calls of SQLite and those of Python count alike (`sqlite_calls`, `boundary`); all in this process. By hand the same
was seen on a small tmpfs that was filled up.
"""

from __future__ import annotations

import errno
import hashlib
import io
import shutil
import sys
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from taskdb.cli.main import main
from taskdb.disk.words import told
from taskdb.errors import ExitCode, RefusedError
from taskdb.files.writing import write_file
from taskdb.services.desk import Desk
from taskdb.services.store.verify import verify_store
from taskdb.store.dump import dump_lines
from taskdb.store.engine import open_store
from tests.faults.boundary import Boundary, counted, failing
from tests.faults.sqlite_calls import IS_HERE, counted_in_sqlite

pytestmark = [
    pytest.mark.skipif(not IS_HERE, reason="needs SQLite's library as a file of its own"),
    # A connection that is thrown away while an error is on its way calls back where Python takes no call.
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]
DEMO = Path(__file__).parents[2] / "demo"


@dataclass
class Bench:
    """A store and targets that are brought back to their first state before each try."""

    folder: Path
    kept: Path = field(init=False)

    def __post_init__(self) -> None:
        self.kept = self.folder / "kept"
        self.work = self.folder / "work"
        self.store = self.work / "store.db"

    def back(self) -> None:
        shutil.rmtree(self.work, ignore_errors=True)
        shutil.copytree(self.kept, self.work)

    def run(self, monkeypatch: pytest.MonkeyPatch, words: list[str], boundary: Boundary | None) -> tuple[int, str]:
        """Run a command in this process, its calls passing the boundary; return its exit code and what it says."""
        said = io.StringIO()
        with monkeypatch.context() as patch, ExitStack() as stack:
            patch.setenv("TASKDB_STORE", str(self.store))
            patch.setenv("TASKDB_AUTHOR", "Ann")
            patch.setenv("TASKDB_CACHE", str(self.work / "cache"))
            patch.setattr(sys, "stdout", said)
            patch.setattr(sys, "stderr", said)
            if boundary is not None:
                stack.enter_context(counted_in_sqlite(boundary))
                stack.enter_context(counted(boundary))
            return int(main(words)), said.getvalue()

    def held(self) -> str:
        """Return what the store holds, as a digest; it must be whole."""
        assert verify_store(Desk(str(self.store), "Ann")).total == 0
        with open_store(str(self.store)).reading() as c:
            return hashlib.sha256(b"".join(dump_lines(c))).hexdigest()

    def targets(self) -> dict[str, bytes]:
        """Return the files beside the store, without what is only ours for a while."""
        return {
            path.relative_to(self.work).as_posix(): path.read_bytes()
            for path in sorted((self.work / "out").rglob("*"))
            if path.is_file() and not any(part.startswith(".taskdb-") for part in path.parts)
        }


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    made = Bench(tmp_path_factory.mktemp("full"))
    (made.work / "out").mkdir(parents=True)
    with pytest.MonkeyPatch.context() as patch:
        for words in (
            ["set", "import", str(DEMO / "region.csv"), "--into", "region"],
            ["task", "new", "A", "001", "003", "004", "001", "--set", "region"],
            ["set", "export", "region", "--format", "csv", "--to", str(made.work / "out/x.csv")],
            ["export", "task", "A", "--format", "gpx,csv", "--to", str(made.work / "out/tasks")],
            ["store", "dump", str(made.work / "out/dump")],
            ["store", "backup", str(made.work / "out/backup.db")],
            ["waypoint", "edit", "region:001", "--name", "Before"],
            ["task", "refresh", "A"],
        ):
            code, said = made.run(patch, words, None)
            assert code == ExitCode.DONE, said
    made.work.rename(made.kept)
    return made


STORE_WRITES = {
    "edit": (["waypoint", "edit", "region:001", "--name", "After"], 5),
    "replace, with its backup": (
        ["set", "import", str(DEMO / "mends.csv"), "--into", "region", "--mode", "replace", "--yes"], 29,
    ),
    "undo": (["undo"], 23),
}  # fmt: skip


def first_fault(words: list[str], bench: Bench, monkeypatch: pytest.MonkeyPatch, step: int) -> Boundary:
    """Return how a command ends whose call number `step` meets a full disk, and all those behind it."""
    boundary = Boundary(step, failing(errno.ENOSPC), and_after=True)
    bench.back()
    before, targets = bench.held(), bench.targets()
    code, said = bench.run(monkeypatch, words, boundary)
    at = f"{boundary.fell} as call {step}: {code} {said}"
    assert code in (ExitCode.DONE, ExitCode.REFUSED, ExitCode.STORE_UNUSABLE), at
    assert "bug" not in said and "damaged" not in said, at
    if code != ExitCode.DONE:
        assert "full" in said or "disk failed" in said or "cannot be opened" in said, at
        assert "hint:" in said and ("free space" in said or "room" in said), at
        assert bench.held() == before, at
        assert bench.targets() == targets, at
    elif "--to" not in words:
        assert bench.held() != before or words[0] == "store", at
    again, said = bench.run(monkeypatch, words, None)
    assert again in (ExitCode.DONE, ExitCode.REFUSED), f"the next command, {at}: {said}"
    assert not list(bench.work.rglob(".taskdb-*")), at
    return boundary


@pytest.mark.slow
@pytest.mark.parametrize("kind", sorted(STORE_WRITES))
def test_a_disk_that_is_full_from_the_kth_write_on_keeps_the_store_and_says_why(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, kind: str, seed: int
) -> None:
    words, stride = STORE_WRITES[kind]
    step, tries = 1 + seed % stride, 1
    while first_fault(words, bench, monkeypatch, step).fell:
        step, tries = step + stride, tries + 1
    assert tries > 3


TARGET_WRITES = {
    "backup": ["store", "backup", "OUT/backup.db", "--yes"],
    "dump": ["store", "dump", "OUT/dump", "--yes"],
    "export": ["set", "export", "region", "--format", "csv", "--to", "OUT/x.csv", "--yes"],
    "tasks": ["export", "task", "A", "--format", "gpx,csv", "--to", "OUT/tasks"],
    "zip": ["export", "task", "A", "--format", "gpx,csv", "--to", "OUT/tasks.zip", "--yes"],
}


@pytest.mark.slow
@pytest.mark.parametrize("kind", sorted(TARGET_WRITES))
def test_a_disk_that_is_full_from_the_kth_write_on_keeps_the_older_target_and_says_why(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, kind: str, seed: int
) -> None:
    words = [word.replace("OUT", str(bench.work / "out")) for word in TARGET_WRITES[kind]]
    tries = 1
    stride = {"backup": 19, "dump": 60}.get(kind, 3)
    step = 1 + seed % stride
    while first_fault(words, bench, monkeypatch, step).fell:
        step, tries = step + stride, tries + 1
    assert tries > 3


@pytest.mark.slow
def test_a_disk_that_is_full_at_the_first_write_leaves_no_store_that_is_half(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = ["set", "import", str(DEMO / "region.csv"), "--into", "region"]
    for step in range(1, 400, 13):
        boundary = Boundary(step, failing(errno.ENOSPC), and_after=True)
        shutil.rmtree(bench.work, ignore_errors=True)
        bench.work.mkdir()
        code, said = bench.run(monkeypatch, words, boundary)
        kept, _ = bench.run(monkeypatch, ["set", "show", "region"], None)
        assert kept == (ExitCode.DONE if code == ExitCode.DONE else ExitCode.NOT_FOUND), f"call {step}: {said}"
        if code != ExitCode.DONE:
            assert code == ExitCode.STORE_UNUSABLE and "hint:" in said
            assert bench.run(monkeypatch, words, None)[0] == ExitCode.DONE
        if not boundary.fell:
            break
    assert step > 50


def test_a_cache_that_cannot_be_kept_is_no_failure(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.back()
    code, said = bench.run(monkeypatch, ["task", "review", "A"], None)
    for step in (1, 2, 3, 5, 7):
        shutil.rmtree(bench.work / "cache", ignore_errors=True)
        with counted(Boundary(step, failing(errno.ENOSPC), and_after=True)):
            again = bench.run(monkeypatch, ["task", "review", "A"], None)
        assert again == (code, said)


FAULTS = {
    errno.ENOSPC: ("the disk is full", "free space"),
    errno.EDQUOT: ("quota", "free space within your quota"),
    errno.EACCES: ("no right", "Ask whoever owns"),
    errno.EPERM: ("protected against changes", "Ask whoever owns"),
    errno.EROFS: ("write-protected", "Make the disk writable"),
    errno.EIO: ("the disk itself fails", "newest backup"),
}


@pytest.mark.parametrize("number", sorted(FAULTS))
def test_each_fault_of_a_disk_has_words_and_a_way_out_of_its_own(tmp_path: Path, number: int) -> None:
    words, hint = FAULTS[number]
    (tmp_path / "x.csv").write_bytes(b"old")
    steps: list[str] = []
    for step in range(1, 30):
        boundary = Boundary(step, failing(number))
        try:
            with counted(boundary):
                write_file(tmp_path / "x.csv", b"new")
        except RefusedError as refused:
            steps.append(boundary.fell)
            assert words in refused.message and hint in (refused.hint or "")
            assert refused.details["reason"] == errno.errorcode[number]
            assert (tmp_path / "x.csv").read_bytes() == b"old"
        else:
            (tmp_path / "x.csv").write_bytes(b"old")
        if not boundary.fell:
            break
    assert {"mkdir", "open", "write", "fsync", "replace"} <= set(steps)
    said = {told(OSError(one, "x")) for one in FAULTS}
    assert len({fault.words for fault in said}) == len(FAULTS)
