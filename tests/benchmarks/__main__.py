"""All figures in one table: `python -m tests.benchmarks [NAME…] [--write]`.

Runs each script of this folder that has a `figures()` in a process of its own and prints floor, figure and ratio as a
Markdown table, with the reason where a goal is missed. `--write` puts the table into DEVELOPERS.md, between its two
marks; with names, only the rows of those scripts are made anew and the others stay. The machine is to be quiet.
"""

from __future__ import annotations

import argparse
import importlib
import json
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from tests.benchmarks.figures import Figure

SCRIPTS = (
    "startup", "bulk", "intake", "checks_speed", "check_run", "diff_cost", "task_find", "many_tasks", "extremes",
    "carry", "handing_out", "morning", "waiting", "airspace", "terrain", "fit", "cover", "day_together", "propose",
    "proposals", "flights", "published",
)  # fmt: skip
GUIDE = Path(__file__).parents[2] / "DEVELOPERS.md"
BEGIN, END = "<!-- figures: python -m tests.benchmarks --write -->", "<!-- end of figures -->"
HEAD = "| script | what | floor | figure | ratio | goal | |\n| --- | --- | --- | --- | --- | --- | --- |\n"


def measured(name: str) -> list[Figure]:
    """Return what one script tells, run in a process of its own. Raises SystemExit where it fails."""
    line = [sys.executable, "-m", "tests.benchmarks", "--one", name]
    done = subprocess.run(line, stdout=subprocess.PIPE, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{name}: exit {done.returncode}")
    return [Figure(**one) for one in json.loads(done.stdout.splitlines()[-1])]


def number(value: float) -> str:
    """Return a number with two or three digits that tell something."""
    return f"{value:,.0f}" if value >= 100 else f"{value:.3g}"


def row(name: str, one: Figure) -> str:
    """Return a figure as a line of the table."""
    floor = "" if one.floor_figure is None else f"{one.floor}, {number(one.floor_figure)} {one.unit}"
    ratio = "" if one.ratio is None else f"{one.ratio:.2f}"
    goal = "" if one.goal is None else f"{'≥ ' if one.at_least else ''}{one.goal:g}"
    words = " ".join(filter(None, ("**missed**" if one.is_met is False else "", one.why)))
    return f"| {name} | {one.what} | {floor} | {number(one.figure)} {one.unit} | {ratio} | {goal} | {words} |"


def write(rows: dict[str, list[str]], names: Sequence[str]) -> None:
    """Put the rows of these scripts into the guide; those of others stay."""
    text = GUIDE.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    table, _, after = rest.partition(END)
    kept: dict[str, list[str]] = {}
    for line in table.splitlines():
        if line.startswith("| ") and (name := line.split(" | ")[0][2:]) in SCRIPTS:
            kept.setdefault(name, []).append(line)
    lines = [line for name in SCRIPTS for line in (rows if name in names else kept).get(name, [])]
    GUIDE.write_text(f"{before}{BEGIN}\n\n{HEAD}" + "\n".join(lines) + f"\n\n{END}{after}", encoding="utf-8")


def main(words: Sequence[str]) -> int:
    parser = argparse.ArgumentParser(description="All figures in one table.")
    parser.add_argument("names", nargs="*", metavar="NAME", help="scripts of this folder (all unless named)")
    parser.add_argument("--write", action="store_true", help="put the table into DEVELOPERS.md")
    parser.add_argument("--one", metavar="NAME", help=argparse.SUPPRESS)
    given = parser.parse_args(words)
    if given.one:
        found: list[Figure] = importlib.import_module(f"tests.benchmarks.{given.one}").figures()
        print(json.dumps([asdict(one) for one in found]))
        return 0
    names = given.names or SCRIPTS
    if unknown := set(names) - set(SCRIPTS):
        parser.error(f"no such script: {', '.join(sorted(unknown))}; there are {', '.join(SCRIPTS)}")
    print(HEAD, end="")
    rows: dict[str, list[str]] = {}
    for name in names:
        rows[name] = [row(name, one) for one in measured(name)]
        print("\n".join(rows[name]), flush=True)
        if given.write:
            write(rows, list(rows))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
