"""`taskdb publish`: a set or a contest as pages for those who look things up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import TARGET

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer


@command("publish")
@click.argument("set_reference", metavar="SET[@R]", required=False, shell_complete=names_of("set"))
@click.option("--contest", metavar="C", shell_complete=names_of("contest"), help="A contest, in place of a set.")
@click.option("--to", required=True, type=TARGET, metavar="DIR|FILE.zip", help="A folder, or a zip by its name.")
@click.option("--language", type=click.Choice(["en", "de"]), default="en", help="Of the pages. [default: en]")
@click.option("--title", metavar="T", help="What stands on every page. [default: the name]")
@click.option(
    "--tiles",
    metavar="URL|DIR",
    help="Background pictures of your own for the map: an address with {z}, {x}, {y}, or a folder.",
)
@click.option("--attribution", metavar="TEXT", help="Whose they are; goes with --tiles.")
@click.option("--findings", is_flag=True, help="Show what the check, or the review of the tasks, finds.")
@click.option("--yes", is_flag=True, help="Write over files that the target's manifest does not list.")
def publish(invocation: Invocation, **given: Any) -> Answer:
    """Write a set or a contest as pages for members, which open from a stick without a network.

    Of a set: search as in `waypoint find`, a list, a map, a page for each waypoint, what changed since the edition
    before, files. Of a contest: its days with the tasks that were issued, and those only, their sheets, maps, files and
    fingerprints, and what holds no more. What an earlier publication left in the folder is replaced, anything else
    there stays.
    """
    from taskdb.cli.render.handing_out import show_published
    from taskdb.report.pages.texts import Language
    from taskdb.services.handing_out.publishing import PublishRequest, publish

    request = PublishRequest(
        to=given["to"],
        set_reference=given["set_reference"],
        contest=given["contest"] if given["set_reference"] else invocation.contest(given["contest"]),
        language=Language(given["language"]),
        title=given["title"],
        findings=given["findings"],
        tiles=given["tiles"],
        attribution=given["attribution"],
        overwrite=given["yes"],
        units=invocation.units_given,
    )
    done = publish(invocation.desk, request)
    if not done.has_moving_maps:
        invocation.warn("The maps are pictures; with pip install 'taskdb[map]' they move and zoom.")
    if request.contest is not None and not done.count:
        invocation.warn(f"No task of {done.what} is issued; `taskdb task choose TASK` issues one.")

    def people(printer: Printer) -> None:
        show_published(printer, done)

    result = {"published": done.what, "count": done.count, "entry": done.entry, **done.pack.plain()}
    return Answer(result, people=people)
