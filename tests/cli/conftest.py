"""The `taskdb` fixture: a command line run in this process with its streams caught, or in one of its own."""

from __future__ import annotations

import io
import json
import os
import shutil
import subprocess
import sys
import types
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from taskdb.cli.main import main
from taskdb.errors import ExitCode
from taskdb.store.engine import open_store
from tests.conftest import ENGINES, EmptiedStore, KeptRows, copied

CLEARED = (
    "TASKDB_STORE", "TASKDB_AUTHOR", "TASKDB_CONTEST", "TASKDB_TERRAIN", "NO_COLOR", "COLUMNS", "_TASKDB_COMPLETE",
)  # fmt: skip


@dataclass(frozen=True)
class Completed:
    """What a command line left behind."""

    exit_code: ExitCode
    stdout: str
    stderr: str

    def json(self) -> dict[str, Any]:
        """Return standard output as the one JSON document that it must be."""
        document = json.loads(self.stdout)
        assert isinstance(document, dict)
        return document

    def result(self) -> dict[str, Any]:
        """Return the result of a JSON answer that is ok."""
        document = self.json()
        assert document["ok"] is True, document
        result = document["result"]
        assert isinstance(result, dict)
        return result

    def error(self) -> dict[str, Any]:
        """Return the error of a JSON answer that is not ok."""
        document = self.json()
        assert document["ok"] is False, document
        assert document["schema"] == "taskdb.error/1"
        error = document["error"]
        assert isinstance(error, dict)
        return error


class Stream(io.TextIOWrapper):
    """A caught stream that may claim to be a terminal."""

    def __init__(self, terminal: bool, content: bytes = b"") -> None:
        self.kept = io.BytesIO(content)
        super().__init__(self.kept, encoding="utf-8", errors="backslashreplace", newline="", write_through=True)
        self._terminal = terminal

    def isatty(self) -> bool:
        return self._terminal

    def text(self) -> str:
        self.flush()
        return self.kept.getvalue().decode("utf-8")


Run = Callable[..., Completed]


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Ask tests marked `both_engines` on SQLite and on the server, but for those about the file of an SQLite store.

    What services do is asked on both engines in tests/services. Parsing and drawing know no engine; marked is what
    is about the store itself, and one run of every command (test_surface).
    """
    asked = set(metafunc.fixturenames)
    if metafunc.definition.get_closest_marker("both_engines") and not asked & {"store_path", "empty_store_url"}:
        metafunc.parametrize("store_address", ENGINES, indirect=True)


@pytest.fixture
def store_path(tmp_path: Path) -> Path:
    """The SQLite store that the fixtures' commands work on; not made yet. Who asks for it is about SQLite's files."""
    return tmp_path / "store.sqlite"


@pytest.fixture
def store_address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The store of a test: an SQLite file that the first write makes, or an empty store on the server."""
    if getattr(request, "param", "sqlite") == "sqlite":
        yield str(tmp_path / "store.sqlite")
        return
    store: EmptiedStore = request.getfixturevalue("emptied_store")
    yield store.url()
    store.empty()


@pytest.fixture(autouse=True)
def quiet_environment(monkeypatch: pytest.MonkeyPatch, store_address: str, courses_kept: None) -> Iterator[None]:
    """Every command works on a store of its own, under a fixed author, whatever the environment says."""
    for name in CLEARED:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TASKDB_STORE", store_address)
    monkeypatch.setenv("TASKDB_AUTHOR", "librarian")
    yield


@pytest.fixture
def in_store(store_address: str) -> Callable[[str], list[tuple[Any, ...]]]:
    """Run one statement on the test's store behind taskdb's back, on either engine; return its rows."""

    def run(statement: str) -> list[tuple[Any, ...]]:
        with open_store(store_address).engine.begin() as connection:
            found = connection.exec_driver_sql(statement)
            return [tuple(row) for row in found] if found.returns_rows else []

    return run


