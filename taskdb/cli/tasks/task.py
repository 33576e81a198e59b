"""`taskdb task …`: tasks built from points in order, shown, changed, listed and compared."""

from __future__ import annotations

from typing import Any

import click

from taskdb.cli.frame.answer import Answer, limited
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.tasks.options import contest_option, free_options, free_request, placing_options, task_page
from taskdb.cli.typed.options import TARGET, airspace_option
from taskdb.cli.typed.setting_options import day_options
from taskdb.cli.typed.zone_options import numbered, points_and_zones, zone_choices
from taskdb.errors import UsageError

CLEARED = {
    "day": "day",
    "class": "class_name",
    "variant": "variant",
    "time": "time_s",
    "speed": "speed_kmh",
    "take-off": "take_off",
    "landing": "landing",
    "tags": "tags",
}
"""What of a task can be emptied, and the field that holds it."""


@command("task new", writes=True)
@click.argument("name")
@click.argument("points", nargs=-1, metavar="POINT…", shell_complete=names_of("waypoint"))
@click.option("--set", "set_reference", metavar="SET[@R]", shell_complete=names_of("set"), help="The set it stands on.")
@free_options
@click.option("--guided", is_flag=True, help="On a terminal: search as you type, and see the course grow.")
@contest_option
@placing_options
def new(invocation: Invocation, name: str, points: tuple[str, ...], **given: Any) -> Answer:
    """Make a task from points in order, with its zones.

    A word that reads as a zone belongs to the point before it:

      taskdb task new A HOME "line 10km" QUARRY "area 25km" CASTLE HOME

    A modified task leaves further points to the pilot: any number of its set's, each with the zone of a turn point,
    where the --free- options do not say otherwise.

    With --guided the points that are named are the beginning; the rest is put together on the terminal.
    """
    from taskdb.services.tasks.task import NewTask, new_task

    contest = given["contest"] if given["set_reference"] is not None else invocation.contest(given["contest"])
    is_guided, free, zones = given.pop("guided"), free_request(given), zone_choices(given.pop("zones"))
    request = NewTask(name, points_and_zones(points), zones=zones, free=free, **{**given, "contest": contest})
    if is_guided:
        from taskdb.cli.tasks.guided import guide

        request = guide(invocation, request)
    return task_page(invocation.confirmed(lambda write: new_task(invocation.desk, request, write)))


@command("task edit", writes=True)
@click.argument("reference", metavar="NAME", shell_complete=names_of("task"))
@click.option("--insert", metavar="N=POINT", help="A new point N; the rest move up.")
@click.option("--move", metavar="N=M", help="Point N becomes point M.")
@click.option("--drop", type=click.IntRange(min=0), metavar="N", help="Take point N out.")
@click.option("--reverse", is_flag=True, help="Fly it the other way round.")
@click.option("--start-at", type=click.IntRange(min=0), metavar="N", help="Begin and end a closed course at point N.")
@click.option("--point", "points", multiple=True, metavar="N=POINT", help="Another place as point N.")
@free_options
@click.option("--name", metavar="NEW", help="Another name.")
@click.option("--clear", multiple=True, type=click.Choice(list(CLEARED)), help="Empty a value.")
@contest_option
@placing_options
def edit(invocation: Invocation, reference: str, **given: Any) -> Answer:
    """Change a task as a new revision.

    Points are numbered from 0, the start. --insert, --move, --drop, --reverse and --start-at renumber, so one of them a
    command; --point and --zone number the result. A zone that came from the defaults follows its point's new role; one
    set by hand stays. --tag gives its words anew: all that it is to have.
    """
    from taskdb.services.tasks.task import TaskEdit, edit_task

    values = {
        **{key: given[key] for key in ("name", "type", "day", "class_name", "variant", "time_s", "speed_kmh")},
        "tags": tuple(sorted(set(given["tags"]))) or None,
    }
    emptied = {CLEARED[name]: () if name == "tags" else None for name in given["clear"]}
    change = TaskEdit(
        insert=_inserted(given["insert"]),
        move=_moved(given["move"]),
        points=numbered(given["points"], option="--point", form="N=POINT"),
        zones=zone_choices(given["zones"]),
        values={**emptied, **{key: value for key, value in values.items() if value is not None}},
        free=free_request(given),
        **{key: given[key] for key in ("drop", "reverse", "start_at", "take_off", "landing")},
    )
    contest = invocation.contest(given["contest"])
    return task_page(invocation.confirmed(lambda write: edit_task(invocation.desk, reference, change, write, contest)))


def _inserted(word: str | None) -> Any:
    from taskdb.services.tasks.task import PointRequest

    if word is None:
        return None
    ((number, reference),) = numbered([word], option="--insert", form="N=POINT")
    return number, PointRequest(reference)


def _moved(word: str | None) -> tuple[int, int] | None:
    if word is None:
        return None
    ((number, to),) = numbered([word], option="--move", form="N=M")
    if not (to.isascii() and to.isdigit()):
        raise UsageError("bad-value", f"--move: {word!r} is not N=M.", hint="E.g. --move 2=1.")
    return number, int(to)


