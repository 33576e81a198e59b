"""Commands in processes of their own that are forked off a clean one in which all of taskdb is imported already.

For tests of what processes do to stores and files, alone, at once or killed: most of a command's time is its imports.
How a process starts, what it imports and how it ends is asked of new interpreters (`taskdb_process`).
"""

from __future__ import annotations

import contextlib
import functools
import multiprocessing
import os
import pkgutil
import sys
import tempfile
from collections.abc import Callable, Mapping, Sequence
from multiprocessing.context import ForkServerContext
from pathlib import Path
from typing import Any

import taskdb

LOADED_LATER = (
    "alembic.command", "encodings.cp437", "getpass", "jinja2", "psycopg", "pwd", "rich.progress", "rich.table",
    "sqlalchemy.dialects.postgresql.psycopg", "sqlalchemy.dialects.sqlite", "traceback", "urllib.request",
)  # fmt: skip
"""What commands load on their way; who gave up all rights may not reach it then."""


@functools.cache
def _clean() -> ForkServerContext:
    """Return what forks the processes; the first of them starts it."""
    context = multiprocessing.get_context("forkserver")
    modules = [one.name for one in pkgutil.walk_packages(taskdb.__path__, "taskdb.")]
    # A module that draws PDF loads libraries that few machines have, and `__main__` would run a command.
    ours = [name for name in modules if not name.endswith(("__main__", "report.pdf"))]
    context.set_forkserver_preload([*ours, *LOADED_LATER])
    return context


class Forked:
    """A process that runs a function and ends with its exit code; what it says goes into files.

    `prepare` is called in the process first: it may give up rights or limit itself.
    """

    def __init__(
        self,
        does: Callable[..., object],
        *given: Any,
        env: Mapping[str, str] | None = None,
        prepare: Callable[[], object] | None = None,
    ) -> None:
        self._folder = contextlib.ExitStack()
        folder = self._folder.enter_context(tempfile.TemporaryDirectory())
        self._out, self._err = Path(folder, "out"), Path(folder, "err")
        streams = os.fspath(self._out), os.fspath(self._err)
        environment = dict(os.environ if env is None else env)
        given_to = does, given, environment, streams, prepare
        self._process = _clean().Process(target=_begin, args=given_to, daemon=True)
        self._process.start()

    @property
    def returncode(self) -> int | None:
        """The exit code, −N where signal N ended the process, and None while it runs."""
        return self._process.exitcode

    def kill(self) -> None:
        self._process.kill()

    def ended_within(self, seconds: float | None) -> bool:
        """Wait for the end, at most so long; say whether it has come."""
        self._process.join(seconds)
        return self._process.exitcode is not None

    def said(self) -> tuple[str, str]:
        """Return what the ended process wrote to standard output and error; can be asked once."""
        with self._folder:
            texts = [path.read_text(encoding="utf-8") if path.exists() else "" for path in (self._out, self._err)]
        self._process.close()
        return texts[0], texts[1]


def command(words: Sequence[str]) -> None:
    """Run a command line as `taskdb` does, and end the process."""
    from taskdb.cli.main import run

    sys.argv = ["taskdb", *words]
    run()


def limit_files(size: int) -> None:
    """Let files grow to so many bytes: beyond, writing fails as on a full disk (EFBIG instead of ENOSPC)."""
    import resource

    resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))  # Python ignores SIGXFSZ


def give_up_rights() -> None:
    """Become nobody, who may do nothing; the interpreter itself may lie where others cannot read."""
    if os.getuid() == 0:
        os.setuid(65534)


def _begin(
    does: Callable[..., object],
    given: tuple[Any, ...],
    environment: Mapping[str, str],
    streams: tuple[str, str],
    prepare: Callable[[], object] | None,
) -> None:
    os.environ.clear()
    os.environ.update(environment)
    for number, path in zip((1, 2), streams, strict=True):
        stream = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        os.dup2(stream, number)
        os.close(stream)
    if prepare is not None:
        prepare()
    does(*given)
