"""Starts a command and ends it by SIGKILL: at a random moment of its usual time, or just after it began to write.

Knows processes and moments; what must hold afterwards stands in `kills`.
"""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import time
from collections.abc import Callable, Hashable, Mapping, Sequence
from pathlib import Path

from sqlalchemy import text

from taskdb.store.engine import Store

LOOK_EVERY_S = 0.0005
AFTER_SIGN_S = 0.020
AFTER_COMMIT_S = 0.005
LONGEST_S = 60.0

Sign = Callable[[], Hashable]
"""What is looked at again and again: as soon as it differs, the command has begun to write."""


class Ended(AssertionError):
    """A command that was to be killed ended by itself in a way that it must not."""


class Killer:
    """Kills commands, and keeps how long those of each kind take that run to their end."""

    def __init__(self, source: random.Random, environment: Mapping[str, str]) -> None:
        self.source = source
        self.environment = environment
        self.usual_s: dict[str, float] = {}

    def kill(self, line: Sequence[str], kind: str, sign: Sign, after_s: float = AFTER_SIGN_S) -> bool:
        """Start a command and kill it, at most `after_s` after a sign; say whether it told that it was done.

        The first of a kind runs to its end.
        """
        usual = self.usual_s.get(kind)
        before = sign()
        process = subprocess.Popen(
            line, env=self.environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, start_new_session=True
        )
        began = time.monotonic()
        if usual is None:
            wait_s = LONGEST_S
        elif self.source.random() < 0.5:
            _wait_for(sign, before, process)
            wait_s = self.source.uniform(0, after_s)
        else:
            # Most of a command's time is its start: three kills of four fall into what follows.
            wait_s = usual * self.source.uniform(0.0 if self.source.random() < 0.25 else 0.5, 1.1)
        try:
            out, _ = process.communicate(timeout=wait_s)
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            out, _ = process.communicate()
        took = time.monotonic() - began
        if process.returncode >= 0:
            self.usual_s[kind] = took if usual is None else (usual + took) / 2
        if process.returncode not in (0, 1, -signal.SIGKILL):
            raise Ended(f"{kind} ended with {process.returncode}: {out.decode(errors='replace')[:500]}")
        try:
            return bool(json.loads(out)["ok"])
        except (ValueError, KeyError):
            return False


def _wait_for(sign: Sign, before: Hashable, process: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + LONGEST_S
    while sign() == before and process.poll() is None and time.monotonic() < until:
        time.sleep(LOOK_EVERY_S)


def written_into(folder: Path) -> frozenset[tuple[str, int]]:
    """Return the files of a folder and its folders that hold something, with their sizes: a log that grows, a new file.

    An empty log and the shared memory beside it are made by whoever opens a store to read.
    """
    found = set()
    for place in (folder, *(Path(one) for one in os.scandir(folder) if one.is_dir())):
        for one in os.scandir(place):
            try:
                size = one.stat().st_size
            except FileNotFoundError:
                continue
            if size and not one.name.endswith("-shm") and one.is_file():
                found.add((f"{place.name}/{one.name}", size))
    return frozenset(found)


# A transaction has a number from its first write on; its operation is seen by others once it is committed.
HAS_BEGUN = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND backend_xid IS NOT NULL"
HAS_COMMITTED = "SELECT count(*) FROM operation"
_SESSIONS = (
    "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
    " AND backend_type = 'client backend'"
)


def kill_on_server(killer: Killer, line: Sequence[str], kind: str, server: Store) -> bool:
    """Kill a command that works on a server, and wait until the server has ended its session; say what it told."""
    query, after_s = killer.source.choice(((HAS_BEGUN, AFTER_SIGN_S), (HAS_COMMITTED, AFTER_COMMIT_S)))
    with server.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as c:
        told = killer.kill(line, kind, lambda: c.scalar(text(query)), after_s)
        until = time.monotonic() + LONGEST_S
        while c.scalar(text(_SESSIONS)):
            if time.monotonic() > until:
                raise Ended("a session of a killed command does not end")
            time.sleep(LOOK_EVERY_S)
    return told
