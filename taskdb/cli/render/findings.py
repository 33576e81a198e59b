"""Findings of checks and reviews: what to do first; then each with what is wrong, its points, the mend."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.core.findings import severity_rank
from taskdb.core.model import Severity, Suggestion
from taskdb.core.numbers import counted
from taskdb.core.pasted import command_line

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.model import Finding, Waypoint
    from taskdb.services.checks.check import Checked, CheckRequest
    from taskdb.services.checks.fixing import Mended
    from taskdb.services.tasks.keeping import TaskShown
    from taskdb.services.tasks.review import Review

_LISTED = 12
"""So many points of a finding are listed: a doubt about a column concerns hundreds."""
_STYLE = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.NOTE: "dim"}


LEADING = 5
"""So many of the most certain mends are named first."""


@dataclass(frozen=True)
class Lead:
    """What a run begins with for people: what was found, and the run, which a mend has to repeat."""

    checked: Checked
    request: CheckRequest


def counts_of(findings: Sequence[Finding]) -> dict[str, dict[str, int]]:
    """Return how many findings there are, by severity and rule."""
    return {
        "severity": {severity.value: sum(f.severity is severity for f in findings) for severity in Severity},
        "rule": dict(sorted(Counter(finding.rule for finding in findings).items())),
    }


def show_findings(printer: Printer, lead: Lead, listed: Sequence[Finding], limit: int) -> None:
    """Show what to do, then findings by severity, a card each; say at the end what cannot be seen."""
    checked = lead.checked
    _lead(printer, lead, listed)
    for finding in listed[:limit]:
        printer.line()
        finding_card(printer, finding, checked.waypoints)
    printer.shown(limit, len(listed), "findings")
    hidden = sum(f.accepted is not None for f in checked.findings) - sum(f.accepted is not None for f in listed)
    printer.line()
    if hidden:
        printer.line(f"{counted(hidden, 'accepted finding')} not shown (--all shows them)", style="dim")
    if not lead.request.against:
        printer.line(
            "Without a reference, slips inside the region cannot be seen: --against SET, FILE, airports or places."
            if lead.request.terrain is None
            else "Without a reference, terrain shows slips inside the region where it rises and falls; in plains none.",
            style="dim",
        )
    printer.line(f"Ground: {checked.ground}", style="dim")
    if checked.flights:
        printer.line(f"Flights: {checked.flights}", style="dim")
    if checked.credit:
        printer.line(f"Names of settlements: {checked.credit}", style="dim")


def _lead(printer: Printer, lead: Lead, listed: Sequence[Finding]) -> None:
    """Show the counts, the most certain mends, and the command that takes those that are almost surely right."""
    checked = lead.checked
    counts = counts_of(listed)
    found = count_words(listed) if listed else "nothing found"
    printer.heading(f"{checked.at}: {counted(checked.checked, 'waypoint')} checked, {found}")
    if not listed:
        return
    rules = sorted(counts["rule"].items(), key=lambda one: (-one[1], one[0]))
    printer.line("  " + " · ".join(f"{rule} {count}" for rule, count in rules), style="dim")
    mendable = checked.mendable
    if not mendable:
        return
    printer.line()
    printer.line(f"The most certain mends, {min(LEADING, len(mendable))} of {len(mendable)}:")
    width = max(len(finding.severity.value) for finding in mendable[:LEADING])
    for finding in mendable[:LEADING]:
        assert finding.suggestion is not None
        point = checked.waypoints[finding.suggestion.code]
        what = suggestion_words(finding.suggestion, point.name)
        printer.line(f"  {finding.severity.value.ljust(width)}  {finding.id}  {what}")
    if checked.at.revision != checked.at.head.newest:
        return
    if checked.sure:
        number = "One is" if len(checked.sure) == 1 else f"{len(checked.sure)} are"
        printer.line(f"{number} almost surely right. To see and then take {_it(len(checked.sure))}:")
        printer.line(f"  {fix_command(lead, '--sure', '--preview')}", style="good")
        printer.line(f"  {fix_command(lead, '--sure')}", style="good")
    else:
        printer.line(
            "None of them is sure. Look each up, then:" if len(mendable) > 1 else "Not sure. Look it up, then:"
        )
        printer.line(f"  {fix_command(lead, mendable[0].id)}", style="good")


def _it(number: int) -> str:
    return "it" if number == 1 else "them"


def fix_command(lead: Lead, *what: str) -> str:
    """Return the command that mends what this run found: with the same options, or it would find other things."""
    request = lead.request
    words = [word for word in what if word.startswith("--")]
    for name in request.against:
        words += ["--against", name]
    if request.since is not None:
        words += ["--since", request.since]
    if request.terrain is not None:
        words += ["--terrain", request.terrain]
    for path in request.flights:
        words += ["--flights", path]
    findings = [word for word in what if not word.startswith("--")]
    return command_line("check fix", lead.checked.at.head.name, *findings, options=words)


def finding_card(printer: Printer, finding: Finding, waypoints: Mapping[str, Waypoint]) -> None:
    """Show one finding as a card: severity, rule and id, the sentence, its points, what would mend it."""
    printer.line(f"{finding.severity.value}  {finding.rule}  {finding.id}", style=_STYLE[finding.severity])
    printer.line(f"  {finding.message}")
    points = [waypoints[code] for code in finding.codes if code in waypoints]
    width = max((len(point.code) for point in points), default=0)
    shown = points if len(points) <= _LISTED + 1 else points[:_LISTED]
    for point in shown:
        printer.line(f"    {point.code.ljust(width)}  {numbers.position(point.position)}  {point.name}")
    if len(shown) < len(points):
        printer.line(f"    and {len(points) - len(shown)} more (--json lists them)", style="dim")
    for label, suggestion in _mends(finding):
        printer.line(f"  {label}: {suggestion_words(suggestion)}", style="good")
    if finding.accepted is not None:
        printer.line(f"  accepted by {finding.accepted.by}: {finding.accepted.why}", style="dim")


def _mends(finding: Finding) -> list[tuple[str, Suggestion]]:
    first = [("mend", finding.suggestion)] if finding.suggestion is not None else []
    return [*first, *(("or", other) for other in finding.alternatives)]


def suggestion_words(suggestion: Suggestion, name: str = "") -> str:
    """Return a mend in words: of which point, what would be set, and why."""
    if suggestion.field is not None:
        what = f"{suggestion.field} {suggestion.value!r}"
    elif suggestion.position is not None:
        what = numbers.position(suggestion.position)
    else:
        what = "see the reason"
    whose = f"{suggestion.code} {name}".rstrip()
    return f"{whose} → {what} ({suggestion.reason})"


def show_accepted(printer: Printer, done: Sequence[Finding], word: str, *, in_bulk: bool) -> None:
    """Say which findings were accepted or taken back: many at once by count first."""
    if in_bulk:
        counts = Counter((finding.rule, finding.severity.value) for finding in done)
        told = ", ".join(f"{number} {rule} ({severity})" for (rule, severity), number in sorted(counts.items()))
        printer.heading(f"{word}: {told}")
    for finding in done:
        printer.line(f"{'  ' if in_bulk else f'{word}: '}{finding.rule} {finding.id}: {finding.message}")


def show_mended(printer: Printer, done: Mended) -> None:
    """Say what was mended in which revision, and which saved tasks are stale now."""
    from taskdb.core.history.changes import changed_fields

    for one in done.not_taken:
        printer.line(f"not taken: {one.finding.id} ({one.finding.rule}), {one.reason}", style="warning")
    if not done.changes and not done.retired:
        printer.line(f"Nothing to mend: {done.set_name}@{done.revision} is as it was.")
        return
    printer.heading(f"{done.set_name}@{done.revision}")
    for fact in done.facts:
        old, new, what = fact.old, fact.new, []
        for name in changed_fields(old, new):
            if name == "position":
                moved = numbers.short_distance(fact.moved_m, printer.units)
                what.append(f"moved {moved} to {numbers.position(new.position)}")
            else:
                what.append(f"{name} {getattr(old, name)} → {getattr(new, name)}")
        printer.line(f"  {new.code} {new.name}: {'; '.join(what)}")
    for waypoint in done.retired:
        printer.line(f"  {waypoint.code} {waypoint.name}: retired")
    if done.stale_tasks:
        printer.line(f"stale now: {', '.join(done.stale_tasks)}", style="warning")


def count_words(findings: Sequence[Finding]) -> str:
    """Return `1 error, 2 warnings`, or `none`."""
    counts = counts_of(findings)["severity"]
    return ", ".join(counted(number, severity) for severity, number in counts.items() if number) or "none"


def listed(review: Review, *, show_accepted: bool) -> tuple[Finding, ...]:
    """Return the findings to list."""
    return review.findings if show_accepted else review.open


def show_reviews(printer: Printer, reviews: Sequence[tuple[TaskShown, Review]], *, show_accepted: bool) -> None:
    """Show the reviews of tasks one after the other, and what two of them have in common once, at the end."""
    times = Counter(finding.id for _, review in reviews for finding in listed(review, show_accepted=show_accepted))
    shared: dict[str, Finding] = {}
    for number, (shown, review) in enumerate(reviews):
        if number:
            printer.line()
        own = [one for one in listed(review, show_accepted=show_accepted) if times[one.id] == 1]
        shared |= {one.id: one for one in listed(review, show_accepted=show_accepted) if times[one.id] > 1}
        _show_review(printer, shown, review, own, show_accepted=show_accepted)
    if shared:
        between = sorted(shared.values(), key=lambda one: severity_rank(one.severity))
        printer.line()
        printer.heading(f"Between these tasks: {count_words(between)}")
        for finding in between:
            printer.line()
            finding_card(printer, finding, {})


def _show_review(
    printer: Printer, shown: TaskShown, review: Review, own: Sequence[Finding], *, show_accepted: bool
) -> None:
    """Show a task's review: a headline of counts, then a card for each finding of its own."""
    findings = listed(review, show_accepted=show_accepted)
    # What it shares with others comes at the end: where that is all it has, nobody may read that nothing was found.
    shared = len(findings) - len(own)
    told = [count_words(own)] if own else [] if shared else ["nothing found"]
    if shared:
        told.append(f"{shared} {'more ' if own else ''}between these tasks, below")
    printer.heading(f"{shown.task.name}@{shown.revision}: {'; '.join(told)}")
    for finding in own:
        printer.line()
        finding_card(printer, finding, {})
    hidden = len(review.findings) - len(findings)
    if hidden:
        printer.line(f"{counted(hidden, 'accepted finding')} not shown (--all shows them)", style="dim")
    for note in review.notes:
        printer.line(f"note: {note}")


def reviewed_words(reviews: Iterable[Review]) -> str:
    """Return what a review does not see."""
    if any(review.held.pins for review in reviews):
        return (
            "A review sees what is at the desk: airspace as your files have it; NOTAM, weather and the contest's own "
            "rules are not in it."
        )
    return "A review sees what is at the desk: airspace, NOTAM, weather and the contest's own rules are not in it."


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
