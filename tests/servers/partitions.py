"""Does a partition for each set pay? One plain table of waypoint states against one that is partitioned by set:

    python -m tests.servers.partitions [SETS] [WAYPOINTS OF EACH]        (200 and 30,000: 8 GB in the temporary folder)

Both hold the same rows on one private cluster, built by COPY and analysed. Told for each command: processor time of the
command in this process and of the server, on each table, and the ratio of the sums. Between the two only the tables
differ: the primary key takes in the set, and a default partition takes the states of sets that come later.
"""

from __future__ import annotations

import io
import os
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import create_engine
from sqlalchemy.pool import NullPool

from taskdb.cli.main import main as taskdb
from taskdb.core.names import fold
from taskdb.errors import ExitCode
from taskdb.store.rows import words_of
from taskdb.store.schema_making import make_schema
from tests.servers.private import Cluster, cluster, sessions_s

LARGE = ("shared_buffers=1GB", "maintenance_work_mem=512MB", "max_wal_size=8GB", "autovacuum=off", "jit=off")
STEMS = ("Orm", "Kel", "Tann", "Greif", "Brux", "Varn", "Hohen", "Stein")
ENDS = ("sau", "ried", "wohr", "lohe", "feld", "berg", "tal", "kirch")
COLUMNS = (
    "id, set_id, identity, valid_from, operation_id, code, code_folded, name, name_folded, latitude_e7, longitude_e7"
)
ROUNDS = 3
QUICK, REPEATED = {"find", "show", "diff", "list"}, 3
ASKED = "s017"


@dataclass(frozen=True)
class Cost:
    """Processor time of the command itself and of its server, in seconds."""

    ours_s: float
    server_s: float

    @property
    def both_s(self) -> float:
        return self.ours_s + self.server_s


# -- two databases ----------------------------------------------------------------------------------------------------


def place(at: int, number: int, random_: random.Random) -> tuple[str, str, int, int]:
    """Return code, name, latitude and longitude of a waypoint of a set, which has a region of its own."""
    south, west = 47 + at % 10 * 0.15, 9 + at // 10 * 0.6  # far from any coast
    name = f"{random_.choice(STEMS)}{random_.choice(ENDS)} {number}"
    latitude, longitude = south + random_.random() * 3, west + random_.random() * 4.5
    return f"L{number:05d}", name, round(latitude * 1e7), round(longitude * 1e7)


def states(sets: int, each: int) -> Iterator[str]:
    """Yield the lines of all states as COPY reads them."""
    for at in range(sets):
        random_ = random.Random(at)
        for number in range(each):
            code, name, latitude, longitude = place(at, number, random_)
            state = at * each + number + 1
            yield (
                f"{state}\t{at + 1}\t{at:04x}{number:028x}\t1\t1\t{code}\t{code.lower()}\t{name}\t{name.lower()}"
                f"\t{latitude}\t{longitude}\n"
            )


def build(url: str, sets: int, each: int) -> None:
    """Make a store and fill it: so many sets, each with one revision."""
    code, name, *_ = place(0, 1, random.Random(0))
    if (fold(name), fold(code)) != (name.lower(), code.lower()) or set(words_of(name, code)) != set(fold(name).split()):
        raise SystemExit("what is folded is no longer what stands here: mend states()")
    with create_engine(url, poolclass=NullPool).begin() as c:
        make_schema(c)
        c.exec_driver_sql("INSERT INTO operation (at, author, command) VALUES ('2027-05-14T08:30:00Z', 'b', 'import')")
        c.exec_driver_sql(
            "INSERT INTO waypoint_set (name, newest, operation_id)"
            f" SELECT 's' || to_char(n, 'FM000'), 1, 1 FROM generate_series(0, {sets - 1}) n ORDER BY n"
        )
        c.exec_driver_sql(
            "INSERT INTO set_revision (set_id, number, operation_id, count, added, changed, retired)"
            f" SELECT id, 1, 1, {each}, {each}, 0, 0 FROM waypoint_set"
        )
        made = c.exec_driver_sql(
            "SELECT indexname, indexdef FROM pg_indexes"
            " WHERE tablename = 'waypoint_state' AND indexname NOT LIKE 'pk_%%'"
        ).all()
        for index, _ in made:
            c.exec_driver_sql(f"DROP INDEX {index}")
        copy(c, f"COPY waypoint_state ({COLUMNS}) FROM STDIN", states(sets, each))
        for _, definition in made:
            c.exec_driver_sql(definition)
        c.exec_driver_sql(
            "INSERT INTO waypoint_word SELECT DISTINCT word, id FROM waypoint_state,"
            " regexp_split_to_table(name_folded, ' ') word ORDER BY word, id"
        )
        c.exec_driver_sql(f"SELECT setval('waypoint_state_id_seq', {sets * each})")
    analyse(url)


