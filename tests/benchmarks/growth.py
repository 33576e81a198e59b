"""How commands grow with the store: `python -m tests.benchmarks.growth [small|medium|large]…`.

Three stores: 1,000 / 30,000 / 1,000,000 waypoints with 100 / 10,000 / 100,000 tasks. Told for each command: processor
time above the imports of the same run, the same question as one bare SQL statement by the standard library, the largest
memory, and the growth exponent from the smallest to the largest store (0: no growth, 1: as the store).
"""

from __future__ import annotations

import json
import math
import os
import random
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

from taskdb.core.checks.outlines import UNCODED, countries_at
from taskdb.core.history.changes import SetChanges
from taskdb.core.model import Position, Waypoint
from taskdb.reference.outlines import load_outlines
from taskdb.store import sets
from taskdb.store.engine import NewOperation, open_store
from tests.benchmarks.task_find import filled

SIZES = {"small": (1_000, 100), "medium": (30_000, 10_000), "large": (1_000_000, 100_000)}
ROUNDS = 5
SLOW_ROUNDS = 1
CHANGED = 100
AT = NewOperation("2027-05-14T08:30:00Z", "bench", "set import")
# A process's largest memory counts that of the one that started it: a small one stands in between.
LAUNCH = """
import json, resource, subprocess, sys
done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
spent = resource.getrusage(resource.RUSAGE_CHILDREN)
print(json.dumps([done.returncode, done.stderr.decode(), spent.ru_utime + spent.ru_stime, spent.ru_maxrss / 1024]))
"""
RUN = [sys.executable, "-c", "from taskdb.cli.main import run; run()"]
STEMS = ("Orm", "Kel", "Tann", "Greif", "Brüx", "Varn", "Hohen", "Stein")
ENDS = ("sau", "ried", "wöhr", "lohe", "feld", "berg", "tal", "kirch")


@dataclass(frozen=True)
class Case:
    """A command, and the same question in bare SQL; `completes` where it is a line to be completed."""

    words: tuple[str, ...]
    bare: str
    completes: bool = False
    is_slow: bool = False
    exits: tuple[int, ...] = (0,)


CASES = {
    "find a word": Case(
        ("waypoint", "find", "ormsau", "--set", "land"),
        "SELECT code, name FROM waypoint_state WHERE valid_to IS NULL AND name LIKE '%ormsau%' LIMIT 20",
    ),
    "find a rare word": Case(
        ("waypoint", "find", "ormsau 777", "--set", "land"),
        "SELECT code, name FROM waypoint_state WHERE valid_to IS NULL AND name LIKE '%ormsau 777'",
    ),
    "find a beginning": Case(
        ("waypoint", "find", "greifenb", "--set", "land"),
        "SELECT code, name FROM waypoint_state WHERE valid_to IS NULL AND name LIKE 'greifenb%' LIMIT 20",
    ),
    "find near (25 km)": Case(
        ("waypoint", "find", "--near", "48.5,10.5", "--within", "25km", "--set", "land"),
        "SELECT code, name FROM waypoint_state WHERE valid_to IS NULL AND latitude_e7 BETWEEN 482750000 AND 487250000"
        " AND longitude_e7 BETWEEN 101600000 AND 108400000",
    ),
    "show a waypoint": Case(
        ("waypoint", "show", "land:L0000500"),
        "SELECT * FROM waypoint_state WHERE valid_to IS NULL AND code = 'L0000500'",
    ),
    f"diff of {CHANGED}": Case(
        ("set", "diff", "land@1", "land@2"),
        "SELECT * FROM waypoint_state WHERE valid_from = 2 OR valid_to = 2",
    ),
    "find tasks through": Case(
        ("task", "find", "--through", "region:0500"),
        "SELECT DISTINCT task_id FROM task_point WHERE code = '0500'",
    ),
    "find tasks, distance": Case(
        ("task", "find", "--distance", "300km..301km"),
        "SELECT task_id FROM task_revision WHERE task_m BETWEEN 300e3 AND 301e3",
    ),
    "completion of codes": Case(
        ("taskdb waypoint show L00004",),
        "SELECT code FROM waypoint_state WHERE valid_to IS NULL AND code LIKE 'L00004%'",
        completes=True,
    ),
    "check run": Case(("check", "run", "land"), "SELECT * FROM waypoint_state", is_slow=True, exits=(0, 1)),
}


def places(random_: random.Random, count: int) -> list[tuple[Position, str]]:
    """Return so many places on land round one spot, one in some ten square kilometres, each with its country."""
    side_deg = 60.0 * math.sqrt(count / 1_000_000)
    outlines = load_outlines()
    found: list[tuple[Position, str]] = []
    while len(found) < count:
        some = [
            Position.at(
                min(48.5 + side_deg * random_.uniform(-0.25, 0.25), 70.0), 10.5 + side_deg * random_.uniform(-0.3, 0.5)
            )
            for _ in range(50_000 if count > 50_000 else 2_000)
        ]
        around = countries_at(outlines, some)
        found += [(at, min(codes)) for at, codes in zip(some, around, strict=True) if codes and UNCODED not in codes]
    return found[:count]


