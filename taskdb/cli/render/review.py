"""What a review of a task found, for people."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from taskdb.cli.render.findings import finding_card
from taskdb.cli.render.numbers import counted
from taskdb.core.model import Severity

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.model import Finding
    from taskdb.services.tasks.review import Review
    from taskdb.services.tasks.task import TaskShown

_STYLE = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.NOTE: "dim"}
CAUTION = "A review sees what is at the desk: airspace, NOTAM, weather and the contest's own rules are not in it."


def listed(review: Review, *, show_accepted: bool) -> tuple[Finding, ...]:
    """Return the findings to list."""
    return review.findings if show_accepted else review.open


def count_words(findings: Sequence[Finding]) -> str:
    """Return `1 error, 2 warnings`, or `none`."""
    counts = {severity: sum(finding.severity is severity for finding in findings) for severity in Severity}
    return ", ".join(counted(number, severity.value) for severity, number in counts.items() if number) or "none"


def show_review(printer: Printer, shown: TaskShown, review: Review, *, show_accepted: bool) -> None:
    """Show a task's review: a headline of counts, then a card a finding."""
    findings = listed(review, show_accepted=show_accepted)
    printer.heading(f"{shown.task.name}@{shown.revision}: {count_words(findings) if findings else 'nothing found'}")
    for finding in findings:
        printer.line()
        finding_card(printer, finding, {})
    hidden = len(review.findings) - len(findings)
    if hidden:
        printer.line(f"{counted(hidden, 'accepted finding')} not shown (--all shows them)", style="dim")
    for note in review.notes:
        printer.line(f"note: {note}")


def brief_lines(findings: Sequence[Finding]) -> list[tuple[Severity, str]]:
    """Return a line a finding; of those that say the same of several other tasks one line, which names them all."""
    lines: dict[tuple[Severity, str, str], list[str]] = {}
    for finding in findings:
        other = finding.evidence.get("task")
        is_about = isinstance(other, str) and finding.message.startswith(f"{other} ")
        said = finding.message.removeprefix(f"{other} ") if is_about else finding.message
        named = lines.setdefault((finding.severity, said, finding.rule), [])
        if is_about:
            named.append(str(other))
    told = []
    for (severity, said, rule), others in lines.items():
        each = f"{', '.join(others)}: each " if len(others) > 1 else f"{others[0]} " if others else ""
        told.append((severity, f"{each}{said} [{rule}]"))
    return told


def show_findings_briefly(printer: Printer, review: Review) -> None:
    """Show a line a finding, as below a task."""
    for severity, text in brief_lines(review.open):
        printer.line(f"{severity.value}: {text}", style=_STYLE[severity])
    for note in review.notes:
        printer.line(f"note: {note}")