def partition(url: str, sets: int) -> None:
    """Take the plain table apart: a partition for each set, and one for what comes later."""
    with create_engine(url, poolclass=NullPool).begin() as c:
        keys = c.exec_driver_sql(
            "SELECT conname, pg_get_constraintdef(oid) FROM pg_constraint"
            " WHERE conrelid = 'waypoint_state'::regclass AND contype IN ('f', 'c')"
        ).all()
        indexes = [
            definition
            for (definition,) in c.exec_driver_sql(
                "SELECT indexdef FROM pg_indexes WHERE tablename = 'waypoint_state' AND indexname NOT LIKE 'pk_%%'"
            )
        ]
        c.exec_driver_sql("ALTER TABLE waypoint_state RENAME TO plain_state")
        c.exec_driver_sql("ALTER SEQUENCE waypoint_state_id_seq OWNED BY NONE")
        c.exec_driver_sql(
            "CREATE TABLE waypoint_state (LIKE plain_state INCLUDING DEFAULTS) PARTITION BY LIST (set_id)"
        )
        for number in range(1, sets + 1):
            c.exec_driver_sql(f"CREATE TABLE state_of_{number} PARTITION OF waypoint_state FOR VALUES IN ({number})")
        c.exec_driver_sql("CREATE TABLE state_of_others PARTITION OF waypoint_state DEFAULT")
        c.exec_driver_sql("INSERT INTO waypoint_state SELECT * FROM plain_state")
        c.exec_driver_sql("DROP TABLE plain_state")
        c.exec_driver_sql("ALTER SEQUENCE waypoint_state_id_seq OWNED BY waypoint_state.id")
        c.exec_driver_sql("ALTER TABLE waypoint_state ADD CONSTRAINT pk_waypoint_state PRIMARY KEY (id, set_id)")
        for name, definition in keys:
            c.exec_driver_sql(f"ALTER TABLE waypoint_state ADD CONSTRAINT {name} {definition}")
        for definition in indexes:
            c.exec_driver_sql(definition)
    analyse(url)


def analyse(url: str) -> None:
    with create_engine(url, poolclass=NullPool, isolation_level="AUTOCOMMIT").connect() as c:
        c.exec_driver_sql("VACUUM ANALYZE")
        c.exec_driver_sql("CHECKPOINT")


def copy(c: Any, statement: str, lines: Iterator[str]) -> None:
    """Hand lines to COPY, a megabyte at a time."""
    with c.connection.driver_connection.cursor() as cursor, cursor.copy(statement) as out:
        some: list[str] = []
        for line in lines:
            some.append(line)
            if len(some) == 10_000:
                out.write("".join(some))
                some.clear()
        out.write("".join(some))


# -- commands on both -------------------------------------------------------------------------------------------------


def cost(server: Cluster, url: str, lines: list[list[str]]) -> Cost:
    """Run command lines in this process; return the mean cost of one."""
    before, began = sessions_s(server), time.process_time()
    for words in lines:
        said = io.StringIO()
        with redirect_stdout(said), redirect_stderr(said):
            code = taskdb([*words, "--store", url, "--author", "b"])
        if code not in (ExitCode.DONE, ExitCode.ACT):
            raise SystemExit(f"{words}: {code.name}: {said.getvalue()}")
    ours = time.process_time() - began
    time.sleep(0.3)  # until the last session has been waited for
    return Cost(ours / len(lines), (sessions_s(server) - before) / len(lines))