def build(path: Path, count: int, tasks: int) -> None:
    """Fill a store: tasks on a set of their own, and a set of so many waypoints with a second revision."""
    path.parent.mkdir()
    Path(filled(path.parent, tasks)).rename(path)
    random_ = random.Random(count)
    state = [
        Waypoint(
            code=f"L{n:07d}",
            name=f"{random_.choice(STEMS)}{random_.choice(ENDS)} {n}" if n % 1_000 else f"Greifenbuch {n}",
            position=at,
            country=country,
            identity=f"{n:032x}",
        )
        for n, (at, country) in enumerate(places(random_, count))
    ]
    store = open_store(str(path))
    with store.writing(AT) as w:
        head = sets.create_set(w, "land")
        sets.write_revision(w, head, SetChanges(added=state))
    changed = [(old, replace(old, name=f"{old.name} Süd")) for old in state[:: count // CHANGED][:CHANGED]]
    with store.writing(AT) as w:
        sets.write_revision(w, sets.set_head(w.connection, head.id), SetChanges(changed=changed))


def cost(path: Path, case: Case) -> tuple[float, float]:
    """Return the processor time of one run of a command in seconds, and its largest memory in megabytes."""
    # As installed, modules are compiled; from a checkout they may not be.
    compiled = {"PYTHONPYCACHEPREFIX": str(path.parents[1] / "compiled"), "PYTHONDONTWRITEBYTECODE": ""}
    environment = {**os.environ, **compiled, "TASKDB_STORE": str(path)}
    words = list(case.words)
    if case.completes:
        line = words.pop()
        environment |= {"_TASKDB_COMPLETE": "bash_complete", "COMP_WORDS": line, "COMP_CWORD": str(line.count(" "))}
    return _spent([*RUN, *words], environment, case.exits)


def _spent(run: list[str], environment: dict[str, str], exits: tuple[int, ...] = (0,)) -> tuple[float, float]:
    line = [sys.executable, "-c", LAUNCH, *run]
    code, said, spent_s, memory = json.loads(subprocess.run(line, capture_output=True, env=environment).stdout)
    if code not in exits:
        raise SystemExit(f"{run[-3:]}: {code}: {said}")
    return spent_s, memory


def bare_s(path: Path, statement: str) -> float:
    """Return the processor time of the same question as one statement, all rows fetched."""
    times = []
    with closing(sqlite3.connect(path)) as c:
        for _ in range(ROUNDS):
            start = time.process_time()
            c.execute(statement).fetchall()
            times.append(time.process_time() - start)
    return statistics.median(times)


def measured(path: Path) -> dict[str, tuple[float, float, float]]:
    """Return for each case: time above imports in seconds, time of the bare statement, memory in megabytes."""
    found = {}
    for name, case in CASES.items():
        imports = "import click" if case.completes else "import click, sqlalchemy"
        rounds = SLOW_ROUNDS if case.is_slow else ROUNDS
        floor = statistics.median(
            _spent([sys.executable, "-c", imports], dict(os.environ))[0] for _ in range(ROUNDS + 1)
        )
        cost(path, case)
        runs = [cost(path, case) for _ in range(rounds)]
        above = max(statistics.median(t for t, _ in runs) - floor, 0.001)
        found[name] = (above, bare_s(path, case.bare), max(m for _, m in runs))
    return found


def main(sizes: list[str]) -> None:
    """Build the stores and print a line for each command and size."""
    table = {}
    with tempfile.TemporaryDirectory() as folder:
        for size in sizes:
            count, tasks = SIZES[size]
            path = Path(folder) / size / "grown.db"
            build(path, count, tasks)
            print(f"{size}: {count:,} waypoints, {tasks:,} tasks, {path.stat().st_size / 1e6:.0f} MB", flush=True)
            table[size] = measured(path)
            path.unlink()
    first, last = sizes[0], sizes[-1]
    for name in CASES:
        print(name)
        for size in sizes:
            above, bare, memory = table[size][name]
            print(f"  {size:8}{above * 1000:10.0f} ms above imports{bare * 1000:10.1f} ms bare SQL{memory:8.0f} MB")
        if first != last:
            place = 1 if "tasks" in name else 0
            grown = SIZES[last][place] / SIZES[first][place]
            exponent = math.log(table[last][name][0] / table[first][name][0]) / math.log(grown)
            print(f"  growth exponent {exponent:.2f}")


if __name__ == "__main__":
    main(sys.argv[1:] or list(SIZES))
