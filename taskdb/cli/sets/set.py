"""`taskdb set …`: waypoint sets, in from files, shown, listed, out again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer, acts_if
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of, one_of
from taskdb.cli.typed.options import (
    FILE,
    INPUT,
    OUTPUT,
    assignments,
    fields_of,
    required_terrain,
    terrain_option,
    text_of,
)
from taskdb.formats.known import SETS_READ, SETS_WRITTEN

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer


_COLUMN_HELP = """Which column holds a field, by header or as #N; the parts of a coordinate joined by +:
latitude_deg='Lat °'+"Lat '"+'N/S'. aside=HEADER leaves a column aside."""


@command("set import", writes=True)
@click.argument("path", metavar="FILE", type=INPUT)
@click.option("--into", required=True, metavar="SET", shell_complete=names_of("set"), help="The set to import into.")
@click.option(
    "--format",
    metavar="F",
    shell_complete=one_of(SETS_READ),
    help=f"The file's format, where its content does not tell: {', '.join(SETS_READ)}.",
)
@click.option("--notation", metavar="N", help="How the coordinates are written, where the column does not tell.")
@click.option("--column", "columns", multiple=True, metavar="FIELD=HEADER", help=_COLUMN_HELP)
@click.option("--encoding", metavar="E", help="The file's encoding, where it is not UTF-8 or cp1252.")
@click.option("--delimiter", metavar="D", help="What parts the columns, where the file does not tell.")
@click.option("--decimal", type=click.Choice([".", ","]), help="The decimal sign, where the file does not tell.")
@click.option("--elevation-unit", type=click.Choice(["m", "ft"]), help="Unit of an elevation column without one.")
@click.option("--letter-o", type=click.Choice(["east", "west"]), help="What a lone O means: Ost or ouest.")
@click.option("--heading", type=click.Choice(["true", "magnetic"]), help="What a bare runway heading is.")
@click.option("--profile", type=FILE, metavar="FILE.toml", help="A description of the file's layout of your own.")
@click.option("--rejects", type=OUTPUT, metavar="FILE", help="With --on-error skip: where the bad rows go.")
@click.option("--check", is_flag=True, help="Count the findings about what came in, also in a large set.")
@click.option("--codes-as-written", is_flag=True, help="Take a code without its leading zeros as a new code.")
@click.option("--map", "mapping", multiple=True, metavar="OLD=NEW", help="The waypoint OLD is the file's row NEW.")
@click.option("--new", "own", multiple=True, metavar="CODE", help="The row of this code is a place of its own.")
@click.option("--fill-elevation", is_flag=True, help="Take elevations that are missing from --terrain, marked so.")
@terrain_option
@click.option("--codes", metavar="name|number|FIELD", help="Where codes come from in a format without codes.")
@click.option(
    "--mode",
    type=click.Choice(["merge", "replace"]),
    default="merge",
    show_default=True,
    help="merge adds and changes; replace also retires what the file lacks.",
)
@click.option("--empty", type=click.Choice(["keeps", "clears"]), help="What an empty cell does to a standing value.")
@click.option(
    "--coarser",
    type=click.Choice(["keeps", "takes"]),
    default="keeps",
    show_default=True,
    help="What a value does that says the standing one with fewer digits.",
)
@click.option(
    "--on-error",
    type=click.Choice(["stop", "skip"]),
    default="stop",
    show_default=True,
    help="stop keeps nothing while a row is bad; skip takes the good rows.",
)
def import_(invocation: Invocation, **given: Any) -> Answer:
    """Import a file of waypoints into a set.

    Adds and changes by default; --mode replace also retires what the file lacks. Every bad row is listed, and unless
    --on-error skip is given nothing is kept while one is bad.
    """
    from taskdb.cli.render.imported_set import show_import
    from taskdb.cli.sets.pasting import with_lines
    from taskdb.errors import InputError
    from taskdb.formats.registry import ReadOptions
    from taskdb.services.sets.importing import ImportRequest, Mode, OnEmpty, import_set
    from taskdb.services.sets.plain import import_plain

    read = {
        **fields_of(ReadOptions, given),
        "columns": assignments(given["columns"], option="--column", form="FIELD=HEADER"),
        "profile": text_of(given["profile"]),
    }
    how = {
        **fields_of(ImportRequest, given),
        "mode": Mode(given["mode"]),
        "mapping": assignments(given["mapping"], option="--map", form="OLD=NEW"),
        "on_empty": OnEmpty(given["empty"]) if given["empty"] else None,
        "rejects_path": given["rejects"],
        "fill_from": required_terrain(given["terrain"], "--fill-elevation") if given["fill_elevation"] else None,
    }
    skips, coarser = given["on_error"] == "skip", given["coarser"] == "takes"
    request = ImportRequest(options=ReadOptions(**read), skip_bad_rows=skips, takes_coarser=coarser, **how)
    with invocation.working(f"importing {given['path']}"):
        try:
            done = invocation.confirmed(lambda write: import_set(invocation.desk, request, write))
        except InputError as error:
            raise with_lines(error, {**given, "preview": invocation.preview}) from None
    invocation.say_backup(done.backup)
    return Answer(
        import_plain(done),
        people=lambda printer: show_import(printer, done),
        exit_code=acts_if(done.rejected),
    )


@command("set list")
def list_(invocation: Invocation) -> Answer:
    """List the waypoint sets with their newest revisions."""
    from taskdb.cli.render.console import right
    from taskdb.core.plain import fields_plain
    from taskdb.services.sets.set import list_sets

    sets = list_sets(invocation.desk)
    result = {"sets": [{"set": s.name, **fields_plain(s, but=("name",))} for s in sets]}

    def people(printer: Printer) -> None:
        if not sets:
            printer.line("There is no waypoint set yet. Import one: taskdb set import FILE --into NAME")
            return
        printer.table(
            ["set", *right("revision", "waypoints"), "label", "changed", "by"],
            [(s.name, s.revision, s.count, s.label, s.changed_at, s.author) for s in sets],
        )

    return Answer(result, people=people)


@command("set show")
@click.argument("reference", metavar="SET[@R]", shell_complete=names_of("set"))
@click.option("--limit", type=click.IntRange(min=0), metavar="N", help="Show at most N waypoints.")
def show(invocation: Invocation, reference: str, limit: int | None) -> Answer:
    """Show a set at a revision with its waypoints."""
    from taskdb.cli.render.waypoints import waypoint_table
    from taskdb.core.numbers import counted
    from taskdb.core.plain import waypoint_plain
    from taskdb.services.sets.set import show_set

    shown = show_set(invocation.desk, reference)
    info = shown.info
    listed = shown.waypoints if limit is None else shown.waypoints[:limit]
    result = {
        "set": info.set_name,
        "revision": info.number,
        "count": info.count,
        "label": info.label,
        "valid_from": info.valid_from,
        "author": info.author,
        "created_at": info.at,
        "note": info.note,
        "waypoints": [waypoint_plain(w, set_name=info.set_name, revision=info.number) for w in listed],
        "truncated": len(listed) < len(shown.waypoints),
    }

    def people(printer: Printer) -> None:
        printer.heading(f"{info.set_name}@{info.number}: {counted(info.count, 'waypoint')}")
        label = f"{info.label}, valid from {info.valid_from}" if info.label and info.valid_from else info.label
        printer.pairs([("label", label), ("by", info.author), ("at", info.at), ("note", info.note)])
        if shown.waypoints:
            printer.line()
            waypoint_table(printer, [(w, None) for w in listed])
            printer.shown(len(listed), len(shown.waypoints), "waypoints")

    return Answer(result, people=people)


@command("set log")
@click.argument("reference", metavar="SET", shell_complete=names_of("set"))
def log(invocation: Invocation, reference: str) -> Answer:
    """List a set's revisions, newest first."""
    from taskdb.cli.render.console import right
    from taskdb.services.sets.set import set_log

    name, revisions = set_log(invocation.desk, reference)
    result = {
        "set": name,
        "revisions": [
            {
                "revision": r.number,
                "label": r.label,
                "author": r.author,
                "created_at": r.at,
                "note": r.note,
                "added": r.added,
                "changed": r.changed,
                "retired": r.retired,
                "count": r.count,
            }
            for r in revisions
        ],
    }

    def people(printer: Printer) -> None:
        printer.heading(name)
        printer.table(
            [*right("revision", "waypoints", "added", "changed", "retired"), "at", "by", "label", "note"],
            [(r.number, r.count, r.added, r.changed, r.retired, r.at, r.author, r.label, r.note) for r in revisions],
        )

    return Answer(result, people=people)