def cases(folder: Path, each: int) -> dict[str, Callable[[int], list[str]]]:
    """Return the commands by name; each is given the number of the round, since what is written must differ."""

    def table(name: str, rows: Iterator[str]) -> str:
        file = folder / name
        file.write_text("code,name,latitude_deg,longitude_deg\n" + "".join(rows))
        return str(file)

    def rows(at: int, moved: int = -1) -> Iterator[str]:
        random_ = random.Random(at)
        for number in range(each):
            code, name, latitude, longitude = place(at, number, random_)
            name += " Sud" * (moved >= 0 and number % 300 == moved)
            yield f"{code},{name},{latitude / 1e7:.7f},{longitude / 1e7:.7f}\n"

    again = [table(f"again{n}.csv", rows(17, n)) for n in range(ROUNDS)]
    new = table("new.csv", rows(3))
    return {
        "find a word that 1.6 % of all names have": lambda n: ["waypoint", "find", "ormsau", "--set", ASKED],
        "find a rare word": lambda n: ["waypoint", "find", f"ormsau {70 + n}", "--set", ASKED],
        "find within 25 km": lambda n: ["waypoint", "find", "--near", "49.5,11.5", "--within", "25km", "--set", ASKED],
        "show a waypoint by its code": lambda n: ["waypoint", "show", f"{ASKED}:L{n:05d}"],
        "show the set": lambda n: ["set", "show", ASKED, "--json"],
        f"import it again, {each // 300} changed": lambda n: ["set", "import", again[n], "--into", ASKED],
        "difference of two revisions": lambda n: ["set", "diff", f"{ASKED}@1", f"{ASKED}@2"],
        "check run": lambda n: ["check", "run", ASKED, "--fail-on", "never"],
        "retire one": lambda n: ["waypoint", "retire", f"{ASKED}:L{900 + n:05d}", "--yes"],
        "import a new set": lambda n: ["set", "import", new, "--into", f"new {n}"],
        "list the sets": lambda n: ["set", "list"],
    }


def main(words: list[str]) -> None:
    """Build both, run every command on both in turn, and print a line for each."""
    sets, each = [int(word) for word in words] or (200, 30_000)
    with cluster(*LARGE) as server, tempfile.TemporaryDirectory() as folder:
        os.environ["TASKDB_CACHE"] = folder
        maintenance = create_engine(server.url(), poolclass=NullPool, isolation_level="AUTOCOMMIT")
        with maintenance.connect() as c:
            c.exec_driver_sql("CREATE DATABASE plain")
            build(server.url("plain"), sets, each)
            c.exec_driver_sql("CREATE DATABASE parted TEMPLATE plain")
            partition(server.url("parted"), sets)
            for name in ("plain", "parted"):
                size = c.exec_driver_sql(f"SELECT pg_database_size('{name}')").scalar_one()
                print(f"{name}: {size / 1e9:.2f} GB", flush=True)
        for name, line in cases(Path(folder), each).items():
            found: dict[str, list[Cost]] = {"plain": [], "parted": []}
            for n in range(ROUNDS):
                for database, costs in found.items():
                    os.environ["TASKDB_CACHE"] = f"{folder}/{database}{n}"  # kept answers would be compared else
                    lines = [line(n)] * (REPEATED if line(n)[1] in QUICK else 1)  # the server's time comes in 10 ms
                    costs.append(cost(server, server.url(database), lines))
            told(name, found)


def told(name: str, found: dict[str, list[Cost]]) -> None:
    plain, parted = (
        Cost(statistics.median(c.ours_s for c in found[d]), statistics.median(c.server_s for c in found[d]))
        for d in ("plain", "parted")
    )
    print(
        f"{name:45}{plain.ours_s * 1000:8.0f} +{plain.server_s * 1000:6.0f} ms {parted.ours_s * 1000:8.0f}"
        f" +{parted.server_s * 1000:6.0f} ms  {parted.both_s / plain.both_s:6.2f}",
        flush=True,
    )


if __name__ == "__main__":
    main(sys.argv[1:])
