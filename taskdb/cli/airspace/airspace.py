"""`taskdb airspace …`: volumes in from files or drawn, shown, compared, out again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer, acts_if
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of, one_of
from taskdb.cli.typed.options import DISTANCE, INPUT, LIMIT, OUTPUT, assignments, fields_of
from taskdb.errors import UsageError
from taskdb.formats.known import AIRSPACE_READ, AIRSPACE_WRITTEN

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.airspace.airspace import AirspaceShown

KINDS = ("prohibited", "restricted", "danger", "controlled", "keep-out", "other")
"""The values of `core.airspace.volume.Kind`, which help does not load; a test holds the two against each other."""
_NAME = names_of("airspace")
_REVISION = "NAME[@R]"


@command("airspace import", writes=True)
@click.argument("path", metavar="FILE", type=INPUT)
@click.option("--into", required=True, metavar="NAME", shell_complete=_NAME, help="The airspace to import into.")
@click.option(
    "--format",
    metavar="F",
    shell_complete=one_of(AIRSPACE_READ),
    help=f"The file's format, where its content does not tell: {', '.join(AIRSPACE_READ)}.",
)
@click.option("--encoding", metavar="E", help="The file's encoding, where it is not UTF-8.")
@click.option(
    "--property", "properties", multiple=True, metavar="FIELD=NAME",
    help="Which property holds name, kind, floor, ceiling, times or frequency.",
)  # fmt: skip
@click.option("--repair", is_flag=True, help="Mend rings and repeated names without guessing, and say so.")
@click.option(
    "--mode",
    type=click.Choice(["merge", "replace"]),
    default="merge",
    show_default=True,
    help="merge adds and changes; replace also retires what the file lacks.",
)
def import_(invocation: Invocation, **given: Any) -> Answer:
    """Import a file of volumes into an airspace.

    Volumes are told apart by their names. Limits need a unit and a reference (1500ft MSL, 800m AGL, FL95, GND, UNL).
    While one volume cannot be read nothing is kept, and every problem is listed.
    """
    from taskdb.cli.render.airspace import show_imported
    from taskdb.formats.airspace.reading import AirspaceOptions
    from taskdb.services.airspace.importing import AirspaceImport, Mode, import_airspace
    from taskdb.services.airspace.plain import imported_plain

    properties = assignments(given["properties"], option="--property", form="FIELD=NAME")
    options = AirspaceOptions(**{**fields_of(AirspaceOptions, given), "properties": properties})
    request = AirspaceImport(given["path"], given["into"], options, Mode(given["mode"]))
    with invocation.working(f"importing {given['path']}"):
        done = invocation.confirmed(lambda write: import_airspace(invocation.desk, request, write))
    invocation.say_backup(done.backup)
    return Answer(imported_plain(done), people=lambda printer: show_imported(printer, done))


@command("airspace add", writes=True)
@click.argument("airspace", metavar="NAME", shell_complete=_NAME)
@click.argument("volume", metavar="VOLUME")
@click.argument("more", nargs=-1, metavar="[CODE]…", shell_complete=names_of("waypoint"))
@click.option(
    "--through", multiple=True, metavar="CODE…", shell_complete=names_of("waypoint"),
    help="The points of its outline in order: codes or positions.",
)  # fmt: skip
@click.option("--round", metavar="REF", shell_complete=names_of("waypoint"), help="A circle about this point.")
@click.option("--radius", "radius_m", type=DISTANCE, metavar="D", help="The circle's radius, e.g. 3km.")
@click.option("--kind", type=click.Choice(KINDS), help="What it is. [default: keep-out]")
@click.option("--floor", type=LIMIT, metavar="H", help="E.g. '1500ft MSL'. [default: GND]")
@click.option("--ceiling", type=LIMIT, metavar="H", help="E.g. FL95. [default: UNL]")
@click.option(
    "--set", "set_reference", metavar="SET[@R]", shell_complete=names_of("set"), help="Whose points. [default: all]"
)
def add(invocation: Invocation, airspace: str, volume: str, more: tuple[str, ...], **given: Any) -> Answer:
    """Draw a volume through points, or round one.

    Its edges are straight in longitude and latitude. A circle is drawn from outside: no place within the radius is left
    out. An airspace that is not there yet is made.
    """
    from taskdb.core.airspace.volume import Kind
    from taskdb.services.airspace.drawing import Drawn, add_volume

    through = given.pop("through")
    if more and len(through) != 1:
        raise UsageError("stray-points", "Points follow one --through.", hint="Write --through CODE CODE CODE…")
    given["kind"] = Kind(given["kind"]) if given["kind"] else None
    how = {name: value for name, value in fields_of(Drawn, given).items() if value is not None}
    drawn = Drawn(airspace=airspace, volume=volume, through=(*through, *more), **how)
    return _page(invocation.confirmed(lambda write: add_volume(invocation.desk, drawn, write)))


@command("airspace retire", writes=True)
@click.argument("airspace", metavar="NAME", shell_complete=_NAME)
@click.argument("volume", metavar="VOLUME", shell_complete=names_of("volume"))
def retire(invocation: Invocation, airspace: str, volume: str) -> Answer:
    """Retire a volume; earlier revisions keep it."""
    from taskdb.services.airspace.drawing import retire_volume

    return _page(invocation.confirmed(lambda write: retire_volume(invocation.desk, airspace, volume, write)))


@command("airspace list")
def list_(invocation: Invocation) -> Answer:
    """List the airspaces with their newest revisions."""
    from taskdb.cli.render.airspace import show_list
    from taskdb.services.airspace.airspace import list_airspaces
    from taskdb.services.airspace.plain import listed_plain

    infos = list_airspaces(invocation.desk)
    return Answer({"airspaces": [listed_plain(info) for info in infos]}, people=lambda out: show_list(out, infos))


@command("airspace show")
@click.argument("reference", metavar=_REVISION, shell_complete=_NAME)
def show(invocation: Invocation, reference: str) -> Answer:
    """Show an airspace at a revision with its volumes."""
    from taskdb.services.airspace.airspace import show_airspace

    return _page(show_airspace(invocation.desk, reference))


def _page(shown: AirspaceShown) -> Answer:
    from taskdb.cli.render.airspace import show_airspace_page
    from taskdb.services.airspace.plain import airspace_plain

    return Answer(airspace_plain(shown), people=lambda printer: show_airspace_page(printer, shown))


@command("airspace log")
@click.argument("name", shell_complete=_NAME)
def log(invocation: Invocation, name: str) -> Answer:
    """List an airspace's revisions, newest first."""
    from taskdb.cli.render.airspace import show_log
    from taskdb.services.airspace.airspace import airspace_log
    from taskdb.services.airspace.plain import log_plain

    name, infos = airspace_log(invocation.desk, name)
    return Answer(log_plain(name, infos), people=lambda printer: show_log(printer, name, infos))


