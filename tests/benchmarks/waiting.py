"""How long writers wait for each other: `python -m tests.benchmarks.waiting [EDITS] [--store URL]`.

Sixteen processes make and edit tasks of areas in one store while two more keep the processor busy. An edit takes from
its call to its return. At full size, on either engine: `python -m tests.faults.writers 16 50 --tasks --busy 2`.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from tests.benchmarks.figures import Figure, told
from tests.faults.writers import crowd

WRITERS, BUSY = 16, 2
SEED = 1


def figures(edits: int = 10, url: str | None = None) -> list[Figure]:
    """Return the longest edit against the median one, and how many gave up after the default wait."""
    with tempfile.TemporaryDirectory() as folder:
        store = url or str(Path(folder) / "store.db")
        found = crowd(store, WRITERS, edits, SEED, tasks=True, busy=BUSY)
    what = f"{WRITERS} writers × {edits} tasks of areas, {BUSY} cores kept busy"
    return [
        Figure(f"{what}: longest edit (wall clock)", found.longest_s, "s", "median edit", found.median_s, goal=3),
        Figure(f"{what}: gave up waiting", found.refused, "edits", goal=0),
    ]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("edits", nargs="?", type=int, default=10)
    parser.add_argument("--store", help="an empty store; an SQLite file of its own without")
    given = parser.parse_args()
    told(figures(given.edits, given.store))


if __name__ == "__main__":
    main()
