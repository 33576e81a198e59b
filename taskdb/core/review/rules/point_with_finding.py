"""Review rule `point-with-finding`: a point of the task has an open finding in its set."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.model import Severity
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """A point of the task has an open finding in its set.

    What: `check run` of the task's set says something at the level of an error or a warning about a point that the
    task uses, and nobody has accepted it. It is told here with the severity that it has there.

    Why it matters: a coordinate that is wrong at the desk is found in the air.

    How to mend: look at the finding (`check run SET`), then mend it (`check fix SET FINDING`) and refresh the task, or
    accept it with the reason (`check accept SET FINDING --why TEXT`).

    Trap: the check was made without references; against another set or a published list it may find more.

    Example: Point 2 (QRY Quarry) has an open error in its set: longitude minutes 17 look like 71 typed the other way
    round (typing-slip, 1f0c93ab27).
    """
    numbers: dict[str, list[int]] = {}
    for number, point in enumerate(given.task.points):
        numbers.setdefault(point.place.code, []).append(number)
    for finding in given.set_findings:
        if finding.severity is Severity.NOTE or finding.accepted is not None:
            continue
        used = [code for code in finding.codes if code in numbers]
        if not used:
            continue
        label = given.point_label(numbers[used[0]][0])
        yield Draft(
            finding.severity,
            tuple(dict.fromkeys(used)),
            f"{label[0].upper()}{label[1:]} has an open {finding.severity} in its set: "
            f"{finding.message.rstrip('.')} ({finding.rule}, {finding.id}).",
            {
                "finding": finding.id,
                "rule": finding.rule,
                "numbers": sorted(number for code in set(used) for number in numbers[code]),
            },
            (finding.id,),
        )


RULE = Rule("point-with-finding", "A point of the task has an open finding in its set.", check)
