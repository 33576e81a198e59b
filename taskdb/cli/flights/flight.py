"""`taskdb flight …`: what was flown, read from flight logs. No scoring."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import INPUT, OUTPUT
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer


@command("flight read", writes=True)
@click.argument("paths", nargs=-1, required=True, type=INPUT, metavar="FILE|DIR|ZIP…")
@click.option(
    "--contest",
    metavar="C",
    shell_complete=names_of("contest"),
    help="Against this contest's tasks of the flight's date.",
)
@click.option("--day", type=click.IntRange(min=1), metavar="N", help="Against its tasks of this day alone.")
@click.option(
    "--task",
    "tasks",
    multiple=True,
    metavar="T",
    shell_complete=names_of("task"),
    help="Against this task; repeatable.",
)
@click.option("--save", is_flag=True, help="Keep what the day added up to with the tasks that were flown.")
@click.option("--map", "to", type=OUTPUT, metavar="FILE.svg", help="Draw the flights in grey over the task.")
def read(invocation: Invocation, paths: tuple[str, ...], **given: Any) -> Answer:
    """Read flight logs: which task each flight flew, when and how fast, and how far the others came.

    This is no scoring: it is what the library wants to know of its tasks. Logs (.igc) stay where they are; names, marks
    and recorder numbers in them are neither kept nor shown. With --save the store keeps a checksum of each log and the
    day's sums, beside what a person wrote of the day; the same logs again change nothing.
    """
    from taskdb.cli.render.flights import show_flights
    from taskdb.services.flights.drawing import draw_flights, require_map
    from taskdb.services.flights.plain import flights_plain
    from taskdb.services.flights.reading import FlightsRequest, read_flights, save_days

    contest = invocation.contest(given["contest"])
    if given["tasks"] and given["day"] is not None:
        raise UsageError("day-and-task", "--day chooses among a contest's tasks, --task names one.", hint="Give one.")
    to, yes = given["to"], invocation.settings.yes
    if to is not None:
        require_map(to, overwrite=yes)
    request = FlightsRequest(paths, contest, given["day"], given["tasks"], with_tracks=to is not None)
    with invocation.working("reading flights") as progress:
        done = read_flights(invocation.desk, request, progress)
    saved = None
    if given["save"]:
        saved = invocation.confirmed(lambda write: save_days(invocation.desk, done, write))
    drawn = None
    if to is not None and not invocation.preview:
        drawn = draw_flights(done, to, units=invocation.units, overwrite=yes)
        invocation.warn(*drawn.left_out)

    def people(printer: Printer) -> None:
        show_flights(printer, done, saved)
        if drawn is not None:
            printer.line(f"{drawn.path}: {drawn.task}")

    return Answer(flights_plain(done, saved, drawn), people=people)


@command("flight places")
@click.argument("paths", nargs=-1, required=True, type=INPUT, metavar="FILE|DIR|ZIP…")
@click.option(
    "--set",
    "set_reference",
    required=True,
    metavar="SET[@R]",
    shell_complete=names_of("set"),
    help="The set it is for.",
)
def places(invocation: Invocation, paths: tuple[str, ...], set_reference: str) -> Answer:
    """Show where gliders stood on the ground, against the waypoints of a set.

    Told are the aerodromes at which gliders stood, those that lie away from where gliders took off on several days, and
    places that no waypoint marks: candidates to add. Nothing is kept. `check run --flights` makes findings of it.
    """
    from taskdb.cli.render.flights import show_places
    from taskdb.services.flights.places import flight_places
    from taskdb.services.flights.plain import places_plain

    with invocation.working("reading flights") as progress:
        found = flight_places(invocation.desk, paths, set_reference, progress)
    invocation.warn(*found.left_out)
    return Answer(places_plain(found), people=lambda printer: show_places(printer, found))
