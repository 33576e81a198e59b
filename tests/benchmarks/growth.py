"""How commands grow with the store: `python -m tests.benchmarks.growth [small|medium|large]…`.

Three stores: 1,000 / 30,000 / 1,000,000 waypoints with 100 / 10,000 / 100,000 tasks. Told for each command: processor
time in ms above the imports of the same run, the same question as one bare SQL statement by the standard library, the
largest memory, and the growth exponent from the smallest to the largest store (0: no growth, 1: as the store).
"""

from __future__ import annotations

import math
import os
import random
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

from taskdb.core.checks.elevations import ground_at
from taskdb.core.checks.outlines import UNCODED, countries_at
from taskdb.core.geodesy import distance_m
from taskdb.core.history.changes import SetChanges
from taskdb.core.model import Landable, Position, Waypoint
from taskdb.reference.outlines import load_elevation_grid, load_outlines
from taskdb.services.desk import Write
from taskdb.services.tasks.task import NewTask, PointRequest, new_task
from taskdb.store import sets
from taskdb.store.engine import NewOperation, open_store
from tests import building
from tests.benchmarks.figures import RUN, spent
from tests.benchmarks.task_find import filled
from tests.flying import Way, log

SIZES = {"small": (1_000, 100), "medium": (30_000, 10_000), "large": (1_000_000, 100_000)}
ROUNDS = 5
SLOW_ROUNDS = 1
CHANGED = 100
AT = NewOperation("2027-05-14T08:30:00Z", "bench", "set import")
STEMS = ("Orm", "Kel", "Tann", "Greif", "Brüx", "Varn", "Hohen", "Stein")
ENDS = ("sau", "ried", "wöhr", "lohe", "feld", "berg", "tal", "kirch")


