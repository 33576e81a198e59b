"""The fingerprints printed in DEVELOPERS.md: from its own text by its own recipe, and from tasks of that geometry."""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace
from pathlib import Path

import pytest

from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import FreeChoice, Role, Task, TaskType
from tests.building import point

SECTION = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## The fingerprint")[2]
VECTORS = [tuple(block.rsplit("\n= ", 1)) for block in re.findall(r"```text\n(1\n.*?)\n```", SECTION, re.DOTALL)]


TASKS = (
    Task(
        "A",
        TaskType.RACING,
        (
            point("X", 51.1234567, 9.1, Role.START, "line 1km"),
            point("X", 51.5, 9.9, Role.TURN, "cylinder 500m"),
            point("X", 51.0, 10.2, Role.TURN, "sector 90deg 20km"),
            point("X", 51.1234567, 9.1, Role.FINISH, "cylinder 3km"),
        ),
        "s",
        1,
    ),
    Task(
        "B",
        TaskType.ASSIGNED_AREA,
        (
            # 5 statute miles are 8046.72 m (ICAO Annex 5; 1 mile = 1609.344 m).
            point("X", -33.9, 151.2, Role.START, "line 5mi 310"),
            point("X", -33.5, 150.0000005, Role.AREA, "area 5km..30km 040..110"),
            point("X", -34.0, 180.0, Role.AREA, "keyhole 500m 90deg 10km"),
            point("X", -33.9, 151.2, Role.FINISH, "line 1km"),
        ),
        "s",
        1,
        time_s=10_800,
    ),
    Task(
        "C",
        TaskType.MODIFIED,
        (
            point("X", 0.0, 0.0, Role.START, "sector 180deg"),
            point("X", -0.0000005, 0.0000015, Role.TURN, "area 1500ft"),
            point("X", 0.0, 0.0, Role.FINISH, "line 500m towards-previous"),
        ),
        "s",
        1,
        time_s=7_200,
        free=FreeChoice(6, None, (), no_repeat=True),
    ),
)
TASKS = (*TASKS, replace(TASKS[2], free=replace(TASKS[2].free, zone=parse_zone("cylinder 1km"))))


def test_there_are_four_vectors():
    assert len(VECTORS) == len(TASKS) == 4


@pytest.mark.parametrize(("text", "printed"), VECTORS)
def test_the_recipe_gives_the_printed_fingerprint(text, printed):
    # SHA-256: FIPS 180-4, as the standard library has it; nothing of the package is used here.
    digits = hashlib.sha256(text.encode("ascii")).hexdigest()[:8]
    signs = digits.translate(str.maketrans("0123456789abcdef", "34679AFHKLMRTWXY"))
    assert f"{signs[:4]}-{signs[4:]}" == printed


@pytest.mark.parametrize(("task", "printed"), [(task, vector[1]) for task, vector in zip(TASKS, VECTORS, strict=True)])
def test_a_task_of_that_geometry_has_it(task, printed):
    assert fingerprint(task) == printed


def test_the_printed_odds_are_those_of_thirty_two_bits():
    # The birthday problem: n(n - 1) / 2 pairs, each alike with 2^-32.
    for count, odds in ((1_000, 8_600), (10_000, 86)):
        assert 2**32 / (count * (count - 1) / 2) == pytest.approx(odds, rel=0.01)
        assert f"{odds:,}" in SECTION
