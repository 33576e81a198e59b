"""What a task's own pilots read of a meeting with another class: who comes against them, on which leg, when."""

from __future__ import annotations

from collections.abc import Iterable

from taskdb.core.judgement.meeting import Kind
from taskdb.core.model import Finding, Severity, Task


def told_to_pilots(findings: Iterable[Finding], task: Task) -> tuple[str, ...]:
    """Return a sentence for each warning of a meeting among findings, as those who fly the task see it.

    Accepted ones too: that the setter keeps two tasks as they are is what pilots have to know.
    """
    meetings = (one for one in findings if is_meeting(one) and one.severity is not Severity.NOTE)
    return tuple(_sentence(one, task) for one in meetings if task.name in one.evidence["tasks"])


def is_meeting(finding: Finding) -> bool:
    """Say whether a finding is of a meeting with another class's task."""
    return finding.evidence.get("kind") in set(Kind)


def _sentence(finding: Finding, task: Task) -> str:
    evidence = finding.evidence
    own = evidence["tasks"].index(task.name)
    name, of_class = evidence["tasks"][1 - own], evidence["classes"][1 - own]
    who = f"Class {of_class} ({name})" if of_class else str(name)
    # Where the one leave a few minutes before the others come, it is the time between that is told.
    times = sorted((evidence["from"], evidence["to"])) if evidence["from"] else None
    when = f"between {times[0]} and {times[1]}" if times else "at times that are not known"
    numbers = evidence.get("legs") or evidence["numbers"]
    points = task.points[numbers[own] : numbers[own] + 2]
    return f"{who} {_what(finding, own, points[0].place.code, points[-1].place.code)} {when}."


def _what(finding: Finding, own: int, code: str, next_code: str) -> str:
    evidence = finding.evidence
    kind, near = evidence["kind"], evidence["near"]["code"]
    leg = f"your leg from {code} to {next_code}"
    if kind == Kind.OPPOSED:
        return f"comes against you on {leg}" + ("" if evidence["even"] else f", nearest to you near {near},")
    if kind == Kind.BOTH_SIDES:
        return f"enters {code} from the opposite side"
    if kind == Kind.PASSING:
        return f"comes across {leg}, near {near},"
    theirs = {"start": "starts towards", "finish": "finishes against"}[evidence["roles"][1 - own]]
    return f"{theirs} your {evidence['roles'][own]} at {code}"
