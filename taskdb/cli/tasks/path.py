"""`taskdb task path`: where to turn in the areas for a wanted length."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.tasks.options import contest_option
from taskdb.cli.typed.options import DISTANCE, DURATION, SPEED
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer


@command("task path")
@click.argument("reference", metavar="NAME[@R]", shell_complete=names_of("task"))
@click.option("--distance", "distance_m", type=DISTANCE, metavar="D", help="The length wanted, e.g. 285km.")
@click.option("--speed", "speed_kmh", type=SPEED, metavar="V", help="Instead: the speed hoped for, e.g. 95km/h.")
@click.option("--time", "time_s", type=DURATION, metavar="T", help="With --speed: the time; else the task's own.")
@contest_option
def path(invocation: Invocation, reference: str, contest: str | None, **given: Any) -> Answer:
    """Say where to turn in the areas for a wanted length.

    The points for 3:00 at 95 km/h: --time 3:00 --speed 95km/h. Between the shortest and the longest path every area
    gives its part.
    """
    from taskdb.cli.render import numbers
    from taskdb.cli.render.console import right
    from taskdb.cli.render.tasks import CAUTION
    from taskdb.core.plain import course_degrees, degrees, metres, or_none
    from taskdb.services.tasks.path import path_of_task

    if (given["distance_m"] is None) == (given["speed_kmh"] is None):
        raise UsageError("how-long", "Give either --distance or --speed.", hint="E.g. --time 3:00 --speed 95km/h.")
    shown = path_of_task(invocation.desk, reference, invocation.contest(contest), **given)
    turns = [(number, *turn) for number, turn in enumerate(shown.turns)]
    points = [
        {
            "number": number,
            "code": point.place.code,
            "latitude_deg": degrees(at.latitude_deg),
            "longitude_deg": degrees(at.longitude_deg),
            "from_point_m": metres(off_m),
            "bearing_deg": or_none(course_degrees, bearing),
        }
        for number, point, at, off_m, bearing in turns
    ]
    lengths = {"wanted_m": metres(shown.wanted_m), "length_m": metres(shown.length_m)}

    def people(printer: Printer) -> None:
        units = printer.units
        printer.heading(f"{shown.task.name}@{shown.revision}: {numbers.distance(shown.length_m, units)}")
        rows = []
        for number, point, at, off_m, bearing in turns:
            off = numbers.short_distance(off_m, units) if bearing is not None else "at the point"
            place = (point.place.code, point.place.name, numbers.position(at))
            rows.append((number, *place, off, numbers.course(bearing)))
        printer.table([*right(""), "code", "name", "turn at", *right("from the point"), "towards"], rows)
        printer.line(CAUTION, style="dim")

    return Answer({"task": shown.task.name, "revision": shown.revision, **lengths, "points": points}, people=people)