@command("airspace diff")
@click.argument("old", metavar=_REVISION, shell_complete=_NAME)
@click.argument("new", metavar=f"[{_REVISION}]", required=False, shell_complete=_NAME)
@click.option("--exit-code", is_flag=True, help="Exit 1 where something differs.")
def diff(invocation: Invocation, old: str, new: str | None, exit_code: bool) -> Answer:
    """Show which volumes came, went, moved, grew or changed their limits.

    With one reference: NAME@3 against the newest; NAME its newest revision against the one before. Volumes are
    matched by name.
    """
    from taskdb.cli.render.airspace import show_differed
    from taskdb.services.airspace.airspace import diff_airspace
    from taskdb.services.airspace.plain import differed_plain

    differed = diff_airspace(invocation.desk, old, new)
    return Answer(
        differed_plain(differed),
        people=lambda printer: show_differed(printer, differed),
        exit_code=acts_if(exit_code and differed.changes),
    )


@command("airspace export")
@click.argument("reference", metavar=_REVISION, shell_complete=_NAME)
@click.option("--to", "path", required=True, type=OUTPUT, metavar="FILE", help="The file to write.")
@click.option(
    "--format", "format_name", type=click.Choice(list(AIRSPACE_WRITTEN)), help="Where the file's suffix does not tell."
)
@click.option("--yes", is_flag=True, help="Write over a file that exists.")
def export(invocation: Invocation, reference: str, path: str, format_name: str | None, yes: bool) -> Answer:
    """Write an airspace to one file."""
    from taskdb.core.numbers import counted
    from taskdb.core.plain import fields_plain
    from taskdb.services.airspace.airspace import export_airspace

    done = export_airspace(invocation.desk, reference, path=path, format_name=format_name, overwrite=yes)

    def people(printer: Printer) -> None:
        printer.line(f"{done.path}: {counted(done.count, 'volume')} of {done.airspace}@{done.revision}")
        for lost in done.lost:
            printer.line(f"  not in the file: {lost}")

    return Answer(fields_plain(done), people=people)
