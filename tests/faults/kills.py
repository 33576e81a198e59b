"""Kills commands at random moments, and holds what is left against what was there and what was acknowledged.

    python -m tests.faults.kills [KILLS] [--store URL] [--seed N]        (500 on an SQLite file by default)

Imports, replacing imports, edits, tasks, carries, undos, airspaces, copied contests, flown results, accepted findings,
publications, and on a file upgrades, exports, backups, dumps and kept answers too, run as commands of their own and are
ended by SIGKILL, half of them within 20 ms of the first sign of writing. After each: the store is whole by `store
verify`, it holds all that was told as done and at most the one write that was under way, that one whole or not at all,
no file is half, nothing stays behind, and the next command works. `--store` names an empty database of a server.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
import os
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from pathlib import Path
from unittest import mock

from sqlalchemy import text

from taskdb.cli.main import main as taskdb
from taskdb.disk.private import clear_left_behind, is_private
from taskdb.errors import TaskdbError
from taskdb.services.desk import Desk, Write
from taskdb.services.sets.history import label_set
from taskdb.services.sets.set import show_set
from taskdb.services.store.verify import verify_store
from taskdb.store import opening, upgrade
from taskdb.store.dump import TABLES
from taskdb.store.engine import open_store
from taskdb.store.upgrade import migrations_folder
from taskdb.store.version import NEWEST
from tests.faults.moments import LONGEST_S, Ended, Killer, Line, kill_on_server, written_into
from tests.forked import Forked, command
from tests.logbook import day_of_flights, written

DEMO = Path(__file__).parents[2] / "demo"
ROWS = 1_200
TASKS = 6
CUP = (
    ("set", "import", DEMO / "region.csv", "--into", "varn"),
    ("contest", "new", "Cup", "--set", "varn", "--timezone", "Europe/Berlin", "--start", "line 8km",
     "--finish", "cylinder 3km"),
    ("contest", "day", "Cup", "1", "--date", "2027-06-14"),
    ("task", "new", "A1", "001", "004", "003", "001", "--contest", "Cup", "--day", "1"),
)  # fmt: skip
NEXT_SCHEMA = f"{int(NEWEST) + 1:04d}"

MIGRATION = f'''
import sqlalchemy as sa
from alembic import op

revision = "{NEXT_SCHEMA}"
down_revision = "{NEWEST}"


def upgrade():
    with op.batch_alter_table("waypoint_set", recreate="auto") as batch:
        batch.alter_column("newest", existing_type=sa.Integer(), type_=sa.BigInteger())
        batch.add_column(sa.Column("remark", sa.Text()))
'''


def upgraded(migrations: Path, words: list[str]) -> None:
    """Run a command line with one more migration, invented here, which rebuilds a table that others refer to."""
    upgrade.migrations_folder = lambda: migrations
    for module in (upgrade, opening):
        module.NEWEST = NEXT_SCHEMA
    command(words)


class Broken(AssertionError):
    """A promise that was not kept."""


@dataclass
class Tally:
    """How the kills fell: before anything was kept, after, or too late; by kind of command."""

    kills: int = 0
    fell: Counter[str] = field(default_factory=Counter)


class Range:
    """A store with sets and tasks, a folder of its own, and the commands that are killed there."""

    def __init__(self, folder: Path, source: random.Random, url: str | None) -> None:
        self.folder = folder
        self.source = source
        self.store = url or str(folder / "store.db")
        self.opened = open_store(self.store)
        self.killer = Killer(source, self.environment())
        self.rounds = 0
        self.files: list[Path] = []
        for number in range(4):
            path = folder / f"rows{number}.csv"
            path.write_text(_rows(number), encoding="utf-8")
            self.files.append(path)
        self.run("set", "import", self.files[0], "--into", "region")
        for number in range(TASKS):
            codes = [f"{(number * 37 + step * 211) % ROWS:05d}" for step in range(4)]
            self.run("task", "new", f"T{number}", *codes, codes[0], "--set", "region")
        migrations = folder / "migrations"
        shutil.copytree(migrations_folder(), migrations, ignore=shutil.ignore_patterns("__pycache__"))
        (migrations / "versions" / f"{NEXT_SCHEMA}_invented.py").write_text(MIGRATION)
        self.run("export", "task", "--all", "--format", "gpx,geojson", "--to", folder / "out")
        self.logs = written(folder / "logs", day_of_flights())
        for words in CUP:
            self.run(*words)

    # -- commands ------------------------------------------------------------------------------------------------

    def environment(self) -> dict[str, str]:
        own = {"TASKDB_STORE": self.store, "TASKDB_AUTHOR": "Ann", "TASKDB_CACHE": str(self.folder / "cache")}
        return {**os.environ, **own, "PYTHONDONTWRITEBYTECODE": "1"}

    def run(self, *words: object) -> str:
        """Run a command to its end, in this process; it must be done. Return what it says."""
        said = io.StringIO()
        with mock.patch.dict(os.environ, self.environment()), redirect_stdout(said), redirect_stderr(said):
            code = taskdb(list(map(str, words)))
        if code not in (0, 1):
            raise Broken(f"{' '.join(map(str, words))}: {code}: {said.getvalue()}")
        return said.getvalue()

    def _line(self, words: Iterable[object]) -> Line:
        return command, list(map(str, words))

    def kill_one(self, line: Line, kind: str) -> bool:
        """Start a command and kill it; say whether it told that it was done."""
        if self.opened.is_sqlite:
            return self.killer.kill(line, kind, lambda: written_into(self.folder))
        return kill_on_server(self.killer, line, kind, self.opened)

    # -- what must hold ------------------------------------------------------------------------------------------

    def rows(self) -> dict[str, int]:
        """Return how many rows each table holds."""
        with self.opened.reading() as c:
            return {name: int(c.scalar(text(f"SELECT count(*) FROM {name}")) or 0) for name in TABLES}

    def require_whole_store(self) -> None:
        found = verify_store(Desk(self.store, "Ann"))
        if found.total:
            raise Broken(f"the store is not whole: {found.problems[:5]}")

    def require_next_command_works(self) -> None:
        """Write something that changes no waypoint and no task, and waits for nobody."""
        label_set(Desk(self.store, "Ann", wait_s=0), "region@1", f"after {self.rounds}", None, Write("set label"))

    def require_imported(self, name: str, file: Path) -> None:
        """Hold the newest revision of a set against the file that was imported into it."""
        there = {one.code: one.name for one in show_set(Desk(self.store, "Ann"), name).waypoints}
        if there != dict(line.split(",")[:2] for line in file.read_text(encoding="utf-8").splitlines()[1:]):
            raise Broken(f"{name}: its import was kept, but is not there as it stands in the file")

    def require_whole_backups(self) -> None:
        """Verify the newest of the store's automatic backups."""
        for path in sorted(self.folder.glob("store.db.backups/*.db"))[-1:]:
            if verify_store(Desk(str(path), "Ann")).total:
                raise Broken(f"the automatic backup {path.name} is not whole")

    def _whole(self, folder: Path) -> dict[str, str]:
        return {
            path.name: hashlib.sha256(path.read_bytes()).hexdigest()
            for path in sorted(folder.iterdir())
            if path.is_file() and not path.name.startswith(".")
        }

    # -- kinds ---------------------------------------------------------------------------------------------------

    def write(self, kind: str) -> str:
        """Kill a command that writes into the store."""
        self.rounds += 1
        before = self.rows()
        told = self.kill_one(self._line([*self._words(kind), "--json"]), kind)
        after = self.rows()
        self.require_whole_store()
        is_kept = after["operation"] == before["operation"] + 1
        if not is_kept and after != before:
            raise Broken(f"{kind}: no operation more, or several, and other rows: {before} became {after}")
        if told and not is_kept:
            raise Broken(f"{kind}: it said that it was done, and it is not there")
        if is_kept and kind in ("import", "change", "replace"):
            self.require_imported(*(("region", self._changed()) if kind != "import" else self._import()))
        if kind in ("replace", "undo"):
            self.require_whole_backups()
        return "told" if told else "kept, not told" if is_kept else "nothing kept"

    def _words(self, kind: str) -> list[object]:
        name, file = self._import()
        words: dict[str, list[object]] = {
            "import": ["set", "import", file, "--into", name],
            "change": ["set", "import", self._changed(), "--into", "region"],
            "replace": ["set", "import", self._changed(), "--into", "region", "--mode", "replace", "--yes"],
            "edit": ["waypoint", "edit", "region:00007", "--name", f"Edited {self.rounds}", "--note", "x"],
            "task": ["task", "new", f"N{self.rounds}", "00001", "00007", "00100", "00001", "--set", "region"],
            "carry": ["task", "carry", *(f"T{n}" for n in range(TASKS)), "--to", "region"],
            "undo": ["undo"],
            "airspace": ["airspace", "import", DEMO / "airspace.geojson", "--into", f"air{self.rounds}"],
            "contest": ["contest", "copy", "Cup", f"Cup {self.rounds}", "--set", "varn", "--tasks"],
            "flown": ["flight", "read", self.logs, "--task", f"Flown {self.rounds}", "--save"],
            "accept": ["check", "accept", "region", "--rule", "round-coordinates", "--why", "seen"],
        }
        return words[kind]

    def _import(self) -> tuple[str, Path]:
        """Return the name of this round's new set, and the file for it."""
        return f"region{self.rounds}", self.files[1 + self.rounds % 3]

    def _changed(self) -> Path:
        path = self.folder / "changed.csv"
        path.write_text(_rows(self.rounds), encoding="utf-8")
        return path

    def carry(self) -> str:
        self.run("waypoint", "edit", "region:00007", "--name", f"Moved on {self.rounds}")
        return self.write("carry")

    def undo(self) -> str:
        self.run("waypoint", "edit", "region:00009", "--name", f"To be undone {self.rounds}")
        return self.write("undo")

    def flown(self) -> str:
        self.run("task", "copy", "Cup:A1", f"Flown {self.rounds + 1}")
        return self.write("flown")

    def accept(self) -> str:
        fell = self.write("accept")
        if fell != "nothing kept":
            self.run("check", "accept", "region", "--rule", "round-coordinates", "--take-back")
        return fell

    def answer(self) -> str:
        """Kill a look at a task while what the checks of its set said is being kept; the next look says the same."""
        words = ["task", "review", "Cup:A1", "--json"]
        before = self.run(*words)
        cache = self.folder / "cache"
        shutil.rmtree(cache, ignore_errors=True)
        told = self.kill_one(self._line(words), "answer")
        kept = [path for path in cache.glob("*") if not path.name.startswith(".")]
        for path in kept:
            try:
                json.loads(path.read_bytes())
            except ValueError:
                raise Broken(f"answer: {path.name} is kept and is half") from None
        if self.run(*words) != before:
            raise Broken("answer: the next look says something else")
        self._require_nothing_left(cache, "answer")
        return "told" if told else "kept, not told" if kept else "nothing kept"

    def publish(self, kind: str) -> str:
        """Kill a publication over an earlier one; the next writer puts a half one back, and nobody is asked."""
        self.rounds += 1
        target = self.folder / f"site of {kind}"
        words = ["publish", *(["--contest", "Cup"] if kind == "publish contest" else ["varn"]), "--to"]
        if not target.exists():
            self.run(*words, target)
        if kind == "publish contest":
            self.run("task", "edit", "Cup:A1", "--time", f"2:{self.rounds % 60:02d}")
        else:
            self.run("waypoint", "edit", "varn:001", "--name", f"Published {self.rounds}")
        before = self._whole_tree(target)
        told = self.kill_one(self._line([*words, target, "--json"]), kind)
        fell = self._whole_tree(target)
        clear_left_behind(target)
        left = self._whole_tree(target)
        self.run(*words, target)
        after = self._whole_tree(target)
        if left not in (before, after):
            raise Broken(f"{kind}: the folder is neither as before nor as it should be")
        if told and left != after:
            raise Broken(f"{kind}: it said that it was done, and it is not")
        self.run("export", "verify", target)
        self._require_nothing_left(target, kind)
        if left == after:
            return "told" if told else "kept, not told"
        return "nothing kept" if fell == before else "half, and put back"

    def _whole_tree(self, folder: Path) -> dict[str, str]:
        return {
            path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in sorted(folder.rglob("*"))
            if path.is_file() and not is_private(path.relative_to(folder).parts[0])
        }

    def _require_nothing_left(self, folder: Path, kind: str) -> None:
        if strays := [path.name for path in folder.glob(".*")]:
            raise Broken(f"{kind}: {strays} are left behind after the next command")

    def upgrade(self) -> str:
        """Kill an upgrade of a copy; the copy must stand at one schema or the other, with every row."""
        self.rounds += 1
        copy = self.folder / f"older{self.rounds}.db"
        self.run("store", "backup", copy)
        line: Line = upgraded, self.folder / "migrations", ["store", "upgrade", "--json", "--store", str(copy)]
        told = self.kill_one(line, "upgrade")
        with open_store(str(copy)).engine.connect() as c:
            if c.exec_driver_sql("PRAGMA integrity_check").scalar() != "ok":
                raise Broken("upgrade: the file is damaged")
            revision = c.scalar(text("SELECT version_num FROM alembic_version"))
            has_column = "remark" in c.execute(text("SELECT * FROM waypoint_set LIMIT 0")).keys()  # noqa: SIM118
            counts = [c.scalar(text(f"SELECT count(*) FROM {t}")) for t in ("waypoint_state", "set_revision", "task")]
        if revision not in (NEWEST, NEXT_SCHEMA) or has_column != (revision == NEXT_SCHEMA):
            raise Broken(f"upgrade: half done, {revision} with the column: {has_column}")
        with open_store(str(self.store)).reading() as c:
            if counts != [
                c.scalar(text(f"SELECT count(*) FROM {t}")) for t in ("waypoint_state", "set_revision", "task")
            ]:
                raise Broken("upgrade: rows are lost")
        if told and revision != NEXT_SCHEMA:
            raise Broken("upgrade: it said that it was done, and it is not")
        again = Forked(*line, env=self.environment())
        if not again.ended_within(LONGEST_S) or again.returncode != 0:
            raise Broken(f"upgrade: the next one ended with {again.returncode}: {again.said()}")
        again.said()
        for path in self.folder.glob(f"{copy.name}*"):
            shutil.rmtree(path) if path.is_dir() else path.unlink()
        return "told" if told else "kept, not told" if revision == NEXT_SCHEMA else "nothing kept"

    def export(self) -> str:
        """Kill an export over an earlier one: every file there is one that was exported, whole."""
        target = self.folder / "out"
        if self.source.random() < 0.3:
            shutil.rmtree(target)
        self.run("task", "refresh", *(f"T{n}" for n in range(TASKS)))
        before = {} if not target.exists() else self._whole(target)
        self.run("export", "task", "--all", "--format", "gpx,geojson", "--to", self.folder / "right", "--yes")
        after = self._whole(self.folder / "right")
        words = ["export", "task", "--all", "--format", "gpx,geojson", "--to", target, "--yes"]
        told = self.kill_one(self._line([*words, "--json"]), "export")
        left = self._whole(target) if target.exists() else {}
        for name, digest in left.items():
            if name != "MANIFEST.json" and digest not in (before.get(name), after.get(name)):
                raise Broken(f"export: {name} is neither as before nor as it should be")
        if told and any(left.get(name) != digest for name, digest in after.items()):
            raise Broken("export: it said that it was done, and it is not")
        self.run(*words)
        self.run("export", "verify", target)
        self._require_nothing_left(target, "export")
        shutil.rmtree(self.folder / "right")
        return (
            "told" if told else "kept, not told" if left == after and left != before else "nothing kept or some of it"
        )

    def copy(self, kind: str) -> str:
        """Kill a backup, a dump or a pack: the file is there whole, the old one or the new one, or not at all."""
        path = self.folder / ("out.zip" if kind == "pack" else f"copy-of-{kind}")
        if self.source.random() < 0.5:
            path.unlink(missing_ok=True)
        before = path.stat() if path.exists() else None
        words = ["export", "task", "--all", "--format", "gpx,csv", "--to"] if kind == "pack" else ["store", kind]
        told = self.kill_one(self._line([*words, path, "--yes", "--json"]), kind)
        after = path.stat() if path.exists() else None
        is_new = after is not None and (before is None or after.st_ino != before.st_ino)
        if told and not is_new:
            raise Broken(f"{kind}: it said that it was done, and there is no new file")
        if before is not None and after is None:
            raise Broken(f"{kind}: the older file is gone")
        if after is not None:
            self._require_whole_copy(kind, path)
        return "told" if told else "kept, not told" if is_new else "nothing kept"

    def _require_whole_copy(self, kind: str, path: Path) -> None:
        if kind == "pack":
            self.run("export", "verify", path)
        elif kind == "dump":
            self.run("store", "load", path, "--store", self.folder / "loaded.db")
            for left in self.folder.glob("loaded.db*"):
                left.unlink()
        elif verify_store(Desk(str(path), "Ann")).total:
            raise Broken("backup: the copy is not whole")

    def kinds(self) -> dict[str, Callable[[], str]]:
        """Return everything that is killed, by name."""
        writes = {
            kind: (lambda kind=kind: self.write(kind))
            for kind in ("import", "change", "replace", "edit", "task", "airspace", "contest")
        }
        sites = {kind: (lambda kind=kind: self.publish(kind)) for kind in ("publish set", "publish contest")}
        of_files = {
            **{kind: (lambda kind=kind: self.copy(kind)) for kind in ("backup", "dump", "pack")},
            **sites,
            "upgrade": self.upgrade,
            "export": self.export,
            "answer": self.answer,
        }
        return {
            **writes,
            "carry": self.carry,
            "undo": self.undo,
            "flown": self.flown,
            "accept": self.accept,
            **(of_files if self.opened.is_sqlite else {}),
        }


