"""How long a large import takes, stage by stage, against the standard library's csv and sqlite3 in the same run.

python -m tests.benchmarks.bulk [ROWS]     (1,000,000 unless given). Processor time, so that what else runs on the
machine counts less; the ratio is what counts, not the seconds.
"""

from __future__ import annotations

import csv
import gc
import random
import resource
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from taskdb.core.history.changes import SetChanges
from taskdb.core.matching.match import match_waypoints
from taskdb.core.model import Position, Typed, Waypoint
from taskdb.services.desk import Desk, Write
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.store import sets
from taskdb.store.engine import NewOperation, open_store
from tests.benchmarks.figures import Figure, peak_mb, seconds

WHY_NEW = (
    "SQLite's own work is 2.7 floors (rows 0.9, five indexes 1.3, search words 0.5), reading the file 1.7, the rest "
    "what is made of rows: folded names and words, what was typed, checksums"
)
WHY_AGAIN = "reading the file takes 1.7 floors, reading the standing columns one"
WORDS = ("Alten", "Berg", "Brück", "Dorf", "Feld", "Hof", "Kirch", "Linde", "Mühle", "Ober", "Stein", "Tal", "Wald")


def rows(count: int) -> Iterator[tuple[str, str, str, str, str]]:
    """Yield invented rows: code, name, latitude and longitude as degree-minutes, elevation."""
    source = random.Random(1)
    for i in range(count):
        name = f"{source.choice(WORDS)}{source.choice(WORDS).lower()} {source.choice(WORDS)} {i % 9973}"
        latitude = f"{source.randrange(45, 55):02d} {source.randrange(60_000) / 1000:06.3f}N"
        longitude = f"{source.randrange(5, 16):03d} {source.randrange(60_000) / 1000:06.3f}E"
        yield f"{i:07d}", name, latitude, longitude, str(source.randrange(0, 3000))


def waypoints(path: Path) -> Iterator[Waypoint]:
    """Yield the file's rows as waypoints, parsed as cheaply as can be: the stage before is not what is measured."""
    with path.open(encoding="utf-8", newline="") as file:
        lines = csv.reader(file)
        next(lines)
        for number, (code, name, latitude, longitude, elevation) in enumerate(lines):
            position = Position.at(
                int(latitude[:2]) + float(latitude[3:9]) / 60, int(longitude[:3]) + float(longitude[4:10]) / 60
            )
            typed = Typed(latitude, longitude, "degree-minute", 3, elevation, "m")
            yield Waypoint(code, name, position, float(elevation), identity=f"{number:020x}", typed=typed)


def floor(path: Path, database: Path) -> None:
    """The standard library alone: rows of a CSV file into a table without a key or an index."""
    with path.open(encoding="utf-8", newline="") as file, sqlite3.connect(database) as raw:
        raw.execute("CREATE TABLE row (code TEXT, name TEXT, latitude TEXT, longitude TEXT, elevation TEXT)")
        lines = csv.reader(file)
        next(lines)
        raw.executemany("INSERT INTO row VALUES (?, ?, ?, ?, ?)", lines)
    raw.close()


def timed(label: str, work: Callable[[], object], unit_s: float | None) -> float:
    gc.collect()
    started = time.process_time()
    work()
    took = time.process_time() - started
    ratio = "" if unit_s is None else f"{took / unit_s:8.1f} × floor"
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{label:44}{took:8.2f} s{ratio}   peak so far {peak_mb:6.0f} MB", flush=True)
    return took


FLOOR = "csv + sqlite3"


def _file(path: Path, written: Iterable[tuple[str, ...]]) -> str:
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(("code", "name", "latitude", "longitude", "elevation_m"))
        writer.writerows(written)
    return str(path)


def _import_figures(count: int, folder: Path) -> list[Figure]:
    """Measure an import, the same file again, and the file renumbered, in this process."""
    first = _file(folder / "rows.csv", rows(count))
    other = _file(folder / "renumbered.csv", ((f"X{code}", *rest) for code, *rest in rows(count)))
    unit = seconds(lambda: floor(Path(first), folder / "floor.db"))
    desk = Desk(store_url=str(folder / "imported.db"), author="Ann")
    found = []
    for what, path, goal, most_mb, why in (
        ("into a new set", first, 5.0, 600.0, WHY_NEW),
        ("the same file again", first, 3.5, 600.0, WHY_AGAIN),
        ("every code changed", other, None, 1000.0, ""),
    ):
        request = ImportRequest(path=path, into="Large")
        took = seconds(lambda request=request: import_set(desk, request, Write(command="benchmark")))  # type: ignore[misc]
        found.append(Figure(f"set import of {count:,} rows, {what}", took, "s", FLOOR, unit, goal, why=why))
        found.append(Figure(f"set import of {count:,} rows, {what}: memory so far", peak_mb(), "MB", goal=most_mb))
    return found


def figures(count: int = 1_000_000) -> list[Figure]:
    """Measure imports of so many rows, and the memory of each."""
    with tempfile.TemporaryDirectory() as made:
        return _import_figures(count, Path(made))


def main(count: int, folder: Path) -> None:
    file = folder / "rows.csv"
    with file.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(("code", "name", "latitude", "longitude", "elevation_m"))
        writer.writerows(rows(count))
    unit = timed("floor: csv + sqlite3", lambda: floor(file, folder / "floor.db"), None)
    timed("parse only", lambda: sum(1 for _ in waypoints(file)), unit)
    store = open_store(str(folder / "store.db"))

    def write() -> None:
        with store.writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "benchmark")) as w:
            head = sets.create_set(w, "Large")
            sets.write_revision(w, head, SetChanges(added=waypoints(file)))

    timed("parse and write one revision", write, unit)
    desk = Desk(store_url=str(folder / "imported.db"), author="Ann")
    request = ImportRequest(path=str(file), into="Large")
    timed("set import, into a new set", lambda: import_set(desk, request, Write(command="benchmark")), unit)
    timed("set import, the same file again", lambda: import_set(desk, request, Write(command="benchmark")), unit)
    held: list[list[Waypoint]] = []

    def read() -> None:
        with store.reading() as c:
            held.append(sets.waypoints_at(c, 1, 1))

    timed("read the revision", read, unit)
    fresh = list(waypoints(file))
    for i, one in enumerate(fresh):
        fresh[i] = Waypoint(one.code, one.name, one.position)
    timed("match it to the same again", lambda: match_waypoints(held[0], fresh), unit)
    for i, one in enumerate(fresh):
        fresh[i] = Waypoint(f"X{one.code}", one.name, one.position)
    timed("match it renumbered", lambda: match_waypoints(held[0], fresh), unit)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000, Path(made))
