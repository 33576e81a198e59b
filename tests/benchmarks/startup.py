"""Start-up as ratios against a bare import in the same run: `python tests/benchmarks/startup.py [ROUNDS]`.

Goals: --help, --version and completion 1.3 of `python -c "import click"` (completion of codes in a large store 2.5);
small reads 1.3 of `python -c "import click, sqlalchemy"`. Runs are interleaved, so that a slow moment hits all alike.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PYTHON = sys.executable
CLICK = "import click"
BOTH = "import click, sqlalchemy"


def completion(line: str) -> dict[str, str]:
    return {"_TASKDB_COMPLETE": "bash_complete", "COMP_WORDS": line, "COMP_CWORD": str(len(line.split(" ")) - 1)}


def cases() -> list[tuple[str, str, list[str], dict[str, str]]]:
    run = [PYTHON, "-c", "from taskdb.cli.main import run; run()"]  # what the installed script does
    return [
        (CLICK, "", [PYTHON, "-c", CLICK], {}),
        (BOTH, "", [PYTHON, "-c", BOTH], {}),
        ("--help", CLICK, [*run, "--help"], {}),
        ("--version", CLICK, [*run, "--version"], {}),
        ("set --help", CLICK, [*run, "set", "--help"], {}),
        ("completion of nouns", CLICK, run, completion("taskdb s")),
        ("completion of set names", CLICK, run, completion("taskdb set show V")),
        ("completion of codes", CLICK, run, completion("taskdb waypoint show H")),
        ("set list", BOTH, [*run, "set", "list"], {}),
        ("set list --json", BOTH, [*run, "set", "list", "--json"], {}),
        ("waypoint find", BOTH, [*run, "waypoint", "find", "quarry"], {}),
        ("store info", BOTH, [*run, "store", "info"], {}),
    ]


def main(rounds: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = os.environ.get("TASKDB_STORE", str(Path(folder) / "store.sqlite"))
        environment = {**os.environ, "TASKDB_STORE": store, "TASKDB_AUTHOR": "bench"}
        # As installed, modules are compiled; from a checkout they may not be. The first round compiles them all.
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        environment["PYTHONPYCACHEPREFIX"] = str(Path(folder) / "compiled")
        times: dict[str, list[float]] = {name: [] for name, *_ in cases()}
        codes: dict[str, int] = {}
        for _ in range(rounds + 1):  # the first round warms the disk's cache and is not counted
            for name, _, words, extra in cases():
                start = time.perf_counter()
                done = subprocess.run(words, capture_output=True, env={**environment, **extra}, check=False)
                times[name].append(time.perf_counter() - start)
                codes[name] = done.returncode
    medians = {name: statistics.median(values[1:]) for name, values in times.items()}
    for name, floor, *_ in cases():
        ratio = f"{medians[name] / medians[floor]:5.2f} of {floor}" if floor else "the floor"
        failed = f"  (exit {codes[name]})" if codes[name] else ""
        print(f"{name:26}{medians[name] * 1000:7.1f} ms  {ratio}{failed}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 15)
