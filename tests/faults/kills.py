"""Kills commands at random moments, and holds what is left against what was there and what was acknowledged.

    python -m tests.faults.kills [KILLS] [--seed N]        (500 by default)

Imports, replacing imports, edits, carries, undos, upgrades, exports, backups and dumps run as commands of their own and
are ended by SIGKILL. After each: the store is whole by `store verify`, the journal holds all that was told as done and
at most the one that was under way, no file is half, and the next command works.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import text

from taskdb.files.writing import STRAY_AFTER_S
from taskdb.services.desk import Desk
from taskdb.services.verify import verify_store
from taskdb.store.engine import open_store
from taskdb.store.upgrade import migrations_folder
from taskdb.store.version import NEWEST

ROWS = 1_200
TASKS = 6
NEXT_SCHEMA = f"{int(NEWEST) + 1:04d}"

# Runs `store upgrade` with one more migration, invented here, which rebuilds a table that others refer to.
UPGRADE = """
import sys
from pathlib import Path
from taskdb.store import opening, upgrade
folder, schema = Path(sys.argv[1]), sys.argv[2]
upgrade.migrations_folder = lambda: folder
for module in (upgrade, opening):
    module.NEWEST = schema
sys.argv[1:] = sys.argv[3:]
from taskdb.cli.main import run
run()
"""
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


class Broken(AssertionError):
    """A promise that was not kept."""


@dataclass
class Tally:
    """How the kills fell: before anything was kept, after, or too late; by kind of command."""

    kills: int = 0
    fell: Counter[str] = field(default_factory=Counter)


class Range:
    """A store with sets and tasks in a folder of its own, and the commands that are killed on it."""

    def __init__(self, folder: Path, source: random.Random) -> None:
        self.folder = folder
        self.source = source
        self.store = folder / "store.db"
        self.rounds = 0
        self.usual_s: dict[str, float] = {}
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
        self.exported = self._whole(folder / "out")

    # -- commands ------------------------------------------------------------------------------------------------

    def environment(self) -> dict[str, str]:
        return {**os.environ, "TASKDB_STORE": str(self.store), "TASKDB_AUTHOR": "Ann", "PYTHONDONTWRITEBYTECODE": "1"}

    def run(self, *words: object) -> None:
        """Run a command to its end; it must be done."""
        done = subprocess.run(self._line(words), env=self.environment(), capture_output=True, text=True, check=False)
        if done.returncode not in (0, 1):
            raise Broken(f"{' '.join(map(str, words))}: {done.returncode}: {done.stderr}")

    def _line(self, words: Iterable[object]) -> list[str]:
        return [sys.executable, "-m", "taskdb", *map(str, words)]

    def kill_one(self, line: list[str], kind: str) -> bool:
        """Start a command and kill it at a random moment; say whether it told that it was done."""
        usual = self.usual_s.get(kind)
        process = subprocess.Popen(
            line, env=self.environment(), stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, start_new_session=True
        )
        began = time.monotonic()
        # Most of a command's time is its start: three kills of four fall into what follows. The first of a kind runs
        # to its end, so that it is known how long that takes.
        first = 0.0 if self.source.random() < 0.25 else 0.5
        wait = 60.0 if usual is None else usual * self.source.uniform(first, 1.1)
        try:
            out, _ = process.communicate(timeout=wait)
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            out, _ = process.communicate()
        took = time.monotonic() - began
        if process.returncode >= 0:
            self.usual_s[kind] = took if usual is None else (usual + took) / 2
        if process.returncode not in (0, 1, -signal.SIGKILL):
            raise Broken(f"{kind} ended with {process.returncode}: {out.decode(errors='replace')[:500]}")
        try:
            return bool(json.loads(out)["ok"])
        except (ValueError, KeyError):
            return False

    # -- what must hold ------------------------------------------------------------------------------------------

    def operations(self) -> int:
        with open_store(str(self.store)).reading() as c:
            return int(c.scalar(text("SELECT count(*) FROM operation")) or 0)

    def require_whole_store(self) -> None:
        found = verify_store(Desk(str(self.store), "Ann"))
        if found.total:
            raise Broken(f"the store is not whole: {found.problems[:5]}")

    def _whole(self, folder: Path) -> dict[str, str]:
        return {
            path.name: hashlib.sha256(path.read_bytes()).hexdigest()
            for path in sorted(folder.iterdir())
            if path.is_file() and not path.name.startswith(".")
        }

    # -- kinds ---------------------------------------------------------------------------------------------------

    def write(self, kind: str) -> str:
        """Kill a command that writes into the store."""
        before = self.operations()
        told = self.kill_one(self._line([*self._words(kind), "--json"]), kind)
        after = self.operations()
        self.require_whole_store()
        if after not in (before, before + 1):
            raise Broken(f"{kind}: {before} operations became {after}")
        if told and after != before + 1:
            raise Broken(f"{kind}: it said that it was done, and it is not there")
        return "told" if told else "kept, not told" if after > before else "nothing kept"

    def _words(self, kind: str) -> list[object]:
        self.rounds += 1
        file = self.files[1 + self.rounds % 3]
        words: dict[str, list[object]] = {
            "import": ["set", "import", file, "--into", f"region{self.rounds}"],
            "change": ["set", "import", self._changed(), "--into", "region"],
            "replace": ["set", "import", self._changed(), "--into", "region", "--mode", "replace", "--yes"],
            "edit": ["waypoint", "edit", "region:00007", "--name", f"Edited {self.rounds}", "--note", "x"],
            "task": ["task", "new", f"N{self.rounds}", "00001", "00007", "00100", "00001", "--set", "region"],
            "carry": ["task", "carry", *(f"T{n}" for n in range(TASKS)), "--to", "region"],
            "undo": ["undo"],
        }
        return words[kind]

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

    def upgrade(self) -> str:
        """Kill an upgrade of a copy; the copy must stand at one schema or the other, with every row."""
        self.rounds += 1
        copy = self.folder / f"older{self.rounds}.db"
        self.run("store", "backup", copy)
        line = [sys.executable, "-c", UPGRADE, str(self.folder / "migrations"), NEXT_SCHEMA]
        told = self.kill_one([*line, "store", "upgrade", "--json", "--store", str(copy)], "upgrade")
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
        subprocess.run([*line, "store", "upgrade", "--store", str(copy)], check=True, capture_output=True)
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
        self._age_strays(target)
        self.run(*words)
        self.run("export", "verify", target)
        if strays := [path.name for path in target.iterdir() if path.name.startswith(".")]:
            raise Broken(f"export: {strays} are left behind after the next export")
        shutil.rmtree(self.folder / "right")
        return (
            "told" if told else "kept, not told" if left == after and left != before else "nothing kept or some of it"
        )

    def _age_strays(self, folder: Path) -> None:
        """Let time go by for what the killed left under private names."""
        long_ago = time.time() - STRAY_AFTER_S - 1
        for path in folder.glob(".taskdb-*"):
            os.utime(path, (long_ago, long_ago))

    def copy(self, verb: str) -> str:
        """Kill a backup or a dump: the file is there whole, or not at all."""
        path = self.folder / f"copy-of-{verb}"
        path.unlink(missing_ok=True)
        told = self.kill_one(self._line(["store", verb, path, "--json"]), verb)
        is_there = path.exists()
        if told and not is_there:
            raise Broken(f"{verb}: it said that it was done, and there is no file")
        if is_there and verb == "backup":
            if verify_store(Desk(str(path), "Ann")).total:
                raise Broken("backup: the copy is not whole")
        elif is_there:
            self.run("store", "load", path, "--store", self.folder / "loaded.db")
            (self.folder / "loaded.db").unlink()
        return "told" if told else "kept, not told" if is_there else "nothing kept"

    def kinds(self) -> dict[str, Callable[[], str]]:
        """Return everything that is killed, by name."""
        writes = {
            kind: (lambda kind=kind: self.write(kind)) for kind in ("import", "change", "replace", "edit", "task")
        }
        return {
            **writes,
            "carry": self.carry,
            "undo": self.undo,
            "upgrade": self.upgrade,
            "export": self.export,
            "backup": lambda: self.copy("backup"),
            "dump": lambda: self.copy("dump"),
        }


def _rows(number: int) -> str:
    source = random.Random(number)
    rows = ["code,name,latitude_deg,longitude_deg,elevation_m"]
    for i in range(ROWS):
        name = f"Field {i}" if source.random() < 0.7 else f"Field {i} of {number}"
        rows.append(f"{i:05d},{name},{45 + i * 0.001:.7f},{10 + (i * 7 % ROWS) * 0.001:.7f},{300 + i % 90}")
    return "\n".join(rows) + "\n"


def kill(kills: int, seed: int, say: Callable[[str], None] = print) -> Tally:
    """Kill so many commands, of each kind in turn; raise Broken where a promise was not kept."""
    source = random.Random(seed)
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        ground = Range(Path(folder), source)
        kinds = ground.kinds()
        order = [kind for _ in range(kills // len(kinds) + 1) for kind in source.sample(sorted(kinds), len(kinds))]
        for number, kind in enumerate(order[:kills], start=1):
            try:
                if kind not in ground.usual_s:
                    kinds[kind]()
                fell = kinds[kind]()
            except Broken as broken:
                raise Broken(f"seed {seed}, kill {number}, {kind}: {broken}") from None
            tally.kills += 1
            tally.fell[f"{kind}: {fell}"] += 1
            if number % 50 == 0:
                say(f"{number} kills")
        ground.run("waypoint", "edit", "region:00003", "--name", "After all")
        ground.require_whole_store()
    return tally


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("kills", nargs="?", type=int, default=500)
    parser.add_argument("--seed", type=int, default=random.randrange(10**6))
    given = parser.parse_args()
    began = time.monotonic()
    tally = kill(given.kills, given.seed)
    for fell, count in sorted(tally.fell.items()):
        print(f"  {fell}: {count}")
    took = time.monotonic() - began
    print(f"seed {given.seed}: {tally.kills} kills in {took:.0f} s; nothing lost, nothing half")
    return 0


if __name__ == "__main__":
    sys.exit(main())
