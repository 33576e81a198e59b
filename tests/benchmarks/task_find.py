"""Finding tasks among many, as ratios: `python -m tests.benchmarks.task_find [TASKS]`.

The floor is one look through all newest revisions by the standard library alone. Told is each search beyond start-up,
the store opened anew; the store is filled by direct inserts. Goals at 100,000 tasks: 300 ms, with --like 1,000 ms.
"""

from __future__ import annotations

import random
import sqlite3
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from taskdb.core.filters.tasks import Order, Range, Sector, TaskFilter, task_words
from taskdb.core.model import Rules, ShapeKind, Status, TaskType
from taskdb.services.contests.contest import NewContest, new_contest
from taskdb.services.desk import Desk, Write
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks.finding import TaskFindRequest, find_tasks
from taskdb.store.rows import rules_json, to_json
from tests.benchmarks.figures import Figure, median_s, told

POINTS = 2_000
CONTESTS = 50
ROUNDS = 5


def codes(random_: random.Random) -> list[tuple[str, str, int, int]]:
    """Return code, name and position in 1e-7 degree of an invented region of 3 by 4 degrees."""
    names = ("Orm", "Kel", "Tann", "Greif", "Brüx", "Varn", "Hohen", "Stein")
    ends = ("sau", "ried", "wöhr", "lohe", "feld", "berg", "tal", "kirch")
    return [
        (
            f"{number:04d}",
            f"{random_.choice(names)}{random_.choice(ends)} {number}",
            round(random_.uniform(47.5, 50.5) * 1e7),
            round(random_.uniform(9, 13) * 1e7),
        )
        for number in range(POINTS)
    ]


def filled(folder: Path, amount: int, contests: int = CONTESTS) -> str:
    """Return the address of a store with that many tasks of four to six points, half of them flown."""
    store, random_ = folder / "store.sqlite", random.Random(7)
    points = codes(random_)
    file = folder / "points.csv"
    rows = (f"{code},{name},{lat / 1e7:.7f},{lon / 1e7:.7f}\n" for code, name, lat, lon in points)
    file.write_text("code,name,latitude_deg,longitude_deg\n" + "".join(rows), encoding="utf-8")
    import_set(Desk(str(store), "benchmark"), ImportRequest(str(file), "region"), Write("import"))
    for number in range(contests):
        new_contest(Desk(str(store), "benchmark"), NewContest(f"Cup {1981 + number}", "region"), Write("contest new"))
    with sqlite3.connect(store) as c:
        operation, set_id = (c.execute(f"SELECT max(id) FROM {t}").fetchone()[0] for t in ("operation", "waypoint_set"))
        identities = dict(c.execute("SELECT code, identity FROM waypoint_state").fetchall())
        tasks = list(_tasks(random_, points, identities, amount, contests))
        _insert(c, "task", [{**t["head"], "operation_id": operation} for t in tasks])
        common = {"operation_id": operation, "set_id": set_id, "set_revision": 1, "number": 1, "retired": False}
        _insert(c, "task_revision", [{**t["revision"], **common} for t in tasks])
        _insert(c, "task_point", [point for t in tasks for point in t["points"]])
        _insert(c, "flown_record", [{**r, "operation_id": operation} for t in tasks for r in t["flown"]])
    c.close()
    return str(store)


def _insert(c: sqlite3.Connection, table: str, rows: list[dict[str, Any]]) -> None:
    names = list(rows[0])
    quoted = ", ".join(f'"{name}"' for name in names)
    marks = ", ".join("?" for _ in names)
    c.executemany(f"INSERT INTO {table} ({quoted}) VALUES ({marks})", [tuple(row.values()) for row in rows])


