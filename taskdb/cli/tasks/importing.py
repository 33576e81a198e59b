"""`taskdb task import`: tasks taken from files of others, or of an old season."""

from __future__ import annotations

from typing import Any

import click

from taskdb.cli.frame.answer import Answer, acts_if
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import FILE, INPUT, profile_of
from taskdb.formats.known import TASKS_READ


@command("task import", writes=True, ends=f"Formats: {', '.join(TASKS_READ)}.")
@click.argument("path", type=INPUT, metavar="FILE|DIR")
@click.option("--contest", metavar="C", shell_complete=names_of("contest"), help="The contest they go into.")
@click.option(
    "--set", "set_reference", metavar="SET[@R]", shell_complete=names_of("set"), help="The set they stand on."
)
@click.option(
    "--name", "pattern", metavar="PATTERN", help="Their names, from {name}, {file} and {date}; makes them anew."
)
@click.option("--profile", type=FILE, metavar="FILE.toml", help="A description of the file's layout of your own.")
def import_(invocation: Invocation, path: str, contest: str | None, **given: Any) -> Answer:
    """Take tasks from a file or a folder of files, in any open format that is read.

    Points that the set has get the set's place; the others stay the task's own and are told. A task that several
    files declare is taken once; one that stands already is not made again, unless --name names it. A waypoint over 1 km
    from the file's point is taken only with --yes.
    """
    from taskdb.cli.render.imported import show_imported, warnings_of
    from taskdb.services.tasks.importing import TaskImportRequest, import_tasks
    from taskdb.services.tasks.plain import imported_plain

    set_reference, profile = given["set_reference"], profile_of(given["profile"])
    where = contest if set_reference is not None else invocation.contest(contest)
    request = TaskImportRequest(path, where, set_reference, given["pattern"], profile)
    with invocation.working("reading tasks"):
        result = invocation.confirmed(lambda write: import_tasks(invocation.desk, request, write))
    invocation.warn(*warnings_of(result))
    return Answer(
        imported_plain(result),
        people=lambda printer: show_imported(printer, result),
        exit_code=acts_if(any(task.unmatched for task in result.tasks)),
    )
