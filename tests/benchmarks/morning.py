"""A day of two classes handed out, against looking at one of its tasks: `python -m tests.benchmarks.morning [ROUNDS]`.

Processor time of whole commands, interleaved, on the demo club's catalogue: `task show` of a racing task is the floor;
told are `handout` of both classes into one folder, the first time and after a change of every sheet. Goal: 3.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
from pathlib import Path

from tests.benchmarks.figures import Figure, command_s, told

DEMO = Path(__file__).parents[2] / "demo"
SET_UP = (
    ("set", "import", str(DEMO / "region.csv"), "--into", "region"),
    ("set", "import", str(DEMO / "mends.csv"), "--into", "region"),
    ("contest", "new", "Cup", "--set", "region", "--site", "001", "--timezone", "Europe/Berlin"),
    ("contest", "classes", "Cup", "--class", "Club=70km/h..110km/h", "--class", "Open=90km/h..140km/h"),
    ("contest", "day", "Cup", "1", "--date", "2027-05-14", "--start-opens", "13:20", "--wind", "240/15kt"),
    ("task", "new", "C", "001", "232", "004", "001", "--contest", "Cup", "--day", "1", "--class", "Club"),
    ("task", "new", "O", "001", "045", "area 10km", "232", "area 20km", "004", "area 15km", "001",
     "--contest", "Cup", "--day", "1", "--class", "Open", "--time", "2:30"),
)  # fmt: skip


def figures(rounds: int = 7) -> list[Figure]:
    shown, first, changed = [], [], []
    with tempfile.TemporaryDirectory() as folder:
        os.environ |= {"TASKDB_STORE": f"{folder}/store.db", "TASKDB_AUTHOR": "bench"}
        for words in SET_UP:
            command_s(*words)
        for number in range(rounds):
            to = ("--contest", "Cup", "--day", "1", "--to", f"{folder}/day {number}")
            shown.append(command_s("task", "show", "C"))
            first.append(command_s("handout", *to))
            command_s("contest", "day", "Cup", "1", "--start-opens", f"14:{number:02d}")
            changed.append(command_s("handout", *to))
    floor, said = statistics.median(shown), "task show of a racing task"
    return [
        Figure("handout of two classes of a day", statistics.median(first), "s", said, floor, 3),
        Figure("handout after a change of every sheet", statistics.median(changed), "s", said, floor, 3),
    ]


if __name__ == "__main__":
    told(figures(*map(int, sys.argv[1:])))
