"""Starts a command and ends it by SIGKILL: at a random moment of its usual time, or just after it began to write.

Knows processes and moments; what must hold afterwards stands in `kills`.
"""

from __future__ import annotations

import json
import os
import random
import signal
import time
from collections.abc import Callable, Hashable, Mapping
from pathlib import Path
from typing import Any

from sqlalchemy import text

from taskdb.store.engine import Store
from tests.forked import Forked

LOOK_EVERY_S = 0.0005
AFTER_SIGN_S = 0.020
AFTER_COMMIT_S = 0.005
LONGEST_S = 60.0

Line = tuple[Callable[..., object], *tuple[Any, ...]]
"""A function that runs a command, and what it is given."""
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

    def kill(self, line: Line, kind: str, sign: Sign, after_s: float = AFTER_SIGN_S) -> bool:
        """Start a command and kill it, at most `after_s` after a sign; say whether it told that it was done.

        The first of a kind runs to its end.
        """
        usual = self.usual_s.get(kind)
        before = sign()
        process = Forked(*line, env=self.environment)
        began = time.monotonic()
        if usual is None:
            wait_s = LONGEST_S
        elif self.source.random() < 0.5:
            _wait_for(sign, before, process)
            wait_s = self.source.uniform(0, after_s)
        else:
            wait_s = usual * self.source.uniform(0.0, 1.1)
        if not process.ended_within(wait_s):
            process.kill()
            process.ended_within(None)
        took = time.monotonic() - began
        ended, (out, _) = process.returncode, process.said()
        if ended != -signal.SIGKILL:
            self.usual_s[kind] = took if usual is None else (usual + took) / 2
        if ended not in (0, 1, -signal.SIGKILL):
            raise Ended(f"{kind} ended with {ended}: {out[:500]}")
        try:
            return bool(json.loads(out)["ok"])
        except (ValueError, KeyError):
            return False


def _wait_for(sign: Sign, before: Hashable, process: Forked) -> None:
    until = time.monotonic() + LONGEST_S
    while sign() == before and process.returncode is None and time.monotonic() < until:
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


def kill_on_server(killer: Killer, line: Line, kind: str, server: Store) -> bool:
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
