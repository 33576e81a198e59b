"""The `taskdb` fixture: a command line run in this process with its streams caught, or in one of its own."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import types
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from taskdb.cli.main import main
from taskdb.errors import ExitCode
from taskdb.store.engine import open_store
from tests.conftest import new_database

ON_SERVER = os.environ.get("TASKDB_TEST_CLI_STORE") == "postgresql"
"""Whether the commands work on the PostgreSQL server of TASKDB_TEST_POSTGRESQL instead of SQLite files."""

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


@pytest.fixture
def store_path(tmp_path: Path) -> Path:
    """The SQLite store that the fixtures' commands work on; not made yet. Who asks for it is about SQLite's files."""
    if ON_SERVER:
        pytest.skip("about the file of an SQLite store")
    return tmp_path / "store.sqlite"


@pytest.fixture
def store_address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The store of a test: an SQLite file that the first write makes, or a database of its own on the server."""
    if not ON_SERVER:
        yield str(tmp_path / "store.sqlite")
        return
    url, drop = new_database(request.getfixturevalue("_template"))
    yield url
    drop()


@pytest.fixture(autouse=True)
def quiet_environment(monkeypatch: pytest.MonkeyPatch, store_address: str) -> Iterator[None]:
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