def _rows(number: int) -> str:
    source = random.Random(number)
    rows = ["code,name,latitude_deg,longitude_deg,elevation_m"]
    for i in range(ROWS):
        name = f"Field {i}" if source.random() < 0.7 else f"Field {i} of {number}"
        rows.append(f"{i:05d},{name},{45 + i * 0.001:.7f},{10 + (i * 7 % ROWS) * 0.001:.7f},{300 + i % 90}")
    return "\n".join(rows) + "\n"


def kill(kills: int, seed: int, url: str | None = None, say: Callable[[str], None] = print) -> Tally:
    """Kill so many commands, of each kind in turn; raise Broken where a promise was not kept.

    `url` is an empty database of a server; without it an SQLite file is made.
    """
    source = random.Random(seed)
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        ground = Range(Path(folder), source, url)
        kinds = ground.kinds()
        order = [kind for _ in range(kills // len(kinds) + 1) for kind in source.sample(sorted(kinds), len(kinds))]
        for number, kind in enumerate(order[:kills], start=1):
            try:
                if kind not in ground.killer.usual_s:
                    kinds[kind]()
                fell = kinds[kind]()
                ground.require_next_command_works()
            except (Broken, Ended, TaskdbError) as broken:
                raise Broken(f"seed {seed}, kill {number}, {kind}: {broken}") from None
            tally.kills += 1
            tally.fell[f"{kind}: {fell}"] += 1
            if number % 50 == 0:
                say(f"{number} kills: {_by_moment(tally)}")
    return tally


def _by_moment(tally: Tally) -> str:
    """Return how many kills fell before anything was kept, between that and the answer, and too late."""
    moments: Counter[str] = Counter()
    for fell, count in tally.fell.items():
        moments[fell.partition(": ")[2]] += count
    return "; ".join(f"{moment} {count}" for moment, count in sorted(moments.items()))


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("kills", nargs="?", type=int, default=500)
    parser.add_argument("--store", help="an empty database of a server; an SQLite file of its own without")
    parser.add_argument("--seed", type=int, default=random.randrange(10**6))
    given = parser.parse_args()
    began = time.monotonic()
    tally = kill(given.kills, given.seed, given.store)
    for fell, count in sorted(tally.fell.items()):
        print(f"  {fell}: {count}")
    took = time.monotonic() - began
    print(f"seed {given.seed}: {tally.kills} kills in {took:.0f} s; nothing lost, nothing half; {_by_moment(tally)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
