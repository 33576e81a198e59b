"""What people read of a season carried over, and of findings below a task: each thing said once, with whose it is."""

from __future__ import annotations

import io

from taskdb.cli.render.carried import show_carried
from taskdb.cli.render.console import Printer
from taskdb.cli.render.findings import brief_lines
from taskdb.core.model import Finding, Position, Severity, Waypoint
from taskdb.services.tasks.carrying import CarriedPoint, CarriedTask, Unresolved


def outcome(task: str, *points: CarriedPoint, unresolved: tuple[Unresolved, ...] = ()) -> CarriedTask:
    return CarriedTask(
        task=task,
        contest="Cup",
        name_after=task,
        from_set="region@1",
        to_set="next@1",
        revision=None if unresolved else 1,
        points=points,
        unresolved=unresolved,
        distance_before_m=100_000.0,
        distance_after_m=None if unresolved else 100_000.0,
        shape_before="triangle",
        shape_after=None if unresolved else "triangle",
    )


def shown(*outcomes: CarriedTask) -> list[str]:
    stream = io.StringIO()
    show_carried(Printer(stream), outcomes)
    return [" ".join(line.split()) for line in stream.getvalue().splitlines()]


def test_a_point_that_moved_is_told_once_with_all_of_its_tasks() -> None:
    moved = CarriedPoint(1, "point 1", "004", "name", "104", 222.4, "Mill", "Mill")
    same = CarriedPoint(0, "point 0", "001", "identity", "001", 0.0, "Home", "Home")
    lines = shown(outcome("A", same, moved), outcome("B", same, moved))
    assert "004 Mill 104 Mill name 222 m A, B" in lines
    assert not any("001 Home" in line for line in lines), "what stayed as it was is not told"


def test_a_doubt_that_many_tasks_share_is_told_once_with_what_decides_it() -> None:
    mill = Waypoint("104", "Mill", Position(48.0, 11.0))
    doubt = Unresolved(1, "point 1", "004", "nothing matches it", (mill,))
    lines = shown(*(outcome(name, unresolved=(doubt,)) for name in "ABCDEFGH"))
    told = [line for line in lines if "nothing matches it" in line]
    assert told == [
        "004: nothing matches it (A, point 1; B, point 1; C, point 1; D, point 1; E, point 1; F, point 1 and 2 more)"
    ]
    assert lines.count("--map 004=104 Mill") == 1


def finding(severity: Severity, message: str, task: str | None = None) -> Finding:
    return Finding(message, "saved-already", severity, ("001",), message, {} if task is None else {"task": task})


def test_what_is_said_of_several_other_tasks_takes_one_line() -> None:
    said = "has the same points."
    lines = brief_lines(
        [
            finding(Severity.WARNING, "A is the same task.", "A"),
            finding(Severity.NOTE, f"B {said}", "B"),
            finding(Severity.NOTE, f"C {said}", "C"),
            finding(Severity.NOTE, "The leg is short."),
        ]
    )
    assert lines == [
        (Severity.WARNING, "A is the same task. [saved-already]"),
        (Severity.NOTE, "B, C: each has the same points. [saved-already]"),
        (Severity.NOTE, "The leg is short. [saved-already]"),
    ]
