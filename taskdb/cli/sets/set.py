"""`taskdb set …`: waypoint sets, in from files, shown, listed, out again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import FILE, assignments

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.kept import SetRevisionInfo, SetSummary
    from taskdb.formats.text.profiles import Profile
    from taskdb.services.sets.importing import ImportResult
    from taskdb.services.sets.set import SetExported, SetShown


_COLUMN_HELP = """Which column holds a field, by header or as #N; the parts of a coordinate joined by +:
latitude_deg='Lat °'+"Lat '"+'N/S'. aside=HEADER leaves a column aside."""


@command("set import", writes=True)
@click.argument("file", type=FILE)
@click.option("--into", required=True, metavar="SET", shell_complete=names_of("set"), help="The set to import into.")
@click.option("--format", "format_name", metavar="F", help="The file's format, where its name does not tell.")
@click.option("--notation", metavar="N", help="How the coordinates are written, where the column does not tell.")
@click.option("--column", "columns", multiple=True, metavar="FIELD=HEADER", help=_COLUMN_HELP)
@click.option("--encoding", metavar="E", help="The file's encoding, where it is not UTF-8 or cp1252.")
@click.option("--delimiter", metavar="D", help="What parts the columns, where the file does not tell.")
@click.option("--decimal", type=click.Choice([".", ","]), help="The decimal sign, where the file does not tell.")
@click.option("--elevation-unit", type=click.Choice(["m", "ft"]), help="Unit of an elevation column without one.")
@click.option("--letter-o", type=click.Choice(["east", "west"]), help="What a lone O means: Ost or ouest.")
@click.option("--heading", type=click.Choice(["true", "magnetic"]), help="What a bare runway heading is.")
@click.option("--profile", type=FILE, metavar="FILE.toml", help="A description of the file's layout of your own.")
@click.option("--rejects", type=FILE, metavar="FILE", help="With --on-error skip: where the bad rows go.")
@click.option("--check", is_flag=True, help="Count the findings about what came in, also in a large set.")
@click.option("--codes-as-written", is_flag=True, help="Take a code without its leading zeros as a new code.")
@click.option("--map", "mapping", multiple=True, metavar="OLD=NEW", help="The waypoint OLD is the file's row NEW.")
@click.option("--new", "own", multiple=True, metavar="CODE", help="The row of this code is a place of its own.")
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
    from taskdb.cli.frame.pasting import with_lines
    from taskdb.errors import ExitCode, InputError
    from taskdb.formats.registry import ReadOptions
    from taskdb.services.sets.importing import ImportRequest, Mode, OnEmpty, import_set

    options = ReadOptions(
        format=given["format_name"],
        notation=given["notation"],
        columns=assignments(given["columns"], option="--column", form="FIELD=HEADER"),
        encoding=given["encoding"],
        delimiter=given["delimiter"],
        decimal=given["decimal"],
        elevation_unit=given["elevation_unit"],
        codes=given["codes"],
        letter_o=given["letter_o"],
        heading=given["heading"],
        profile=text_of(given["profile"]),
    )
    request = ImportRequest(
        path=given["file"],
        into=given["into"],
        options=options,
        mode=Mode(given["mode"]),
        on_empty=OnEmpty(given["empty"]) if given["empty"] else None,
        skip_bad_rows=given["on_error"] == "skip",
        rejects_path=given["rejects"],
        check=given["check"],
        codes_as_written=given["codes_as_written"],
        mapping=assignments(given["mapping"], option="--map", form="OLD=NEW"),
        own=given["own"],
        takes_coarser=given["coarser"] == "takes",
    )
    with invocation.working(f"importing {given['file']}"):
        try:
            done = invocation.confirmed(lambda write: import_set(invocation.desk, request, write))
        except InputError as error:
            raise with_lines(error, {**given, "preview": invocation.preview}) from None
    invocation.say_backup(done.backup)
    return Answer(
        import_plain(done),
        people=lambda printer: show_import(printer, done),
        exit_code=ExitCode.ACT if done.rejected else ExitCode.DONE,
    )


def text_of(path: str | None) -> str | None:
    """Return the text of a small file of a person's own, None for no file. InputError where it is no UTF-8."""
    from taskdb.errors import InputError
    from taskdb.files.reading import open_input

    if path is None:
        return None
    with open_input(path, 1 << 20) as stream:
        try:
            return stream.read().decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise InputError("not-text", f"{path} is no UTF-8 text: {error}.", hint="Save it as UTF-8.") from None


