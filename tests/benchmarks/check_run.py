"""What `check run` costs on a large set, by the imports of the same run and by the bare load of as many rows.

python -m tests.benchmarks.check_run [COUNT…]     (30,000 and 1,000,000 unless given). Sets spread as those of
`growth`, without what was typed, and with it and elevations and sources. Processor time, largest memory.
"""

from __future__ import annotations

import os
import random
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from taskdb.core.checks.elevations import ground_at
from taskdb.core.history.changes import SetChanges
from taskdb.core.model import Feature, Landable, Position, Typed, Waypoint
from taskdb.reference.outlines import load_elevation_grid
from taskdb.store import sets
from taskdb.store.engine import open_store
from tests.benchmarks.bulk import floor as bare_load, rows
from tests.benchmarks.figures import RUN, Figure, seconds, spent, told
from tests.benchmarks.growth import AT, Case, cost, places

IMPORTS = "import click, sqlalchemy, pyproj, numpy"
CHECK = Case(("check", "run", "land", "--json"), "", exits=(0, 1))
MILLION_S, MILLION_MB, IMPORTS_OF_30_000 = 60.0, 600.0, 5.0
"""Goals: a quiet core's seconds of a million, megabytes, and the imports that 30,000 may take."""


def waypoints(count: int, is_typed: bool) -> Iterator[Waypoint]:
    """Yield invented waypoints, one in some ten square kilometres."""
    source = random.Random(count)
    spots = places(source, count)
    bare = (Waypoint(f"L{n:07d}", f"Ormsau {n}", at, country=land, identity=f"{n:032x}")
            for n, (at, land) in enumerate(spots))  # fmt: skip
    if not is_typed:
        yield from bare
        return
    grounds = ground_at(load_elevation_grid(), [at for at, _ in spots])
    for one, ground in zip(bare, grounds, strict=True):
        north, east = (round(value * 60_000) for value in (one.position.latitude_deg, one.position.longitude_deg))
        metres = round((ground.cell_m if ground else 0.0) + source.gauss(0, 40), 1)
        texts = [f"{abs(value) // 60_000:0{wide}d} {abs(value) % 60_000 / 1000:06.3f}{letters[value < 0]}"
                 for value, wide, letters in ((north, 2, "NS"), (east, 3, "EW"))]  # fmt: skip
        yield replace(
            one,
            position=Position.at(north / 60_000, east / 60_000),
            elevation_m=metres,
            landable=source.choice((None, *Landable)),
            feature=source.choice((None, *Feature)),
            source=source.choice(("survey", "charts", "web")),
            description=f"an invented place, number {one.code}, by a road",
            typed=Typed(texts[0], texts[1], "degrees-minutes", 3, str(metres), "m"),
        )


def build(path: Path, count: int, is_typed: bool) -> Path:
    """Make a store with a set `land` of so many waypoints."""
    path.parent.mkdir(parents=True)
    store = open_store(str(path))
    with store.writing(AT) as w:
        head = sets.create_set(w, "land")
        sets.write_revision(w, head, SetChanges(added=waypoints(count, is_typed)))
    return path


def interrupted_s(path: Path, after_s: float) -> tuple[int, float]:
    """Interrupt a check after so much processor time; return its exit code and what it took from then on."""
    environment = {**os.environ, "TASKDB_STORE": str(path)}
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell has it ignored in the background
    with subprocess.Popen([*RUN, *CHECK.words], stdout=subprocess.DEVNULL, env=environment) as process:
        while _spent_s(process.pid) < after_s and process.poll() is None:
            time.sleep(0.02)
        last = began = _spent_s(process.pid)
        process.send_signal(signal.SIGINT)
        while process.poll() is None:
            last = max(last, _spent_s(process.pid))
            time.sleep(0.005)
    return process.returncode, last - began


def _spent_s(pid: int) -> float:
    """Return the processor time of a process that runs (Linux)."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def imports_s() -> float:
    """Return the processor time of the imports that a check cannot do without, the median of five."""
    return statistics.median(spent([sys.executable, "-c", IMPORTS])[0] for _ in range(5))


def measured(folder: Path, count: int, is_typed: bool) -> list[Figure]:
    """Return what a check of so many costs."""
    path = build(folder / f"{count}{is_typed}" / "checked.db", count, is_typed)
    cost(path, CHECK)
    spent_s, memory_mb = cost(path, CHECK)
    what = f"`check run` of {count:,} waypoints" + (", typed, with elevations and sources" if is_typed else "")
    is_large = count >= 1_000_000
    found = [
        Figure(what, spent_s, floor="imports", floor_figure=imports_s(), goal=None if is_large else IMPORTS_OF_30_000)
    ]
    if is_large:
        load_s = seconds(lambda: bare_load(_table(folder, count), folder / f"bare{is_typed}.db"))
        found += [
            Figure(what, spent_s, floor="bare csv + sqlite3 load", floor_figure=load_s),
            Figure(f"{what}, processor time", spent_s, goal=MILLION_S),
            Figure(f"{what}, largest memory", memory_mb, "MB", goal=MILLION_MB),
        ]
        stops = [interrupted_s(path, share * spent_s) for share in (0.1, 0.3, 0.5, 0.7, 0.9)]
        found.append(Figure(f"{what}, interrupted: longest until exit 130", max(s for _, s in stops), goal=1.0))
    return found


def _table(folder: Path, count: int) -> Path:
    import csv

    path = folder / "rows.csv"
    if not path.exists():
        with path.open("w", encoding="utf-8", newline="") as out:
            csv.writer(out).writerows([("code", "name", "latitude", "longitude", "elevation_m"), *rows(count)])
    return path


def figures(counts: tuple[int, ...] = (30_000, 1_000_000)) -> list[Figure]:
    """Measure checks of sets of these sizes, bare and typed."""
    with tempfile.TemporaryDirectory() as made:
        return [one for count in counts for typed in (False, True) for one in measured(Path(made), count, typed)]


if __name__ == "__main__":
    told(figures(tuple(map(int, sys.argv[1:])) or (30_000, 1_000_000)))