def _tasks(
    random_: random.Random,
    points: list[tuple[str, str, int, int]],
    identities: dict[str, str],
    amount: int,
    contests: int,
) -> Iterator[dict[str, Any]]:
    rules, zone = rules_json(Rules()), '{"shape":"cylinder","text":"cylinder 500m","radius_m":500}'
    for number in range(1, amount + 1):
        turns = random_.sample(points, random_.choice((2, 2, 3, 4)))
        home = points[random_.randrange(40)]
        course = [home, *turns, home]
        tags = random_.sample(("wave", "ridge", "flat", "blue", "long", "short"), 2)
        name = f"{random_.choice('ABC')}{number}"
        words = task_words(name, tuple(tags), tuple(p[0] for p in course), tuple(p[1] for p in course))
        is_area = number % 3 == 0
        task_m = random_.uniform(100e3, 700e3)
        yield {
            "head": {"id": number, "contest_id": number % contests + 1, "name": name, "newest": 1},
            "revision": {
                "task_id": number,
                "name": name,
                "contest_revision": 1,
                "type": (TaskType.ASSIGNED_AREA if is_area else TaskType.RACING).value,
                "day": number % 12 + 1,
                "class": random_.choice(("open", "club")),
                "variant": random_.choice("ABC"),
                "status": random_.choice(list(Status)).value,
                "time_s": 10_800 if is_area else None,
                "speed_kmh": None if is_area else random_.uniform(70, 120),
                "rules": rules,
                "tags": to_json(sorted(tags)),
                "words": f" {words} ",
                "fingerprint": f"{number:08d}",
                "centres_m": task_m,
                "task_m": task_m,
                "minimum_m": task_m * 0.8,
                "maximum_m": task_m * 1.2,
                "shape": random_.choice(list(ShapeKind)).value,
                "fai_triangle": random_.random() < 0.2,
                "first_course_deg": random_.uniform(0, 360),
            },
            "points": [
                {
                    "task_id": number,
                    "revision": 1,
                    "number": index,
                    "role": "start" if index == 0 else "finish" if index == len(course) - 1 else "turn",
                    "identity": identities[code],
                    "code": code,
                    "name": place,
                    "latitude_e7": lat,
                    "longitude_e7": lon,
                    "zone_text": "cylinder 500m",
                    "zone_resolved": zone,
                    "zone_from": "own",
                }
                for index, (code, place, lat, lon) in enumerate(course)
            ],
            "flown": [
                {
                    "task_id": number,
                    "flown_on": f"20{random_.randrange(10, 27)}-0{random_.randrange(4, 10)}-1{random_.randrange(10)}",
                    "wind_from_deg": random_.uniform(0, 360),
                    "wind_speed_kmh": 20.0,
                    "starters": 40,
                    "finishers": random_.randrange(41),
                    "withdrawn": False,
                }
                for _ in range(random_.choice((0, 0, 1, 2)))
            ],
        }


def searches(store: str) -> dict[str, TaskFindRequest]:
    """Return the searches by name, as they would be typed."""
    with sqlite3.connect(store) as c:
        name = c.execute("SELECT name FROM task WHERE id = 77").fetchone()[0]
    c.close()
    wide = TaskFilter(distance_m=Range(300e3, 350e3), heading=Sector(270, 330), type=TaskType.RACING)
    return {
        "--contest C": TaskFindRequest(TaskFilter(contest="Cup 1999")),
        "--through CODE": TaskFindRequest(through=("0500",)),
        "--through CODE (a start)": TaskFindRequest(through=("0005",)),
        "--near PLACE --within 5km": TaskFindRequest(near="0700", within_m=5_000),
        "--text two words": TaskFindRequest(TaskFilter(text="ormsau wave")),
        "--distance --heading --type": TaskFindRequest(wide),
        "the same, --limit 20": TaskFindRequest(wide, limit=20),
        "--tag --fai --shape": TaskFindRequest(
            TaskFilter(tags=("wave",), is_fai_triangle=True, shape=ShapeKind.TRIANGLE)
        ),
        "--duration, --class --day": TaskFindRequest(
            TaskFilter(duration_s=Range(10_000, 11_000), class_name="club", day=3)
        ),
        "--flown-after --wind-from": TaskFindRequest(TaskFilter(flown_after="2026-06-01", wind_from=Sector(200, 260))),
        "--finish-rate": TaskFindRequest(TaskFilter(finish_rate_percent=Range(95, 100))),
        "all of it, --limit 20": TaskFindRequest(limit=20),
        "all, --sort finish-rate, 20": TaskFindRequest(order=Order.FINISH_RATE, limit=20),
        "all of it": TaskFindRequest(),
        "--like TASK": TaskFindRequest(like=name),
        "--like TASK --distance": TaskFindRequest(TaskFilter(distance_m=Range(200e3, 400e3)), like=name),
    }


def search_ms(store: str, request: TaskFindRequest) -> tuple[float, int]:
    """Return how long a search takes with the store opened anew, the median of some rounds, and how many it finds."""
    found: list[int] = []
    took = median_s(lambda: found.append(find_tasks(Desk(store, "benchmark"), request).total), ROUNDS)
    return 1000 * took, found[-1]


def look_through(store: str) -> None:
    """Look through the newest revisions by the standard library alone."""
    with sqlite3.connect(store) as c:
        c.execute(
            "SELECT count(*) FROM task JOIN task_revision r ON r.task_id = task.id AND r.number = task.newest"
            " WHERE r.words LIKE '% ormsau%' AND NOT r.retired"
        ).fetchone()
    c.close()


def figures(amount: int = 100_000) -> list[Figure]:
    with tempfile.TemporaryDirectory() as folder:
        store = filled(Path(folder), amount)
        floor = 1000 * median_s(lambda: look_through(store), ROUNDS)
        made = [
            Figure(
                f"one look through {amount:,} tasks in bare SQL, {Path(store).stat().st_size / 1e6:.0f} MB", floor, "ms"
            )
        ]
        for name, request in searches(store).items():
            took, found = search_ms(store, request)
            goal = None if name == "all of it" else 1000 if "like" in name else 300
            why = "its lines are what takes time: the search alone is a sixth" if name == "--finish-rate" else ""
            made.append(Figure(f"task find {name} ({found:,} found)", took, "ms", goal=goal, why=why))
    return made


if __name__ == "__main__":
    told(figures(*map(int, sys.argv[1:])))