@dataclass(frozen=True)
class Case:
    """A command, and the same question in bare SQL where it is one; `completes` where it is a line to be completed.

    `{folder}` in words is that of the store. `sizes`: the stores that it is tried on.
    """

    words: tuple[str, ...]
    bare: str | None
    completes: bool = False
    is_slow: bool = False
    exits: tuple[int, ...] = (0,)
    sizes: tuple[str, ...] = tuple(SIZES)

    def asked(self, folder: Path) -> list[str]:
        """Return the words as they are typed where the store, and what was written for it, lies in `folder`."""
        return [word.replace("{folder}", str(folder)) for word in self.words]


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
    "find tasks, rate of finishers": Case(
        ("task", "find", "--finish-rate", "95..100", "--sort", "finish-rate", "--limit", "20"),
        "SELECT task_id FROM flown_record WHERE finishers * 100.0 / starters BETWEEN 95 AND 100",
    ),
    "show a task": Case(("task", "show", "Over"), None),
    "propose": Case(
        (
            "task",
            "propose",
            "--from",
            "land:L0000500",
            "--shape",
            "fai-triangle",
            "--distance",
            "60km..70km",
            "--set",
            "land",
        ),
        None,
    ),
    "cover": Case(("task", "cover", "Over", "--glide", "30", "--working-altitude", "1500m MSL"), None, exits=(0, 1)),
    "read a flight": Case(("flight", "read", "{folder}/flight.igc", "--task", "Over"), None),
    "publish": Case(("publish", "land", "--to", "{folder}/site"), None, is_slow=True, sizes=("small", "medium")),
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
    spots = places(random_, count)
    ground = ground_at(load_elevation_grid(), [at for at, _ in spots])
    state = [
        Waypoint(
            code=f"L{n:07d}",
            name=f"{random_.choice(STEMS)}{random_.choice(ENDS)} {n}" if n % 1_000 else f"Greifenbuch {n}",
            position=at,
            country=country,
            identity=f"{n:032x}",
            elevation_m=float((ground[n] and ground[n].cell_m) or 0),
            landable=Landable.NO if n % 10 else Landable.FIELD,
        )
        for n, (at, country) in enumerate(spots)
    ]
    store = open_store(str(path))
    with store.writing(AT) as w:
        head = sets.create_set(w, "land")
        sets.write_revision(w, head, SetChanges(added=state))
    changed = [(old, replace(old, name=f"{old.name} Süd")) for old in state[:: count // CHANGED][:CHANGED]]
    with store.writing(AT) as w:
        sets.write_revision(w, sets.set_head(w.connection, head.id), SetChanges(changed=changed))
    fly(path, state)


def fly(path: Path, state: Sequence[Waypoint]) -> None:
    """Save a triangle of some 70 km over the set, and a log that flies it."""
    home = state[500]
    first = next(w for w in state if 20_000 < distance_m(home.position, w.position) < 26_000)
    second = next(
        w for w in state if all(18_000 < distance_m(at.position, w.position) < 28_000 for at in (home, first))
    )
    course = [home, first, second, home]
    points = tuple(PointRequest(at.code) for at in course)
    new_task(building.desk(str(path)), NewTask("Over", points, set_reference="land"), Write("task new"))
    way = Way((home.position.latitude_deg - 0.02, home.position.longitude_deg), 36_000).stand(300)
    for at in course:
        way.to((at.position.latitude_deg, at.position.longitude_deg), 30)
    (path.parent / "flight.igc").write_bytes(log(way.stand(300).fixes(4.0)))


def cost(path: Path, case: Case) -> tuple[float, float]:
    """Return the processor time of one run of a command in seconds, and its largest memory in megabytes."""
    environment = {**os.environ, "TASKDB_STORE": str(path)}
    words = case.asked(path.parent)
    if case.completes:
        line = words.pop()
        environment |= {"_TASKDB_COMPLETE": "bash_complete", "COMP_WORDS": line, "COMP_CWORD": str(line.count(" "))}
    return spent([*RUN, *words], environment, case.exits)


def bare_s(path: Path, statement: str | None) -> float | None:
    """Return the processor time of the same question as one statement, all rows fetched; None where there is none."""
    if statement is None:
        return None
    times = []
    with closing(sqlite3.connect(path)) as c:
        for _ in range(ROUNDS):
            start = time.process_time()
            c.execute(statement).fetchall()
            times.append(time.process_time() - start)
    return statistics.median(times)


def measured(path: Path, size: str) -> dict[str, tuple[float, float | None, float]]:
    """Return for each case: time above imports in seconds, time of the bare statement, memory in megabytes."""
    found = {}
    for name, case in CASES.items():
        if size not in case.sizes:
            continue
        imports = "import click" if case.completes else "import click, sqlalchemy"
        rounds = SLOW_ROUNDS if case.is_slow else ROUNDS
        floor = statistics.median(spent([sys.executable, "-c", imports])[0] for _ in range(ROUNDS + 1))
        cost(path, case)
        runs = [cost(path, case) for _ in range(rounds)]
        above = max(statistics.median(t for t, _ in runs) - floor, 0.001)
        found[name] = (above, bare_s(path, case.bare), max(m for _, m in runs))
    return found


def main(sizes: list[str]) -> None:
    """Build the stores and print a line for each command, as a table."""
    table = {}
    with tempfile.TemporaryDirectory() as folder:
        for size in sizes:
            count, tasks = SIZES[size]
            path = Path(folder) / size / "grown.db"
            build(path, count, tasks)
            print(f"{size}: {count:,} waypoints, {tasks:,} tasks, {path.stat().st_size / 1e6:.0f} MB", flush=True)
            table[size] = measured(path, size)
            path.unlink()
    print("| command | " + " | ".join(f"{SIZES[size][0]:,}, {SIZES[size][1]:,}" for size in sizes), end=" | ")
    print("bare SQL | memory | exponent |\n| --- |" + " --- |" * (len(sizes) + 3))
    for name in CASES:
        found = [(size, *table[size][name]) for size in sizes if name in table[size]]
        (first, low, *_), (last, high, bare, memory) = found[0], found[-1]
        place = 1 if "tasks" in name else 0
        grown = math.log(SIZES[last][place] / SIZES[first][place])
        cells = [f"{1000 * table[size][name][0]:,.0f}" if name in table[size] else "" for size in sizes]
        cells += ["" if bare is None else f"{1000 * bare:,.1f}", f"{memory:,.0f} MB"]
        cells += [f"{math.log(high / low) / grown:.2f}" if grown else ""]
        print(f"| {name} | " + " | ".join(cells) + " |")


if __name__ == "__main__":
    main(sys.argv[1:] or list(SIZES))