def profile_of(path: str | None) -> Profile | None:
    """Return the profile of a file, None for no file. InputError where it is none, with its line."""
    from taskdb.formats.text.profiles import parse_profile

    text = text_of(path)
    return None if text is None else parse_profile(text, name=str(path))


def import_plain(done: ImportResult) -> dict[str, Any]:
    """Return the JSON result of an import."""
    from taskdb.cli.render.imported_set import fineness_plain, match_plain
    from taskdb.core.plain import problem_plain

    matches = [match_plain(match) for match in done.matches]
    return {
        "set": done.set_name,
        "revision": done.revision,
        "read": done.read,
        "added": done.added,
        "changed": done.changed,
        "unchanged": done.unchanged,
        "retired": done.retired,
        "renumbered": done.renumbered,
        "kept_values": done.kept_values,
        "restored_codes": done.restored_codes,
        "rejects": done.rejects_path,
        "findings": None if done.findings is None else dict(done.findings),
        "count": done.count,
        "rejected": [problem_plain(problem) for problem in done.rejected],
        "matches": matches,
        "renumberings": [match for match in matches if match["code"] != match["old_code"]],
        "far_moves": [match_plain(match) for match in done.matches if match.is_far_move],
        **fineness_plain(done.fineness),
        "decided": done.decided.plain(),
        "backup": done.backup,
    }


def show_import(printer: Printer, done: ImportResult) -> None:
    """Say what an import did: counts first, then what was decided; what it renumbered or moved far stands last."""
    from taskdb.cli.render.imported_set import fineness_pairs, show_consequences, show_other_matches
    from taskdb.cli.render.numbers import counted
    from taskdb.cli.render.problems import rejected_row
    from taskdb.core.plain import problem_plain

    changed_nothing = not (done.added or done.changed or done.retired)
    suffix = "; no new revision" if changed_nothing else ""
    printer.heading(f"{done.set_name}@{done.revision}: {counted(done.count, 'waypoint')}{suffix}")
    printer.pairs(
        [
            ("read", done.read),
            ("added", done.added),
            ("changed", done.changed),
            ("unchanged", done.unchanged),
            ("retired", done.retired or None),
            ("renumbered", done.renumbered or None),
            ("rejected", len({p.line for p in done.rejected}) or None),
            ("empty cells that kept a value", done.kept_values or None),
            *fineness_pairs(done.fineness),
            ("leading zeros given back", done.restored_codes or None),
            ("bad rows written to", done.rejects_path),
            ("read as", decided_text(done)),
        ]
    )
    if done.findings:
        found = ", ".join(counted(number, severity) for severity, number in sorted(done.findings.items()))
        printer.line(f"The checks have {found} about what came in: taskdb check run {done.set_name}", style="warning")
    for note in done.decided.notes:
        printer.line(f"  {note}")
    if done.decided.ignored:
        printer.line(f"  columns left aside: {', '.join(done.decided.ignored)}")
    show_other_matches(printer, done.matches)
    for problem in done.rejected:
        printer.line(f"  {rejected_row(problem_plain(problem))}")
    show_consequences(printer, done.matches)


def decided_text(done: ImportResult) -> str:
    """Return what was decided about a file, in one line."""
    decided = done.decided
    delimiter = {"\t": "tab", ",": "comma", ";": "semicolon"}.get(decided.delimiter or "", decided.delimiter)
    parts = [decided.format, decided.encoding, f"{delimiter} between columns" if delimiter else None, decided.notation]
    return ", ".join(part for part in parts if part)


@command("set list")
def list_(invocation: Invocation) -> Answer:
    """List the waypoint sets with their newest revisions."""
    from taskdb.services.sets.set import list_sets

    sets = list_sets(invocation.desk)
    result = {
        "sets": [
            {
                "set": s.name,
                "revision": s.revision,
                "count": s.count,
                "label": s.label,
                "changed_at": s.changed_at,
                "author": s.author,
            }
            for s in sets
        ]
    }
    return Answer(result, people=lambda printer: show_list(printer, sets))


