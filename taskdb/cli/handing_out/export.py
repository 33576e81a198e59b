"""`taskdb export …` and `taskdb sheet`: what is handed out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of, one_of
from taskdb.cli.typed.filter_options import filter_options, find_request, is_filtered
from taskdb.cli.typed.options import DATE, DISTANCE, FILE, WIND, profile_of, together
from taskdb.formats.known import SETS_WRITTEN, TASKS_WRITTEN

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.quantities import Wind
    from taskdb.files.pack import Difference, Pack
    from taskdb.services.handing_out.exporting import TaskChoice
    from taskdb.services.handing_out.sheets import SheetWritten


choice_options = together(
    click.argument("references", nargs=-1, metavar="NAME…", shell_complete=names_of("task")),
    click.option("--contest", metavar="C", shell_complete=names_of("contest"), help="All tasks of this contest."),
    click.option("--day", type=click.IntRange(min=1), metavar="N", help="Only those of this day."),
    click.option("--all", "everything", is_flag=True, help="Every task of the store."),
)
"""Adds what chooses tasks: names, --contest, --day, --all."""


def choice_of(invocation: Invocation, given: dict[str, Any]) -> TaskChoice:
    """Return the choice of tasks that was typed."""
    from taskdb.services.handing_out.exporting import TaskChoice

    if is_filtered(given):
        wanted = find_request(given, invocation.contest(given["contest"]))
        return TaskChoice(tuple(given["references"]), wanted=wanted)
    contest = given["contest"] if given["everything"] else invocation.contest(given["contest"])
    return TaskChoice(tuple(given["references"]), contest, given["day"], given["everything"])


@command("export task")
@choice_options
@filter_options
@click.option(
    "--format",
    "formats",
    default="",
    metavar="F,F…",
    shell_complete=one_of(TASKS_WRITTEN),
    help=f"{', '.join(TASKS_WRITTEN)}; several with commas.",
)
@click.option("--profile", type=FILE, metavar="FILE.toml", help="A layout of delimited text of your own, as .txt.")
@click.option("--with-points", is_flag=True, help="Also the points that these tasks use, as a set.")
@click.option("--to", required=True, type=FILE, metavar="DIR|FILE.zip", help="A folder, or a zip by its name.")
@click.option("--yes", is_flag=True, help="Write over files that the target's manifest does not list.")
def export_task(
    invocation: Invocation,
    formats: str,
    profile: str | None,
    to: str,
    yes: bool,
    with_points: bool,
    **given: Any,
) -> Answer:
    """Write tasks to files, with a manifest.

    Which tasks: names, a contest or a day of it, the filters of `task find`, or all. Open formats bring points and
    order; the zones stand on the task sheet.
    """
    from taskdb.services.handing_out.exporting import export_tasks

    pack = export_tasks(
        invocation.desk,
        choice_of(invocation, given),
        formats=formats_of(formats),
        to=to,
        overwrite=yes,
        with_points=with_points,
        profile=profile_of(profile),
    )
    warn_of_declarations(invocation, pack)
    return Answer(pack.plain(), people=lambda printer: show_pack(printer, pack))


@command("export set")
@click.argument("references", nargs=-1, metavar="SET[@R]…", shell_complete=names_of("set"))
@click.option(
    "--format",
    "formats",
    required=True,
    metavar="F,F…",
    shell_complete=one_of(SETS_WRITTEN),
    help=f"{', '.join(SETS_WRITTEN)}; several with commas.",
)
@click.option("--to", required=True, type=FILE, metavar="DIR|FILE.zip", help="A folder, or a zip by its name.")
@click.option("--near", metavar="PLACE", help="Only what is near this place; goes with --within.")
@click.option("--within", "within_m", type=DISTANCE, metavar="D", help="How near, e.g. 150km.")
@click.option(
    "--used-by", multiple=True, metavar="TASK", shell_complete=names_of("task"), help="Only points that it uses; again."
)
@click.option("--yes", is_flag=True, help="Write over files that the target's manifest does not list.")
def export_set(
    invocation: Invocation, references: tuple[str, ...], formats: str, to: str, yes: bool, **given: Any
) -> Answer:
    """Write sets to files, with a manifest.

    With --near or --used-by only a part: what is near a place, what these tasks use, or both together.
    """
    from taskdb.services.handing_out.exporting import SetPart, export_sets

    part = SetPart(given["near"], given["within_m"], tuple(given["used_by"]))
    pack = export_sets(invocation.desk, references, formats=formats_of(formats), to=to, overwrite=yes, part=part)
    return Answer(pack.plain(), people=lambda printer: show_pack(printer, pack))


@command("export verify")
@click.argument("target", type=FILE, metavar="DIR|FILE.zip")
def verify(invocation: Invocation, target: str) -> Answer:
    """Compare an export with its manifest."""
    from taskdb.core.plain import plain
    from taskdb.errors import ExitCode
    from taskdb.services.handing_out.exporting import verify_export

    differences = verify_export(target)
    result = {"target": target, "differences": plain(differences)}
    return Answer(
        result,
        people=lambda printer: show_differences(printer, target, differences),
        exit_code=ExitCode.ACT if differences else ExitCode.DONE,
    )


@command("sheet")
@choice_options
@click.option(
    "--to", required=True, type=FILE, metavar="FILE.html|.pdf|.svg|DIR", help="The sheet, the map, or a folder."
)
@click.option("--date", type=DATE, metavar="D", help="The day it is flown.")
@click.option("--wind", type=WIND, metavar="W", help="Its wind, from (true) and speed, e.g. 240/15kt.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", help="Paper of a PDF. [default: a4]")
@click.option("--variants", is_flag=True, help="Begin with a page of two to four tasks at one scale.")
@click.option("--yes", is_flag=True, help="Write over files that exist.")
def sheet(
    invocation: Invocation,
    to: str,
    date: str | None,
    wind: Wind | None,
    variants: bool,
    paper: str,
    yes: bool,
    **given: Any,
) -> Answer:
    """Write the task sheet: one page a task, with its map and its zones for thumbs.

    FILE.html holds all tasks, a folder one sheet each, FILE.svg the map of one task alone. FILE.pdf needs the optional
    package: pip install 'taskdb[pdf]'.
    """
    from taskdb.services.handing_out.sheets import SheetRequest, write_sheet

    request = SheetRequest(
        choice_of(invocation, given),
        to,
        date,
        invocation.units_given,
        overwrite=yes,
        wind=wind,
        variants=variants,
        paper=paper,
    )
    sheets = write_sheet(invocation.desk, request)
    result = {"files": [{"path": s.path, "format": s.format, "tasks": list(s.tasks), "bytes": s.bytes} for s in sheets]}
    return Answer(result, people=lambda printer: show_sheets(printer, sheets))


def formats_of(text: str) -> tuple[str, ...]:
    """Return the formats of a comma-separated list, each once, in order."""
    return tuple(dict.fromkeys(name.strip().lower() for name in text.split(",") if name.strip()))


def warn_of_declarations(invocation: Invocation, pack: Pack) -> None:
    """Say what a file of a declaration is not, where one was written."""
    if any(file.format == "igc" for file in pack.files):
        invocation.warn("A file is no badge declaration until it is in the recorder before take-off.")


def show_pack(printer: Printer, pack: Pack) -> None:
    """Say what was written, and once what the formats cannot hold."""
    from taskdb.cli.render.console import Column
    from taskdb.cli.render.numbers import counted

    printer.heading(f"{pack.target}: {counted(len(pack.files), 'file')} and a manifest")
    printer.table(
        ["file", "format", "of", Column("bytes", right=True)],
        [(file.path, file.format, file.task or file.set, file.bytes) for file in pack.files],
    )
    for format_name in dict.fromkeys(file.format for file in pack.files):
        lost = dict.fromkeys(text for file in pack.files if file.format == format_name for text in file.lost)
        if lost:
            printer.line(f"{format_name} does not hold: {'; '.join(lost)}")
    printer.line("The files bring the points; the task sheet brings the zones.", style="dim")


def show_differences(printer: Printer, target: str, differences: Sequence[Difference]) -> None:
    """Say what differs from the manifest."""
    if not differences:
        printer.line(f"{target} is as it was exported.")
    for difference in differences:
        printer.line(f"{difference.kind}: {difference.message}", style="warning")


def show_sheets(printer: Printer, sheets: Sequence[SheetWritten]) -> None:
    """Say which sheets were written."""
    for sheet_written in sheets:
        printer.line(f"{sheet_written.path}: {', '.join(sheet_written.tasks)}")
