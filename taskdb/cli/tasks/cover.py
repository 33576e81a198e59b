"""`taskdb task cover`: from where on the course a field is in reach."""

from __future__ import annotations

from typing import Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.tasks.cover_options import cover_asked, cover_options
from taskdb.cli.tasks.options import contest_option
from taskdb.cli.typed.options import TARGET, terrain_option


@command("task cover")
@click.argument("reference", metavar="NAME[@R]", shell_complete=names_of("task"))
@cover_options
@terrain_option
@click.option("--to", type=TARGET, metavar="FILE.svg", help="Write a side view of the course.")
@click.option("--samples", is_flag=True, help="Show every kilometre, not stretches.")
@click.option("--yes", "overwrite", is_flag=True, help="Write over a picture that exists.")
@contest_option
def cover(invocation: Invocation, reference: str, contest: str | None, **given: Any) -> Answer:
    """Say from where on the course a landable place is in reach of a straight glide.

    At each whole kilometre of each leg, and at the finish: the field over which a glide from the working altitude
    arrives highest, in the wind of the day, and the stretches without one. A figure and no promise: straight glide,
    constant wind, no sink, no circuit, fields as last inspected.

    With --terrain a glide has to clear the ground by --clearance, but for its last part (--free). Without, figures are
    withheld where the shipped grid of 9 km shows hills of more than 300 m on the way.

      taskdb task cover A --glide 25 --working-altitude "1500m MSL" --wind 240/15kt
    """
    from taskdb.cli.render.cover import show_cover
    from taskdb.services.tasks.cover import CoverRequest, cover_task
    from taskdb.services.tasks.plain import cover_plain

    request = CoverRequest(
        cover_asked(given), given["terrain"], given["to"], units=invocation.units, overwrite=given["overwrite"]
    )
    shown = cover_task(invocation.desk, reference, request, invocation.contest(contest))
    invocation.warn(*shown.found.notes)
    with_samples = given["samples"]
    return Answer(cover_plain(shown), people=lambda printer: show_cover(printer, shown, with_samples=with_samples))
