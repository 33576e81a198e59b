"""`taskdb export …`, `sheet` and `handout`: what is handed out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer, acts_if
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of, one_of
from taskdb.cli.typed.filter_options import filter_options, find_request, is_filtered
from taskdb.cli.typed.options import (
    DATE,
    DISTANCE,
    FILE,
    TARGET,
    WIND,
    airspace_option,
    fields_of,
    profile_of,
    terrain_option,
    together,
)
from taskdb.core.pasted import command_line
from taskdb.formats.known import SETS_WRITTEN, TASKS_WRITTEN

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.files.pack import Pack
    from taskdb.services.handing_out.exporting import TaskChoice


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
        return TaskChoice(given["references"], wanted=find_request(given, invocation.contest(given["contest"])))
    contest = given["contest"] if given["everything"] else invocation.contest(given["contest"])
    return TaskChoice(given["references"], contest, given["day"], given["everything"])


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
@click.option("--to", required=True, type=TARGET, metavar="DIR|FILE.zip", help="A folder, or a zip by its name.")
@click.option("--yes", is_flag=True, help="Write over files that the target's manifest does not list.")
def export_task(invocation: Invocation, **given: Any) -> Answer:
    """Write tasks to files, with a manifest.

    Which tasks: names, a contest or a day of it, the filters of `task find`, or all. Open formats bring points and
    order; the zones stand on the task sheet.
    """
    from taskdb.cli.render.handing_out import show_pack
    from taskdb.services.handing_out.exporting import export_tasks

    pack = export_tasks(
        invocation.desk,
        choice_of(invocation, given),
        formats=formats_of(given["formats"]),
        to=given["to"],
        overwrite=given["yes"],
        with_points=given["with_points"],
        profile=profile_of(given["profile"]),
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
@click.option("--to", required=True, type=TARGET, metavar="DIR|FILE.zip", help="A folder, or a zip by its name.")
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
    from taskdb.cli.render.handing_out import show_pack
    from taskdb.services.handing_out.exporting import SetPart, export_sets

    part = SetPart(given["near"], given["within_m"], tuple(given["used_by"]))
    pack = export_sets(invocation.desk, references, formats=formats_of(formats), to=to, overwrite=yes, part=part)
    return Answer(pack.plain(), people=lambda printer: show_pack(printer, pack))


@command("export verify")
@click.argument("target", type=FILE, metavar="DIR|FILE.zip")
def verify(invocation: Invocation, target: str) -> Answer:
    """Compare an export with its manifest."""
    from taskdb.core.plain import plain
    from taskdb.services.handing_out.exporting import verify_export

    differences = verify_export(target)
    result = {"target": target, "differences": plain(differences)}

    def people(printer: Printer) -> None:
        if not differences:
            printer.line(f"{target} is as it was exported.")
        for difference in differences:
            printer.line(f"{difference.kind}: {difference.message}", style="warning")

    return Answer(result, people=people, exit_code=acts_if(differences))


@command("sheet")
@choice_options
@click.option(
    "--to", required=True, type=TARGET, metavar="FILE.html|.pdf|.svg|DIR", help="The sheet, the map, or a folder."
)
@click.option("--date", type=DATE, metavar="D", help="The day it is flown.")
@click.option("--wind", type=WIND, metavar="W", help="Its wind, from (true) and speed, e.g. 240/15kt.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", help="Paper of a PDF. [default: a4]")
@airspace_option
@click.option("--variants", is_flag=True, help="Begin with a page of two to four tasks at one scale.")
@terrain_option
@click.option("--yes", is_flag=True, help="Write over files that exist.")
def sheet(invocation: Invocation, **given: Any) -> Answer:
    """Write the task sheet: one page a task, with its map and its zones for thumbs.

    FILE.html holds all tasks, a folder one sheet each, FILE.svg the map of one task alone. With --terrain the map has
    relief, and the sheet a profile of the ground under a course in hills. FILE.pdf needs the optional
    package: pip install 'taskdb[pdf]'.
    """
    from taskdb.core.plain import fields_plain
    from taskdb.services.handing_out.sheets import SheetRequest, write_sheet

    request = SheetRequest(
        choice_of(invocation, given), units=invocation.units_given, overwrite=given["yes"],
        **fields_of(SheetRequest, given),
    )  # fmt: skip
    sheets = write_sheet(invocation.desk, request)

    def people(printer: Printer) -> None:
        for written in sheets:
            printer.line(f"{written.path}: {', '.join(written.tasks)}")

    return Answer({"files": [fields_plain(written) for written in sheets]}, people=people)


def formats_of(text: str) -> tuple[str, ...]:
    """Return the formats of a comma-separated list, each once, in order."""
    return tuple(dict.fromkeys(name.strip().lower() for name in text.split(",") if name.strip()))


def warn_of_declarations(invocation: Invocation, pack: Pack) -> None:
    """Say what a file of a declaration is not, where one was written."""
    if any(file.format == "igc" for file in pack.files):
        invocation.warn("A file is no badge declaration until it is in the recorder before take-off.")


@command("handout", writes=True)
@click.option("--contest", metavar="C", shell_complete=names_of("contest"), help="The contest.")
@click.option("--day", type=click.IntRange(min=1), metavar="N", help="Its day; without it all its tasks.")
@click.option("--to", required=True, type=TARGET, metavar="DIR|FILE.zip", help="A folder, or a zip by its name.")
@click.option("--to-whom", metavar="TEXT", help="Who gets it; kept with what was in it.")
@click.option("--proposed", is_flag=True, help="Hand out what is proposed where nothing is issued, marked so.")
@airspace_option
@click.option("--points-within", "within_m", type=DISTANCE, metavar="D", help="Points round the site too, e.g. 150km.")
@terrain_option
def handout(invocation: Invocation, contest: str | None, **given: Any) -> Answer:
    """Write a day's tasks in every format, with sheet, maps, points and what changed.

    What is issued goes out, its other variants stay at home (`task choose`). What is in the folder from an earlier day
    or task is taken away. The store keeps what went out: every value that differs is told the next time, old and new.
    Asks while a task is stale or its review has an open error; warnings are shown, here and on the sheet.
    """
    from taskdb.cli.render.handing_out import show_handout
    from taskdb.services.handing_out.handout import HandoutRequest, hand_out
    from taskdb.services.handing_out.plain import handout_plain

    name = invocation.required_contest(contest)
    request = HandoutRequest(name, units=invocation.units_given, **given)
    done = invocation.confirmed(lambda write: hand_out(invocation.desk, request, write))
    warn_of_declarations(invocation, done.pack)
    states = dict.fromkeys(done.unissued, "went out as the only task of its day and class")
    states |= dict.fromkeys(done.at_home, "is proposed and stayed at home")
    for task, state in states.items():
        invocation.warn(
            f"{task} {state}; `{command_line('task choose', task, options=['--contest', name])}` issues it."
        )
    return Answer(handout_plain(done), people=lambda printer: show_handout(printer, done))
