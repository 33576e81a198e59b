"""`taskdb waypoint …`: single waypoints, found and shown."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer, limited
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import DISTANCE, OneOf
from taskdb.core.kinds import Feature, Landable

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer

SHOWN_ON_TERMINAL = 50


@command("waypoint find")
@click.argument("text", required=False, metavar="[TEXT]")
@click.option("--set", "set_reference", metavar="SET[@R]", shell_complete=names_of("set"), help="Search one set only.")
@click.option("--near", metavar="PLACE", help="A waypoint or a position; goes with --within.")
@click.option("--within", "within_m", type=DISTANCE, metavar="D", help="How far from --near, e.g. 25km.")
@click.option("--landable", type=OneOf(Landable), help="Only these.")
@click.option("--feature", type=OneOf(Feature), help="Only these.")
@click.option("--limit", type=click.IntRange(min=0), metavar="N", help="Show at most N.")
def find(invocation: Invocation, **given: Any) -> Answer:
    """Find waypoints by code, name, kind or nearness.

    Each word of TEXT must begin a word of the code or name; accents and case do not matter, and umlauts are found
    in both spellings (Zürich from zurich and zuerich).
    """
    from taskdb.cli.render.waypoints import waypoint_table
    from taskdb.services.waypoints.plain import found_plain
    from taskdb.services.waypoints.waypoint import FindRequest, find_waypoints

    found = find_waypoints(invocation.desk, FindRequest(**given))

    def people(printer: Printer) -> None:
        if not found.total:
            printer.line("No waypoint fits.")
            return
        # On a terminal a long list is cut, and it says so.
        cut = SHOWN_ON_TERMINAL if given["limit"] is None and printer.width is not None else None
        hits = found.waypoints[:cut]
        names = [str(hit.at) for hit in hits]
        rows = [(hit.waypoint, hit.distance_m) for hit in hits]
        waypoint_table(printer, rows, names if len(set(names)) > 1 else None)
        printer.shown(len(hits), found.total, "waypoints")

    return Answer(limited("waypoints", [found_plain(hit) for hit in found.waypoints], found.total), people=people)


@command("waypoint show")
@click.argument("reference", metavar="REF", shell_complete=names_of("waypoint"))
@click.option("--set", "set_reference", metavar="SET[@R]", shell_complete=names_of("set"), help="Look in this set.")
@click.option("--history", is_flag=True, help="Show every state it has had, and who changed what.")
def show(invocation: Invocation, reference: str, set_reference: str | None, history: bool) -> Answer:
    """Show everything known of one waypoint.

    REF is a code, SET:CODE, a name, or the unique beginning of one.
    """
    from taskdb.cli.render.waypoints import waypoint_card
    from taskdb.services.waypoints.plain import found_plain
    from taskdb.services.waypoints.waypoint import show_waypoint

    if history:
        return _history(invocation, reference, set_reference)
    hit = show_waypoint(invocation.desk, reference, set_reference)
    return Answer(found_plain(hit), people=lambda printer: waypoint_card(printer, hit.waypoint, str(hit.at)))


def _history(invocation: Invocation, reference: str, set_reference: str | None) -> Answer:
    from taskdb.cli.render.waypoints import show_history
    from taskdb.core.plain import waypoint_plain
    from taskdb.services.waypoints.waypoint import waypoint_history

    at, states = waypoint_history(invocation.desk, reference, set_reference)
    result = {
        "set": at.head.name,
        "states": [
            {
                "from_revision": state.began.number,
                "before_revision": None if state.ended is None else state.ended.number,
                "retired": state.is_retirement,
                "author": state.began.author,
                "created_at": state.began.at,
                "note": state.began.note,
                "waypoint": waypoint_plain(state.waypoint, set_name=at.head.name, revision=state.began.number),
            }
            for state in states
        ],
    }
    return Answer(result, people=lambda printer: show_history(printer, at.head.name, states))
