"""What a declared course is worth, for people and as JSON: by sectors and by cylinders, heights, awards in reach."""

from __future__ import annotations

from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import Column
from taskdb.core.course.declared import ends_words

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.course.declared import DeclaredCourse

NO_PROMISE = "What the geometry would meet, and no promise: the Sporting Code in force and an official observer decide."


def show_declared(printer: Printer, course: DeclaredCourse) -> None:
    """Show the distances side by side, then each award within reach with what else it requires."""
    units = printer.units
    printer.table(
        ["turns claimed by", Column("distance", right=True), Column("loss of height that costs nothing", right=True)],
        [
            (zones.zones, numbers.distance(zones.distance_m, units), numbers.elevation(zones.allowed_loss_m))
            for zones in (course.sectors, course.cylinders)
        ],
    )
    if course.ends:
        printer.line(f"in both: {ends_words(course, units)}")
    for obstacle in course.obstacles:
        printer.line(f"against it: {obstacle}", style="warning")
    for award in course.awards:
        ways = [name for name, is_met in (("sectors", award.by_sectors), ("cylinders", award.by_cylinders)) if is_met]
        printer.line(
            f"{award.name}: its distance is met by {' and by '.join(ways)}; besides {'; '.join(award.requires)}"
        )
    printer.line(NO_PROMISE, style="dim")
