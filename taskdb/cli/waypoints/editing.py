"""`taskdb waypoint add|edit|retire|restore`: single waypoints, each change a revision of the set."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import OneOf, together
from taskdb.core.kinds import Feature, Landable

if TYPE_CHECKING:
    from taskdb.services.waypoints.editing import Edited

_TEXTS = (
    ("--name", "name", "NAME", "Its name."),
    ("--at", "position", "POSITION", "Where it is, in any notation: 48.872,11.8105 or 48°52.320'N 011°48.630'E."),
    ("--elevation", "elevation", "H", "Above mean sea level, with its unit: 389m or 1276ft."),
    ("--country", "country", "C", "Its country."),
    ("--radio", "radio", "TEXT", "Channels: '123.505 launch; 122.480'."),
    ("--runways", "runways", "TEXT", "Runways: '07/25 071deg 850m x 30m grass'; headings true."),
    ("--description", "description", "TEXT", "What a pilot should know."),
    ("--source", "source", "TEXT", "Where the values come from."),
    ("--inspected-on", "inspected_on", "DATE", "When it was last looked at, e.g. 2027-05-14."),
)


_value_options = together(
    *(click.option(flag, name, metavar=metavar, help=text) for flag, name, metavar, text in _TEXTS),
    click.option("--landable", type=OneOf(Landable), help="How far it can be landed at."),
    click.option("--feature", type=OneOf(Feature), help="What it marks in the landscape."),
)
"""Adds an option for each value of a waypoint, named like the field that it fills."""


def _answer(invocation: Invocation, done: Edited) -> Answer:
    from taskdb.cli.render.diffs import show_edited
    from taskdb.services.waypoints.plain import edited_plain

    return Answer(edited_plain(done), people=lambda printer: show_edited(printer, done))


@command("waypoint add", writes=True)
@click.argument("set_reference", metavar="SET", shell_complete=names_of("set"))
@click.argument("code", metavar="CODE")
@_value_options
def add(invocation: Invocation, set_reference: str, code: str, **given: Any) -> Answer:
    """Add a waypoint to a set.

    --name and --at are needed. Told are: the places nearby, and a code that stood for another place before.
    """
    from taskdb.services.waypoints.editing import add_waypoint
    from taskdb.services.waypoints.typed_values import WaypointTexts

    texts = WaypointTexts(code=code, **given)
    done = invocation.confirmed(lambda write: add_waypoint(invocation.desk, set_reference, texts, write))
    return _answer(invocation, done)


@command("waypoint edit", writes=True)
@click.argument("reference", metavar="REF", shell_complete=names_of("waypoint"))
@click.option("--set", "set_reference", metavar="SET", shell_complete=names_of("set"), help="Look in this set.")
@click.option("--code", metavar="NEW", help="A new code.")
@_value_options
@click.option("--clear", multiple=True, metavar="VALUE", help="Empty a value, e.g. --clear radio.")
def edit(invocation: Invocation, reference: str, set_reference: str | None, **given: Any) -> Answer:
    """Change what is given of a waypoint; the rest stays.

    Saved tasks that use it keep their copy and become stale; they are listed.
    """
    from taskdb.services.waypoints.editing import edit_waypoint
    from taskdb.services.waypoints.typed_values import WaypointTexts

    texts = WaypointTexts(**given)
    done = invocation.confirmed(lambda write: edit_waypoint(invocation.desk, reference, texts, write, set_reference))
    return _answer(invocation, done)


@command("waypoint retire", writes=True)
@click.argument("reference", metavar="REF", shell_complete=names_of("waypoint"))
@click.option("--set", "set_reference", metavar="SET", shell_complete=names_of("set"), help="Look in this set.")
def retire(invocation: Invocation, reference: str, set_reference: str | None) -> Answer:
    """Retire a waypoint; its states stay.

    Asks where saved tasks use it, and lists them. `waypoint restore` brings it back.
    """
    from taskdb.services.waypoints.editing import retire_waypoint

    done = invocation.confirmed(lambda write: retire_waypoint(invocation.desk, reference, write, set_reference))
    return _answer(invocation, done)


@command("waypoint restore", writes=True)
@click.argument("reference", metavar="REF")
@click.option("--set", "set_reference", metavar="SET[@R]", shell_complete=names_of("set"), help="Look in this set.")
@click.option("--code", metavar="NEW", help="A new code, where its own is taken by now.")
def restore(invocation: Invocation, reference: str, set_reference: str | None, code: str | None) -> Answer:
    """Bring a retired waypoint back, or set one back to an earlier state.

    REF is the code or name of a retired one; SET@3:CODE is a waypoint as it stood in revision 3, retired or not.
    """
    from taskdb.services.waypoints.editing import restore_waypoint

    done = invocation.confirmed(
        lambda write: restore_waypoint(invocation.desk, reference, write, set_reference, code)
    )  # fmt: skip
    return _answer(invocation, done)
