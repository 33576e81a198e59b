"""Start-up as ratios against a bare import in the same run: `python tests/benchmarks/startup.py [ROUNDS]`.

Runs are interleaved, so that a slow moment hits all alike; medians of processor time (user and system) of the whole
process, its end included. A store of two tasks is made for it, one racing, one with four assigned areas.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.figures import RUN, Figure, command_s, spent, told

CLICK = "import click"
BOTH = "import click, sqlalchemy"
ALL = "import click, sqlalchemy, pyproj, numpy"
ROUNDS = 15


def completion(line: str) -> dict[str, str]:
    return {"_TASKDB_COMPLETE": "bash_complete", "COMP_WORDS": line, "COMP_CWORD": str(len(line.split(" ")) - 1)}


CASES: list[tuple[str, str, float, tuple[str, ...], dict[str, str]]] = [
    ("--help", CLICK, 1.2, (*RUN, "--help"), {}),
    ("--version", CLICK, 1.2, (*RUN, "--version"), {}),
    ("set --help", CLICK, 1.2, (*RUN, "set", "--help"), {}),
    ("completion of nouns", CLICK, 1.3, RUN, completion("taskdb s")),
    ("completion of set names", CLICK, 1.3, RUN, completion("taskdb set show V")),
    ("completion of codes", CLICK, 2.5, RUN, completion("taskdb waypoint show P")),
    ("set list", BOTH, 1.25, (*RUN, "set", "list"), {}),
    ("set list --json", BOTH, 1.25, (*RUN, "set", "list", "--json"), {}),
    ("waypoint find", BOTH, 1.25, (*RUN, "waypoint", "find", "quarry"), {}),
    ("store info", BOTH, 1.25, (*RUN, "store", "info"), {}),
    ("task show, racing", ALL, 1.5, (*RUN, "task", "show", "Racing"), {}),
    ("task show, four areas", ALL, 2.0, (*RUN, "task", "show", "Areas"), {}),
]
"""What, its floor, the goal, the words, the environment."""


def make_store(folder: Path, environment: dict[str, str]) -> None:
    rows = [f"P{i:03},Quarry {i},{47 + (i * 37 % 100) / 100:.3f},{9 + (i * 61 % 100) / 100:.3f}\n" for i in range(300)]
    (folder / "set.csv").write_text("code,name,latitude_deg,longitude_deg\n" + "".join(rows))
    areas = [word for n in (1, 2, 3, 4) for word in (f"P00{n}", "area 15km")]
    for words in (
        ["set", "import", str(folder / "set.csv"), "--into", "Varn"],
        ["task", "new", "Racing", "P000", "P001", "P002", "P000", "--set", "Varn"],
        ["task", "new", "Areas", "P000", *areas, "P000", "--set", "Varn", "--time", "3:00"],
    ):
        command_s(*words, environment=environment)


def figures(rounds: int = ROUNDS) -> list[Figure]:
    """Return what each start costs in floors; the first round warms the disk's cache and is not counted."""
    floors = [(name, (sys.executable, "-c", name)) for name in (CLICK, BOTH, ALL)]
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "TASKDB_STORE": str(Path(folder) / "store.sqlite"), "TASKDB_AUTHOR": "bench"}
        make_store(Path(folder), environment)
        times: dict[str, list[float]] = {}
        for _ in range(rounds + 1):
            for name, words in floors:
                times.setdefault(name, []).append(1000 * spent(words, environment)[0])
            for name, _, _, words, extra in CASES:
                times.setdefault(name, []).append(1000 * spent(words, {**environment, **extra})[0])
    medians = {name: statistics.median(values[1:]) for name, values in times.items()}
    return [Figure(name, medians[name], "ms", floor, medians[floor], goal) for name, floor, goal, _, _ in CASES]


if __name__ == "__main__":
    told(figures(int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS))