@command("task show")
@click.argument("reference", metavar="NAME[@R]", shell_complete=names_of("task"))
@click.option("--map", "map_path", type=TARGET, metavar="FILE.svg", help="Write its map too.")
@click.option("--yes", is_flag=True, help="Write over a map that exists.")
@contest_option
@day_options
def show(invocation: Invocation, reference: str, contest: str | None, **given: Any) -> Answer:
    """Show a task: points, zones, legs, distances, shape, time, and whether it is stale.

    Date, start, wind and speed are those of the contest's day (`contest day`); given here they count for this once.
    """
    from taskdb.core.contests.days import DayChange
    from taskdb.services.tasks.task import show_task

    map_path, overwrite, where = given.pop("map_path"), given.pop("yes"), invocation.contest(contest)
    shown = show_task(invocation.desk, reference, where, DayChange(**given))
    if map_path is not None:
        from taskdb.services.handing_out.exporting import TaskChoice
        from taskdb.services.handing_out.sheets import SheetRequest, write_sheet

        if not map_path.lower().endswith(".svg"):
            raise UsageError("no-svg", f"--map: {map_path} does not end in .svg.", hint="Name an SVG file.")
        choice = TaskChoice((reference,), where)
        write_sheet(invocation.desk, SheetRequest(choice, map_path, units=invocation.units_given, overwrite=overwrite))
        invocation.say(f"The map lies in {map_path}.")
    return task_page(shown)


@command("task list")
@contest_option
def list_(invocation: Invocation, contest: str | None) -> Answer:
    """List the tasks, of one contest or of the whole store."""
    from taskdb.cli.render.tasks import show_task_list
    from taskdb.services.tasks.plain import task_row_plain
    from taskdb.services.tasks.task import list_tasks

    rows = list_tasks(invocation.desk, invocation.contest(contest))
    result = limited("tasks", [task_row_plain(row) for row in rows], len(rows))
    return Answer(result, people=lambda printer: show_task_list(printer, rows))


@command("task log")
@click.argument("reference", metavar="NAME", shell_complete=names_of("task"))
@contest_option
def log(invocation: Invocation, reference: str, contest: str | None) -> Answer:
    """List a task's revisions, newest first."""
    from taskdb.cli.render.tasks import show_task_log
    from taskdb.core.plain import metres
    from taskdb.services.handing_out.handout import handouts_of_task
    from taskdb.services.handing_out.plain import handed_out_plain
    from taskdb.services.tasks.task import task_log

    where = invocation.contest(contest)
    name, revisions = task_log(invocation.desk, reference, where)
    handed_out = handouts_of_task(invocation.desk, reference, where)
    result = {
        "task": name,
        "revisions": [
            {
                "revision": logged.info.number,
                "author": logged.info.author,
                "created_at": logged.info.at,
                "note": logged.info.note,
                "retired": logged.info.retired,
                "status": logged.status.value,
                "task_m": metres(logged.task_m),
                "fingerprint": logged.fingerprint,
                "changes": list(logged.changes),
            }
            for logged in revisions
        ],
        "handed_out": [handed_out_plain(entry) for entry in handed_out],
    }
    return Answer(result, people=lambda printer: show_task_log(printer, name, revisions, handed_out))


@command("task copy", writes=True)
@click.argument("reference", metavar="NAME[@R]", shell_complete=names_of("task"))
@click.argument("new_name", metavar="NEW")
@contest_option
@click.option("--day", type=click.IntRange(min=1), metavar="N", help="Day of the copy, if another.")
@click.option("--class", "class_name", metavar="C", help="Class of the copy, if another.")
@click.option("--variant", metavar="V", help="Variant of the copy, if another: A, B, C.")
def copy(invocation: Invocation, reference: str, new_name: str, contest: str | None, **given: Any) -> Answer:
    """Copy a task under a new name in the same contest.

    Into another contest it goes with `task carry NAME --contest NEW`.
    """
    from taskdb.services.tasks.task import copy_task

    where = invocation.contest(contest)
    values = {key: value for key, value in given.items() if value is not None}
    return task_page(
        invocation.confirmed(lambda write: copy_task(invocation.desk, reference, new_name, write, where, values))
    )


@command("task retire", writes=True)
@click.argument("reference", metavar="NAME", shell_complete=names_of("task"))
@contest_option
def retire(invocation: Invocation, reference: str, contest: str | None) -> Answer:
    """Retire a task; its revisions and records stay."""
    from taskdb.services.tasks.task import retire_task

    where = invocation.contest(contest)
    return task_page(invocation.confirmed(lambda write: retire_task(invocation.desk, reference, write, where)))


@command("task restore", writes=True)
@click.argument("reference", metavar="NAME[@R]", shell_complete=names_of("task"))
@contest_option
def restore(invocation: Invocation, reference: str, contest: str | None) -> Answer:
    """Bring a retired task back, or make a revision equal to NAME@R."""
    from taskdb.services.tasks.task import restore_task

    where = invocation.contest(contest)
    return task_page(invocation.confirmed(lambda write: restore_task(invocation.desk, reference, write, where)))


@command("task compare")
@click.argument("references", nargs=-1, metavar="A B [C…]", shell_complete=names_of("task"))
@airspace_option
@contest_option
def compare(
    invocation: Invocation, references: tuple[str, ...], contest: str | None, airspace: tuple[str, ...]
) -> Answer:
    """Hold two to six tasks side by side against the first.

    Two revisions of one task compare as NAME@1 NAME@2. What their reviews find stands below, airspace with it.
    """
    from taskdb.cli.render.comparison import show_compared
    from taskdb.services.tasks.plain import compared_plain
    from taskdb.services.tasks.task import compare_tasks

    compared = compare_tasks(invocation.desk, references, invocation.contest(contest), airspace)
    return Answer(compared_plain(compared), people=lambda printer: show_compared(printer, compared))


@command("task fingerprint")
@click.argument("reference", metavar="NAME[@R]", shell_complete=names_of("task"))
@contest_option
def fingerprint(invocation: Invocation, reference: str, contest: str | None) -> Answer:
    """Say a task's fingerprint, to compare over the radio."""
    from taskdb.services.tasks.task import show_task

    shown = show_task(invocation.desk, reference, invocation.contest(contest))
    result = {"task": shown.task.name, "revision": shown.revision, "fingerprint": shown.fingerprint}
    return Answer(result, people=lambda printer: printer.line(shown.fingerprint))
