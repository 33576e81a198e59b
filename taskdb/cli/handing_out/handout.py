"""`taskdb handout`: a contest day in everyone's hands, in one command."""

from __future__ import annotations

from typing import Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.handing_out.export import warn_of_declarations
from taskdb.cli.typed.options import DISTANCE, FILE
from taskdb.errors import UsageError


@command("handout", writes=True)
@click.option("--contest", metavar="C", shell_complete=names_of("contest"), help="The contest.")
@click.option("--day", type=click.IntRange(min=1), metavar="N", help="Its day; without it all its tasks.")
@click.option("--to", required=True, type=FILE, metavar="DIR|FILE.zip", help="A folder, or a zip by its name.")
@click.option("--to-whom", metavar="TEXT", help="Who gets it; kept with what was in it.")
@click.option("--proposed", is_flag=True, help="Hand out what is proposed where nothing is issued, marked so.")
@click.option("--points-within", "within_m", type=DISTANCE, metavar="D", help="Points round the site too, e.g. 150km.")
def handout(invocation: Invocation, contest: str | None, **given: Any) -> Answer:
    """Write a day's tasks in every format, with sheet, maps, points and what changed.

    What is issued goes out, its other variants stay at home (`task choose`). What is in the folder from an earlier day
    or task is taken away. The store keeps what went out: every value that differs is told the next time, old and new.
    Asks while a task is stale or has an open error.
    """
    from taskdb.cli.render.handed_out import show_handout
    from taskdb.services.handing_out.handout import HandoutRequest, hand_out
    from taskdb.services.handing_out.plain import handout_plain

    name = invocation.contest(contest)
    if name is None:
        raise UsageError("no-contest", "No contest is named.", hint="Give --contest NAME.")
    request = HandoutRequest(
        name,
        given["day"],
        given["to"],
        given["to_whom"],
        given["within_m"],
        units=invocation.units_given,
        proposed=given["proposed"],
    )
    done = invocation.confirmed(lambda write: hand_out(invocation.desk, request, write))
    warn_of_declarations(invocation, done.pack)
    for task in done.unissued:
        choose = f"`taskdb task choose {task!r} --contest {name!r}`"
        invocation.warn(f"{task} went out as the only task of its day and class; {choose} issues it.")
    for task in done.at_home:
        choose = f"`taskdb task choose {task!r} --contest {name!r}`"
        invocation.warn(f"{task} is proposed and stayed at home; {choose} issues it.")
    return Answer(handout_plain(done), people=lambda printer: show_handout(printer, done))
