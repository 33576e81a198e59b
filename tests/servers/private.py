"""Private PostgreSQL clusters in a folder of their own, a replica of one, and a pooler before one; all by hand.

Sockets only, nothing kept, everything stopped and removed at the end. As root they run as the user postgres, since
initdb refuses root. RuntimeError where PostgreSQL's server (or pgbouncer) is not installed.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

USER = "postgres"
POOLER_PORT = 6432
_QUICK = ("fsync=off", "full_page_writes=off", "max_connections=100", "listen_addresses=''")


@dataclass(frozen=True)
class Cluster:
    """A running cluster: the folder that holds its data and its socket, and what was set."""

    folder: Path

    def url(self, database: str = "postgres", user: str = USER) -> str:
        return f"postgresql+psycopg://{user}@/{database}?host={self.folder}"

    def stop(self) -> None:
        """End it as a pulled plug does."""
        _as_server(_program("pg_ctl"), "-D", self.folder / "data", "-m", "immediate", "stop")

    def _start(self, settings: tuple[str, ...]) -> None:
        given = " ".join(f"-c {one}" for one in (*_QUICK, *settings))
        log = self.folder / "log"
        _as_server(
            _program("pg_ctl"), "-D", self.folder / "data", "-l", log, "-w", "-o", f"-k {self.folder} {given}", "start"
        )  # fmt: skip


def sessions_s(of: Cluster) -> float:
    """Return the processor time of all sessions of a server that have ended."""
    pid = (of.folder / "data" / "postmaster.pid").read_text().splitlines()[0]
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[13]) + int(fields[14])) / os.sysconf("SC_CLK_TCK")


@contextlib.contextmanager
def cluster(*settings: str) -> Iterator[Cluster]:
    """Yield a new cluster, with settings as `name=value`; encoding UTF-8, everybody let in."""
    with _folder() as folder:
        made = Cluster(folder)
        _as_server(
            _program("initdb"), "-D", folder / "data", "-U", USER, "-A", "trust", "-E", "UTF8", "--locale=C",
            "--no-sync",
        )  # fmt: skip
        with _running(made, settings):
            yield made


@contextlib.contextmanager
def replica(primary: Cluster, *settings: str) -> Iterator[Cluster]:
    """Yield a hot standby that streams from a cluster: pg_basebackup, and what it writes for streaming (-R)."""
    with _folder() as folder:
        made = Cluster(folder)
        _as_server(
            _program("pg_basebackup"), "-D", folder / "data", "-h", primary.folder, "-U", USER, "-X", "stream",
            "-c", "fast", "-R", "--no-sync",
        )  # fmt: skip
        with _running(made, settings):
            yield made


@contextlib.contextmanager
def pooler(server: Cluster, *settings: str) -> Iterator[str]:
    """Yield the URL of a pgbouncer in transaction mode before a cluster, with settings as `name = value`.

    Only what it cannot do without is set: users are looked up in the server.
    """
    program = shutil.which("pgbouncer", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if program is None:
        raise RuntimeError("pgbouncer is not installed: apt-get install pgbouncer")
    with _folder() as folder:
        lines = (
            "[databases]", f"* = host={server.folder}",
            "[pgbouncer]", "pool_mode = transaction", f"unix_socket_dir = {folder}", "listen_addr =",
            f"listen_port = {POOLER_PORT}", "auth_type = trust", f"auth_file = {folder}/users", f"auth_user = {USER}",
            f"logfile = {folder}/log", *settings,
        )  # fmt: skip
        (folder / "pgbouncer.ini").write_text("\n".join(lines) + "\n")
        (folder / "users").write_text(f'"{USER}" ""\n')
        (folder / "pgbouncer.ini").chmod(0o644)
        (folder / "users").chmod(0o644)
        process = subprocess.Popen([program, "-q", str(folder / "pgbouncer.ini")], cwd="/", **_as_user())
        try:
            _await(folder / f".s.PGSQL.{POOLER_PORT}", process)
            yield f"postgresql+psycopg://{USER}@/postgres?host={folder}&port={POOLER_PORT}"
        finally:
            process.terminate()
            process.wait()


def _await(path: Path, process: subprocess.Popen[bytes]) -> None:
    for _ in range(100):
        if path.exists():
            return
        with contextlib.suppress(subprocess.TimeoutExpired):
            raise RuntimeError(f"it ended at once, with {process.wait(0.1)}")
    raise RuntimeError(f"{path} did not appear")


@contextlib.contextmanager
def _running(made: Cluster, settings: tuple[str, ...]) -> Iterator[None]:
    made._start(settings)
    try:
        yield
    finally:
        with contextlib.suppress(RuntimeError):  # a test may have stopped it
            made.stop()


@contextlib.contextmanager
def _folder() -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp(prefix="taskdb-server-"))
    try:
        folder.chmod(0o755)
        if _is_root():
            shutil.chown(folder, USER)
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _is_root() -> bool:
    return os.geteuid() == 0


def _as_user() -> dict[str, Any]:
    return {"user": USER, "group": USER, "extra_groups": []} if _is_root() else {}


def _as_server(*words: str | Path) -> None:
    line = list(map(str, words))
    # Not a pipe: the server that pg_ctl starts would keep it open.
    with tempfile.TemporaryFile() as said:
        done = subprocess.run(line, cwd="/", stdout=subprocess.DEVNULL, stderr=said, check=False, **_as_user())
        if done.returncode:
            said.seek(0)
            raise RuntimeError(f"{' '.join(line)}: {said.read().decode(errors='replace')}")


def is_installed(name: str) -> bool:
    """Say whether a program of PostgreSQL's server is there."""
    try:
        return _program(name).exists()
    except RuntimeError:
        return False


def _program(name: str) -> Path:
    """Return a program of the newest PostgreSQL server installed; RuntimeError where there is none."""
    installed = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda path: int(path.parts[-3]))
    found = installed[-1] if installed else shutil.which(name)
    if found is None:
        raise RuntimeError("PostgreSQL's server is not installed")
    return Path(found)
