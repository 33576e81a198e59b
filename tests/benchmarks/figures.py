"""What a benchmark tells, and the floors that more than one of them measures.

Each script of this folder has a `figures()`, which measures and returns a list of `Figure`; `python -m
tests.benchmarks` runs them all, each in a process of its own, and makes the one table of DEVELOPERS.md.
"""

from __future__ import annotations

import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from pyproj import Geod

F = "100,000 geodesics"

RUN = (sys.executable, "-c", "from taskdb.cli.main import run; run()")
"""What the installed script does; a command's words follow."""

_COMPILED = tempfile.TemporaryDirectory()

# A process's largest memory counts that of the one that started it: a small one stands in between.
_LAUNCH = """
import json, resource, subprocess, sys
done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
spent = resource.getrusage(resource.RUSAGE_CHILDREN)
print(json.dumps([done.returncode, done.stderr.decode(), spent.ru_utime + spent.ru_stime, spent.ru_maxrss / 1024]))
"""


@dataclass(frozen=True, slots=True)
class Figure:
    """One thing measured. With a floor the goal is one of the ratio, without one of the figure itself."""

    what: str
    """What was done, with its size: a person knows from it alone what was measured."""
    figure: float
    unit: str = "s"
    """`s` (processor time unless `what` says otherwise), `ms`, `MB`, or what is counted."""
    floor: str = ""
    """What the floor is, in a few words; measured in the same run, in the same unit."""
    floor_figure: float | None = None
    goal: float | None = None
    """The most that the ratio (or, without a floor, the figure) is to be; None where there is no goal."""
    at_least: bool = False
    """Whether the goal is the least that is to be reached."""
    why: str = ""
    """Why the goal is missed, where it is known to be; or what else is to be known."""

    @property
    def ratio(self) -> float | None:
        """The figure in floors."""
        return None if not self.floor_figure else self.figure / self.floor_figure

    @property
    def is_met(self) -> bool | None:
        """Whether the goal is met; None where there is none."""
        if self.goal is None:
            return None
        measured = self.figure if self.ratio is None else self.ratio
        return measured >= self.goal if self.at_least else measured <= self.goal


def seconds(work: Callable[[], object]) -> float:
    """Return the processor time that a piece of work takes."""
    began = time.process_time()
    work()
    return time.process_time() - began


def median_s(work: Callable[[], object], times: int = 5) -> float:
    """Return the median processor time of so many runs."""
    return statistics.median(seconds(work) for _ in range(times))


def spent(
    line: Sequence[str], environment: Mapping[str, str] | None = None, exits: Sequence[int] = (0,)
) -> tuple[float, float]:
    """Return a process's processor time in seconds and largest memory in megabytes; SystemExit for another exit code.

    The time counts the start of the process and its end. As installed, modules are compiled; from a checkout they may
    not be: the first process compiles them into a folder of our own. `environment` None is ours.
    """
    compiled = {"PYTHONPYCACHEPREFIX": _COMPILED.name, "PYTHONDONTWRITEBYTECODE": ""}
    environment = {**(os.environ if environment is None else environment), **compiled}
    run = [sys.executable, "-c", _LAUNCH, *line]
    done = subprocess.run(run, capture_output=True, env=environment, check=True)
    code, said, spent_s, memory_mb = json.loads(done.stdout)
    if code not in exits:
        raise SystemExit(f"{list(line[-3:])}: {code}: {said}")
    return spent_s, memory_mb


def command_s(*words: str, environment: Mapping[str, str] | None = None, exits: Sequence[int] = (0,)) -> float:
    """Return the processor time of a command of ours."""
    return spent((*RUN, *words), environment, exits)[0]


def geodesics_s() -> float:
    """Return F: the processor time of 100,000 vectorised WGS84 geodesics, the median of five."""
    points = np.random.default_rng(1).uniform(-60, 60, (4, 100_000))
    return median_s(lambda: Geod(ellps="WGS84").inv(*points))


def peak_mb() -> float:
    """Return the largest memory of this process so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def told(figures: list[Figure]) -> None:
    """Print figures a line each: what, figure, ratio, goal."""
    for one in figures:
        ratio = "" if one.ratio is None else f"{one.ratio:8.2f} × {one.floor}"
        goal = "" if one.goal is None else f"  goal {one.goal:g}{'' if one.is_met else ', MISSED'}"
        print(f"{one.what:<64}{one.figure:10.3f} {one.unit:3}{ratio}{goal}", flush=True)