@command("set export")
@click.argument("reference", metavar="SET[@R]", shell_complete=names_of("set"))
@click.option(
    "--format",
    "format_name",
    metavar="F",
    default="csv",
    show_default=True,
    shell_complete=one_of(SETS_WRITTEN),
    help=f"{', '.join(SETS_WRITTEN)}.",
)
@click.option("--to", "path", required=True, type=OUTPUT, metavar="FILE", help="The file to write.")
@click.option("--identity", is_flag=True, help="Add the identities (csv), so that a later import knows each waypoint.")
@click.option("--profile", type=FILE, metavar="FILE.toml", help="A text layout of your own instead of a format.")
@click.option("--yes", is_flag=True, help="Write over a file that exists.")
def export(invocation: Invocation, reference: str, format_name: str, path: str, **given: Any) -> Answer:
    """Write a set to one file."""
    from taskdb.core.numbers import counted
    from taskdb.core.plain import fields_plain
    from taskdb.services.sets.set import export_set_file

    done = export_set_file(
        invocation.desk,
        reference,
        format_name="profile" if given["profile"] else format_name,
        path=path,
        with_identity=given["identity"],
        profile=text_of(given["profile"]),
        overwrite=given["yes"],
    )

    def people(printer: Printer) -> None:
        what = f"{counted(done.count, 'waypoint')} of {done.set_name}@{done.revision}"
        printer.line(f"{done.path}: {what} as {done.format}")
        for lost in done.lost:
            printer.line(f"  not in this format: {lost}")

    return Answer(fields_plain(done), people=people)