def show_list(printer: Printer, sets: tuple[SetSummary, ...]) -> None:
    """Show the sets as a table."""
    from taskdb.cli.render.console import Column

    if not sets:
        printer.line("There is no waypoint set yet. Import one: taskdb set import FILE --into NAME")
        return
    printer.table(
        ["set", Column("revision", right=True), Column("waypoints", right=True), "label", "changed", "by"],
        [(s.name, s.revision, s.count, s.label, s.changed_at, s.author) for s in sets],
    )


@command("set show")
@click.argument("reference", metavar="SET[@R]", shell_complete=names_of("set"))
@click.option("--limit", type=click.IntRange(min=0), metavar="N", help="Show at most N waypoints.")
def show(invocation: Invocation, reference: str, limit: int | None) -> Answer:
    """Show a set at a revision with its waypoints."""
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
    return Answer(result, people=lambda printer: show_set_page(printer, shown, limit))


def show_set_page(printer: Printer, shown: SetShown, limit: int | None) -> None:
    """Show a set: who, when, why, and its waypoints."""
    from taskdb.cli.render.numbers import counted
    from taskdb.cli.render.waypoints import waypoint_table

    info = shown.info
    printer.heading(f"{info.set_name}@{info.number}: {counted(info.count, 'waypoint')}")
    label = f"{info.label}, valid from {info.valid_from}" if info.label and info.valid_from else info.label
    printer.pairs([("label", label), ("by", info.author), ("at", info.at), ("note", info.note)])
    if shown.waypoints:
        printer.line()
        waypoint_table(printer, [(w, None) for w in shown.waypoints[:limit]])
        printer.shown(len(shown.waypoints[:limit]), len(shown.waypoints), "waypoints")


@command("set log")
@click.argument("reference", metavar="SET", shell_complete=names_of("set"))
def log(invocation: Invocation, reference: str) -> Answer:
    """List a set's revisions, newest first."""
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
    return Answer(result, people=lambda printer: show_log(printer, name, revisions))


def show_log(printer: Printer, name: str, revisions: tuple[SetRevisionInfo, ...]) -> None:
    """Show a set's revisions as a table."""
    from taskdb.cli.render.console import Column

    printer.heading(name)
    numbers = [Column(title, right=True) for title in ("revision", "waypoints", "added", "changed", "retired")]
    printer.table(
        [*numbers, "at", "by", "label", "note"],
        [(r.number, r.count, r.added, r.changed, r.retired, r.at, r.author, r.label, r.note) for r in revisions],
    )


@command("set export")
@click.argument("reference", metavar="SET[@R]", shell_complete=names_of("set"))
@click.option("--format", "format_name", metavar="F", default="csv", show_default=True, help="csv, gpx, kml, geojson.")
@click.option("--to", "path", required=True, type=FILE, metavar="FILE", help="The file to write.")
@click.option("--identity", is_flag=True, help="Add the identities (csv), so that a later import knows each waypoint.")
@click.option("--profile", type=FILE, metavar="FILE.toml", help="A text layout of your own instead of a format.")
@click.option("--yes", is_flag=True, help="Write over a file that exists.")
def export(invocation: Invocation, reference: str, format_name: str, path: str, **given: Any) -> Answer:
    """Write a set to one file."""
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
    result = {
        "set": done.set_name,
        "revision": done.revision,
        "path": done.path,
        "format": done.format,
        "count": done.count,
        "bytes": done.bytes,
        "lost": list(done.lost),
    }
    return Answer(result, people=lambda printer: show_export(printer, done))


def show_export(printer: Printer, done: SetExported) -> None:
    """Say what was written and what the format cannot hold."""
    from taskdb.cli.render.numbers import counted

    printer.line(f"{done.path}: {counted(done.count, 'waypoint')} of {done.set_name}@{done.revision} as {done.format}")
    for lost in done.lost:
        printer.line(f"  not in this format: {lost}")
