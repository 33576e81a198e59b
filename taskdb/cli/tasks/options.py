"""What several commands of `taskdb task` have: options, what those of a modified task mean, the page as an answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import COUNT_OR_ANY, DURATION, SPEED, TASK_TYPE, together
from taskdb.cli.typed.zone_options import zone_or_default

if TYPE_CHECKING:
    from taskdb.services.tasks.free_points import FreeRequest
    from taskdb.services.tasks.keeping import TaskShown

contest_option = click.option(
    "--contest", metavar="C", shell_complete=names_of("contest"), help="The contest it is in."
)
"""Adds --contest, which narrows a task's name."""

placing_options = together(
    click.option("--type", type=TASK_TYPE, help="Default: racing, or by its zones."),
    click.option("--day", type=click.IntRange(min=1), metavar="N", help="Day of the contest."),
    click.option("--class", "class_name", metavar="C", help="Class of the contest."),
    click.option("--variant", metavar="V", help="Variant of the day's task: A, B, C."),
    click.option("--time", "time_s", type=DURATION, metavar="T", help="Minimum or expected time, e.g. 3:00."),
    click.option("--speed", "speed_kmh", type=SPEED, metavar="V", help="Planned average in still air: 95km/h."),
    click.option("--zone", "zones", multiple=True, metavar="N|start|finish|turns|areas=ZONE", help="Set a zone."),
    click.option("--take-off", metavar="REF", shell_complete=names_of("waypoint"), help="Declared take-off."),
    click.option("--landing", metavar="REF", shell_complete=names_of("waypoint"), help="Declared landing."),
    click.option("--tag", "tags", multiple=True, metavar="T", help="A word to find it by."),
)
"""Adds what says what a task is and where it belongs: type, day, class, variant, time, speed, zones."""

free_options = together(
    click.option("--free-points", type=COUNT_OR_ANY, metavar="N|any", help="Modified: at most N free points."),
    click.option("--free-from", metavar="SET|CODE,CODE…", help="Modified: what they are chosen from."),
    click.option(
        "--no-repeat/--repeat",
        default=None,
        help="Modified: a free point may come again, but not (or also) twice in a row.",
    ),
    click.option("--free-zone", metavar="ZONE|default", help="Modified: the zone at each free point."),
)
"""Adds what a modified task has: how many free points, from where, twice in a row or not, their zone."""


def free_request(given: dict[str, Any]) -> FreeRequest | None:
    """Take what `free_options` read out of the options, and return it; None where nothing was given."""
    from taskdb.services.tasks.free_points import FreeRequest

    most, chosen_from, no_repeat, zone_text = (
        given.pop(name) for name in ("free_points", "free_from", "no_repeat", "free_zone")
    )
    if all(one is None for one in (most, chosen_from, no_repeat, zone_text)):
        return None
    zone = None if zone_text is None else zone_or_default(zone_text)
    return FreeRequest(most, chosen_from, no_repeat, zone, zone_text is not None and zone is None)


def task_page(shown: TaskShown) -> Answer:
    """Return the answer that shows a task."""
    from taskdb.cli.render.tasks import show_task_page
    from taskdb.services.tasks.plain import shown_plain

    return Answer(shown_plain(shown), people=lambda printer: show_task_page(printer, shown))
