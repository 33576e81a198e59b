"""A finding for people: what is wrong, the points it concerns side by side, the mend."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.core.model import Severity, Suggestion

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.model import Finding, Waypoint
    from taskdb.services.check_fixes import Mended

_LISTED = 12
"""So many points of a finding are listed: a doubt about a column concerns hundreds."""
_STYLE = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.NOTE: "dim"}


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


def suggestion_words(suggestion: Suggestion) -> str:
    """Return a mend in words: what would be set, and why."""
    if suggestion.field is not None:
        what = f"{suggestion.field} {suggestion.value!r}"
    elif suggestion.position is not None:
        what = numbers.position(suggestion.position)
    else:
        what = "see the reason"
    return f"{suggestion.code} → {what} ({suggestion.reason})"


def show_mended(printer: Printer, done: Mended) -> None:
    """Say what was mended in which revision, and which saved tasks are stale now."""
    from taskdb.core.geodesy import distance_m
    from taskdb.core.history.changes import changed_fields

    if not done.changes and not done.retired:
        printer.line(f"Nothing to mend: {done.set_name}@{done.revision} is as it was.")
        return
    printer.heading(f"{done.set_name}@{done.revision}")
    for old, new in done.changes:
        what = []
        for name in changed_fields(old, new):
            if name == "position":
                off = numbers.short_distance(distance_m(old.position, new.position), printer.units)
                what.append(f"moved {off} to {numbers.position(new.position)}")
            else:
                what.append(f"{name} {getattr(old, name)} → {getattr(new, name)}")
        printer.line(f"  {new.code} {new.name}: {'; '.join(what)}")
    for waypoint in done.retired:
        printer.line(f"  {waypoint.code} {waypoint.name}: retired")
    if done.stale_tasks:
        printer.line(f"stale now: {', '.join(done.stale_tasks)}", style="warning")
