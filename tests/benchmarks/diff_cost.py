"""What a difference costs above the start-up of the same command: `python -m tests.benchmarks.diff_cost [N]`.

Goal: two revisions that differ in 1,000 of 1,000,000 waypoints, 100 ms above start-up. The floor is `set diff` of a
revision with itself in the same run; a small set with the same changes shows that the cost grows with the change.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

from taskdb.core.history.changes import SetChanges
from taskdb.core.model import E7, Position, Waypoint
from taskdb.store import sets
from taskdb.store.engine import NewOperation, open_store
from tests.benchmarks.figures import Figure, command_s, told

ROUNDS = 7
CHANGED = 1_000
AT = NewOperation("2027-05-14T08:30:00Z", "bench", "set import")


def waypoints(count: int) -> list[Waypoint]:
    """Return waypoints spread over a region, each with an identity."""
    return [
        Waypoint(
            code=f"{n:07d}",
            name=f"Punkt {n}",
            position=Position.from_e7(40 * E7 + n * 97 % (15 * E7), n * 389 % (20 * E7)),
            elevation_m=float(n % 900),
            identity=f"{n:032x}",
        )
        for n in range(count)
    ]


def build(path: Path, count: int) -> None:
    """Write a set of `count` waypoints, and a second revision that moves CHANGED of them by some metres."""
    store = open_store(str(path))
    state = waypoints(count)
    with store.writing(AT) as w:
        sets.write_revision(w, sets.create_set(w, "region"), SetChanges(added=state))
    changes = []
    for old in state[:: max(1, count // CHANGED)][:CHANGED]:
        moved = Position.from_e7(old.position.latitude_e7 + 1000, old.position.longitude_e7)
        changes.append((old, replace(old, position=moved)))
    with store.writing(AT) as w:
        sets.write_revision(w, sets.set_head(w.connection, 1), SetChanges(changed=changes))


def figures(count: int = 1_000_000) -> list[Figure]:
    """Build both stores, and return medians of interleaved runs above the start-up of the command."""
    itself = "start-up: of itself"
    with tempfile.TemporaryDirectory() as folder:
        large, small = Path(folder) / "large.sqlite", Path(folder) / "small.sqlite"
        build(large, count)
        build(small, CHANGED)
        cases = {
            itself: (large, ("set", "diff", "region@1", "region@1")),
            f"{CHANGED:,} of {count:,}": (large, ("set", "diff", "region@1", "region@2")),
            f"{CHANGED:,} of {count:,}, JSON": (large, ("set", "diff", "region@1", "region@2", "--json")),
            f"{CHANGED:,} of {count:,}, --stat": (large, ("set", "diff", "region@1", "region@2", "--stat")),
            f"{CHANGED:,} of {CHANGED:,}": (small, ("set", "diff", "region@1", "region@2")),
        }
        times: dict[str, list[float]] = {name: [] for name in cases}
        for _ in range(ROUNDS + 1):
            for name, (path, words) in cases.items():
                times[name].append(command_s(*words, environment={**os.environ, "TASKDB_STORE": str(path)}))
    medians = {name: 1000 * statistics.median(values[1:]) for name, values in times.items()}
    floor = medians.pop(itself)
    return [
        Figure(f"set diff above start-up ({floor:.0f} ms), {n}", m - floor, "ms", goal=100) for n, m in medians.items()
    ]


if __name__ == "__main__":
    told(figures(*map(int, sys.argv[1:])))
