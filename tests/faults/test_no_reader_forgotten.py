"""Every function that reads, by its name, is reached by the fuzzer: who adds a reader adds what it takes well."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import sys
from types import CodeType, FrameType

import pytest

import taskdb
from taskdb.errors import TaskdbError
from tests.faults.fuzz_targets import targets

pytestmark = pytest.mark.slow

READS = ("read_", "parse_", "split_", "load_", "resolve_", "detect", "verify_pack")
ELSEWHERE = {
    "taskdb.services.store.store.read_journal": "the store's own rows",
    "taskdb.formats.text.cells.read_text": "names a kind of column, whose texts are cleaned all at once",
    "taskdb.reference.places.load_places": "the rows of a package",
    "taskdb.reference.leaflet.load_leaflet": "the files of a package",
    "taskdb.core.course.axes.resolve_points": "points of a task, no text",
    "taskdb.services.sets.history.resolve_two": "two references, each of which is read by resolve_set",
}
"""Named like a reader, and no reader of what others wrote."""


def readers() -> dict[CodeType, str]:
    """Return the package's functions that are named for reading, below the command line."""
    found = {}
    for module in pkgutil.walk_packages(taskdb.__path__, "taskdb."):
        if module.name.startswith(("taskdb.cli", "taskdb.__main__")):
            continue
        for name, function in inspect.getmembers(importlib.import_module(module.name), inspect.isfunction):
            own = inspect.unwrap(function)
            if name.startswith(READS) and own.__module__ == module.name:
                found[own.__code__] = f"{module.name}.{name}"
    return found


def test_every_reader_is_reached_by_the_fuzzer() -> None:
    wanted, reached, known = readers(), set(), targets()

    def look(frame: FrameType, event: str, _: object) -> None:
        if event == "call":
            reached.add(frame.f_code)

    for target, n in ((target, n) for n in range(40) for target in known):
        if {name for code, name in wanted.items() if code not in reached} <= ELSEWHERE.keys():
            break
        for seed in target.seeds[n : n + 1]:
            sys.setprofile(look)
            try:
                target.read(seed)
            except TaskdbError:
                pass
            finally:
                sys.setprofile(None)
    assert len(wanted) > 60
    forgotten = {name for code, name in wanted.items() if code not in reached}
    assert forgotten <= ELSEWHERE.keys(), sorted(forgotten - ELSEWHERE.keys())
    assert ELSEWHERE.keys() <= set(wanted.values()), "an exception for what is no more"
