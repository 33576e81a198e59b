"""How commands grow with a store on a server: `python -m tests.servers.growth [small|medium|large]…`.

The stores and commands of tests.benchmarks.growth, dumped and loaded into a private cluster. Told for each command:
processor time of the command above the imports of the same run, that of its server, the largest memory of the command,
and the growth exponent of both times together from the first to the last store.
"""

from __future__ import annotations

import math
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

from sqlalchemy import create_engine
from sqlalchemy.pool import NullPool

from taskdb.store.dump import dump_lines, load_lines
from taskdb.store.engine import open_store
from tests.benchmarks.figures import RUN, Figure, spent, told
from tests.benchmarks.growth import CASES, SIZES, Case, build
from tests.servers.private import Cluster, cluster, sessions_s

ROUNDS, SLOW_ROUNDS = 5, 1
FLOOR = "import click, sqlalchemy, psycopg, sqlalchemy.dialects.postgresql.psycopg"
SETTINGS = ("shared_buffers=512MB", "maintenance_work_mem=512MB", "max_wal_size=8GB", "autovacuum=off", "jit=off")


def fill(server: Cluster, name: str, folder: Path) -> str:
    """Build a store of a size, bring it onto the server, and return its URL there."""
    path, url = folder / name / "grown.db", server.url(name)
    with create_engine(server.url(), poolclass=NullPool, isolation_level="AUTOCOMMIT").connect() as c:
        c.exec_driver_sql(f"CREATE DATABASE {name}")
    build(path, *SIZES[name])
    with open_store(str(path)).reading() as source, open_store(url).filling() as target:
        load_lines(target, dump_lines(source), name="dump")
    path.unlink()
    with create_engine(url, poolclass=NullPool, isolation_level="AUTOCOMMIT").connect() as c:
        c.exec_driver_sql("VACUUM ANALYZE")
        c.exec_driver_sql("CHECKPOINT")
    return url


def cost(server: Cluster, url: str, case: Case, folder: Path, floor_s: float) -> tuple[float, float, float]:
    """Return a command's time above imports, its server's time (seconds), and its largest memory (megabytes)."""
    environment = {**os.environ, "TASKDB_STORE": url}
    if not case.is_slow:
        spent([*RUN, *case.asked(folder)], environment, case.exits)
    before, rounds = sessions_s(server), SLOW_ROUNDS if case.is_slow else ROUNDS
    runs = []
    for n in range(rounds):
        kept = environment | {"TASKDB_CACHE": str(folder / f"{case.words}{n}")} if case.is_slow else environment
        runs.append(spent([*RUN, *case.asked(folder)], kept, case.exits))
    time.sleep(0.3)  # until the last session has been waited for
    above = max(statistics.median(t for t, _ in runs) - floor_s, 0.001)
    return above, (sessions_s(server) - before) / rounds, max(m for _, m in runs)


def figures(sizes: tuple[str, ...] = tuple(SIZES)) -> list[Figure]:
    """Return for each command its times on the largest of the stores, and the exponent since the smallest."""
    table: dict[str, dict[str, tuple[float, float, float]]] = {}
    cases = {name: case for name, case in CASES.items() if not case.completes}  # nothing is completed from a server
    with tempfile.TemporaryDirectory() as folder, cluster(*SETTINGS) as server:
        os.environ["TASKDB_CACHE"] = folder
        for size in sizes:
            url = fill(server, size, Path(folder))
            floor_s = statistics.median(spent([sys.executable, "-c", FLOOR])[0] for _ in range(7))
            table[size] = {
                name: cost(server, url, case, Path(folder, size), floor_s)
                for name, case in cases.items()
                if size in case.sizes
            }
            for name, (ours, theirs, memory) in table[size].items():
                print(f"{size:8}{name:24}{ours * 1000:9.0f} +{theirs * 1000:6.0f} ms{memory:7.0f} MB", flush=True)
    found, first, last = [], sizes[0], sizes[-1]
    for name in table[last]:
        ours, theirs, _ = table[last][name]
        place = 1 if "tasks" in name else 0
        grown = SIZES[last][place] / SIZES[first][place]
        before = sum(table[first][name][:2])
        exponent = math.log((ours + theirs) / before) / math.log(grown) if first != last else math.nan
        why = f"command {ours * 1000:.0f} ms above imports, server {theirs * 1000:.0f} ms"
        found.append(Figure(f"PostgreSQL, {last}: {name}, growth exponent", exponent, "", why=why))
    return found


if __name__ == "__main__":
    told(figures(tuple(sys.argv[1:]) or tuple(SIZES)))