@pytest.fixture
def taskdb(monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a command line in this process: `taskdb("set", "list", "--json")`.

    `terminal=True` makes standard input, output and error a terminal; `stdin` is what is typed.
    """

    def run(
        *args: str | Path, stdin: str | None = None, env: dict[str, str] | None = None, terminal: bool = False
    ) -> Completed:
        out, err = Stream(terminal), Stream(terminal)
        with monkeypatch.context() as patch:
            for name, value in (env or {}).items():
                patch.setenv(name, value)
            patch.setattr(sys, "stdin", Stream(terminal, (stdin or "").encode()))
            patch.setattr(sys, "stdout", out)
            patch.setattr(sys, "stderr", err)
            code = main([str(arg) for arg in args])
        return Completed(code, out.text(), err.text())

    return run


Built = Callable[..., Run]


@pytest.fixture(scope="session")
def kept_stores(
    tmp_path_factory: pytest.TempPathFactory,
) -> tuple[Path, dict[tuple[Any, ...], Path], dict[tuple[Any, ...], KeptRows]]:
    """A folder, the SQLite stores in it by the command lines that lead to them, and what such lead to on the server."""
    return tmp_path_factory.mktemp("built"), {}, {}


@pytest.fixture
def built(
    request: pytest.FixtureRequest,
    taskdb: Run,
    store_address: str,
    kept_stores: tuple[Path, dict[tuple[Any, ...], Path], dict[tuple[Any, ...], KeptRows]],
) -> Built:
    """Bring the test's store to where command lines lead: `built(("set", "import", FILE, "--into", "region"))`.

    All must be done. On each engine they run once, and who asks for the same ones later gets a copy.
    """
    folder, files, rows = kept_stores
    server: EmptiedStore | None = request.getfixturevalue("emptied_store") if "://" in store_address else None

    def build(*lines: Iterable[str | Path]) -> Run:
        wanted = tuple(tuple(map(str, words)) for words in lines)
        if server and wanted in rows:
            server.fill(rows[wanted])
            return taskdb
        if not server and wanted in files:
            shutil.copyfile(files[wanted], store_address)
            return taskdb
        for words in wanted:
            done = taskdb(*words)
            assert done.exit_code is ExitCode.DONE, done.stderr
        if server:
            rows[wanted] = server.rows()
        else:
            files[wanted] = copied(store_address, folder / f"{len(files)}.sqlite")
        return taskdb

    return build


@pytest.fixture
def taskdb_process() -> Run:
    """Run a command line in a process of its own: for streams, signals, imports and the entry point."""

    def run(*args: str | Path, stdin: str | None = None, env: dict[str, str] | None = None) -> Completed:
        done = subprocess.run(
            [sys.executable, "-m", "taskdb", *map(str, args)],
            input=(stdin or "").encode(),
            capture_output=True,
            env={**os.environ, **(env or {})},
            timeout=120,
            check=False,
        )
        return Completed(ExitCode(done.returncode), done.stdout.decode("utf-8"), done.stderr.decode("utf-8"))

    return run


Install = Callable[..., None]


@pytest.fixture
def install(monkeypatch: pytest.MonkeyPatch) -> Iterator[Install]:
    """Put commands made by a test into the table: `install(probe)` for commands made by `@command("try probe")`."""
    from taskdb.cli import commands_table

    module = types.ModuleType("commands_of_a_test")
    monkeypatch.setitem(sys.modules, module.__name__, module)
    monkeypatch.setitem(commands_table.NOUNS, "try", "Commands of a test.")

    def put(*made: Any) -> None:
        for one in made:
            setattr(module, one.name, one)
            entry = commands_table.Entry("try", one.name, module.__name__, one.name, "A probe.", one.writes)
            monkeypatch.setattr(commands_table, "COMMANDS", (*commands_table.COMMANDS, entry))

    yield put
