"""Kills commands at random moments and looks at what is left: `python tests/benchmarks/kills.py [KILLS] [SEED]`.

Imports, edits, carries, undos, exports, dumps and backups run as processes of their own and get SIGKILL. After each
kill: the store is whole (`store verify`), every acknowledged write is there, no write and no file is there by half, and
the next command works. Prints how many kills met a command at work, and stops at the first loss.
"""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

COUNT = 1_000
TASKDB = [sys.executable, "-c", "from taskdb.cli.main import run; run()"]
HEADER = "code,name,latitude_deg,longitude_deg,elevation_m\n"


class Lost(Exception):
    """Something was lost, halved or damaged."""


class Place:
    """A folder with a store, and the commands that work on it."""

    def __init__(self, folder: Path, source: random.Random) -> None:
        self.folder = folder
        self.source = source
        self.env = {**os.environ, "TASKDB_STORE": str(folder / "store.db"), "TASKDB_AUTHOR": "Ann"}
        self.round = 0
        self.total = 0
        self.seconds: dict[str, float] = {}

    def start(self, *words: str) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [*TASKDB, *words], env=self.env, cwd=self.folder,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip

    def ask(self, *words: str) -> dict[str, object]:
        """Run a command to its end and return its result; Lost where it fails."""
        process = self.start(*words, "--json")
        out, err = process.communicate(timeout=300)
        if process.returncode not in (0, 1):
            raise Lost(f"{' '.join(words)}: exit {process.returncode}: {out[-2000:]}{err[-2000:]}")
        result: dict[str, object] = json.loads(out)["result"]
        return result

    def rows(self, number: int) -> Path:
        """Write a file in which every waypoint is called after the round: half a write would show two names."""
        path = self.folder / f"rows{number}.csv"
        lines = [f"{i:05d},Round {number},{45 + i / 2000:.7f},{10 + i % 50 / 50:.7f},400\n" for i in range(COUNT)]
        path.write_text(HEADER + "".join(lines), encoding="utf-8")
        return path

    def make(self) -> None:
        self.ask("set", "import", str(self.rows(0)), "--into", "Wold")
        self.ask("contest", "new", "Cup", "--set", "Wold")
        for name in ("T1", "T2", "T3"):
            self.ask("task", "new", name, "00000", "00400", "00900", "00000", "--contest", "Cup")
        self.total = int(str(self.ask("log", "--limit", "0")["total"]))

    def commands(self) -> dict[str, list[str]]:
        self.round += 1
        rows = str(self.rows(self.round))
        return {
            "import": ["set", "import", rows, "--into", "Wold"],
            "replace": ["set", "import", rows, "--into", "Wold", "--mode", "replace", "--yes"],
            "edit": ["waypoint", "edit", "Wold:00007", "--description", f"round {self.round}"],
            "carry": ["task", "carry", "T1", "T2", "T3", "--to", "Wold", "--contest", "Cup"],
            "undo": ["undo"],
            "export": [
                "export",
                "task",
                "T1",
                "T2",
                "T3",
                "--contest",
                "Cup",
                "--format",
                "gpx,csv",
                "--to",
                "out.zip",
            ],
            "dump": ["store", "dump", "dump.jsonl", "--yes"],
            "backup": ["store", "backup", "backup.db", "--yes"],
        }

    def kill_one(self, kind: str, words: list[str]) -> bool:
        """Kill a command at a random moment; return whether it was still at work. Then look at what is left."""
        usual = self.seconds.get(kind)
        if usual is None:  # once to its end, to know how long it takes
            began = time.monotonic()
            self.ask(*words)
            self.seconds[kind] = time.monotonic() - began
            self.look(acknowledged=None)
            return False
        process = self.start(*words)
        # Start-up writes nothing: most kills fall where the work is done.
        time.sleep(self.source.uniform(0.25, 1.05) * usual)
        process.send_signal(signal.SIGKILL)
        process.communicate()
        was_killed = process.returncode == -signal.SIGKILL
        self.look(acknowledged=not was_killed and process.returncode in (0, 1))
        return was_killed

    def look(self, *, acknowledged: bool | None) -> None:
        """Hold what is left against what must be: whole, nothing lost, nothing by half, the next command works."""
        if not self.ask("store", "verify")["whole"]:
            raise Lost("the store is not whole")
        total = int(str(self.ask("log", "--limit", "0")["total"]))
        # One more than before at most; whatever was acknowledged stays.
        if not self.total <= total <= self.total + 1:
            raise Lost(f"{self.total} operations before, {total} after (acknowledged: {acknowledged})")
        self.total = total
        shown = self.ask("set", "show", "Wold")
        waypoints = shown["waypoints"]
        assert isinstance(waypoints, list)
        names = Counter(one["name"] for one in waypoints)
        if len(names) != 1 or sum(names.values()) != COUNT:
            raise Lost(f"half a write: {names.most_common(3)}")
        self.look_at_files()
        self.ask("set", "label", "Wold", f"after {self.total}")
        self.total += 1

    def look_at_files(self) -> None:
        """Each target file is whole: the one from before, or the new one."""
        for path in (self.folder / "backup.db", *(self.folder / "store.db.backups").glob("*.db")):
            if path.exists() and not self.ask("store", "verify", "--store", str(path))["whole"]:
                raise Lost(f"{path.name} is not whole")
            if path.name != "backup.db":
                break  # one of the automatic ones each time
        dump = self.folder / "dump.jsonl"
        if dump.exists():
            self.ask("store", "load", str(dump), "--store", str(self.folder / "loaded.db"))
            for end in ("", "-wal", "-shm"):
                (self.folder / f"loaded.db{end}").unlink(missing_ok=True)
        if (self.folder / "out.zip").exists():
            self.ask("export", "verify", "out.zip")


def main(kills: int, seed: int) -> int:
    source = random.Random(seed)
    met: Counter[str] = Counter()
    done = 0
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        place = Place(Path(name), source)
        place.make()
        try:
            while done < kills:
                kinds = place.commands()
                kind = source.choice([*kinds, "import", "carry", "edit", "export"])
                is_first = kind not in place.seconds
                if place.kill_one(kind, kinds[kind]):
                    met[kind] += 1
                done += not is_first
        except Lost as lost:
            print(f"LOST after {done} kills (seed {seed}): {kind}: {lost}")
            return 1
        left = sorted(path.name for path in Path(name).glob(".taskdb-*"))
    at_work = ", ".join(f"{kind} {count}" for kind, count in sorted(met.items()))
    print(f"{done} kills, {sum(met.values())} of them met a command at work ({at_work}); seed {seed}")
    print(f"lost 0, halved 0, damaged 0; {len(left)} private part files left beside targets")
    print(f"{place.total} operations, {time.monotonic() - began:.0f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 40,
                  int(sys.argv[2]) if len(sys.argv) > 2 else random.randrange(10**6)))  # fmt: skip
