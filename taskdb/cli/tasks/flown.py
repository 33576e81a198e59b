"""`taskdb task flown`, `choose` and `cancel`: what became of a task."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.tasks.options import contest_option, task_page
from taskdb.cli.typed.options import DATE, HEIGHT, INPUT, OUTPUT, SPEED, WIND
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.model import FlownRecord


@command("task flown", writes=True)
@click.argument("reference", required=False, metavar="[NAME]", shell_complete=names_of("task"))
@click.option("--on", "flown_on", type=DATE, metavar="DATE", help="The day it was flown.")
@click.option("--wind", type=WIND, metavar="W", help="Wind of the day, e.g. 240/15kt.")
@click.option("--cloud-base", type=HEIGHT, metavar="H", help="Cloud base, e.g. '1800m MSL'.")
@click.option("--starters", type=click.IntRange(min=0), metavar="N", help="How many started.")
@click.option("--finishers", type=click.IntRange(min=0), metavar="N", help="How many finished.")
@click.option("--best", "best_kmh", type=SPEED, metavar="V", help="Best speed.")
@click.option("--median", "median_kmh", type=SPEED, metavar="V", help="Median speed.")
@click.option("--remarks", metavar="TEXT", help="Whatever is worth keeping.")
@click.option("--withdraw", is_flag=True, help="Take the record of that day back.")
@click.option("--from-file", type=INPUT, metavar="FILE.csv", help="Take records in from a CSV file.")
@click.option("--to-file", type=OUTPUT, metavar="FILE.csv", help="Write all records to a CSV file.")
@contest_option
def flown(invocation: Invocation, reference: str | None, **given: Any) -> Answer:
    """Keep how a task was flown on a day, or show it.

    With a name alone it shows the records; with --on it keeps one, the last one of a day counts.
    """
    from taskdb.cli.render.flown import show_flown
    from taskdb.services.tasks import flown as service
    from taskdb.services.tasks.plain import flown_plain

    if given["from_file"] or given["to_file"]:
        return _flown_file(invocation, given)
    if reference is None:
        raise UsageError("nothing-named", "No task is named.", hint="taskdb task flown NAME --on DATE …")
    contest = invocation.contest(given["contest"])
    if given["flown_on"] is None:
        shown = service.flown_of(invocation.desk, reference, contest)
    else:
        record = _record(given)
        shown = invocation.confirmed(
            lambda write: service.record_flown(
                invocation.desk, reference, record, write, contest, withdraw=given["withdraw"]
            )
        )
    return Answer(flown_plain(shown), people=lambda printer: show_flown(printer, shown))


def _record(given: dict[str, Any]) -> FlownRecord:
    from taskdb.core.model import FlownRecord
    from taskdb.core.quantities import HeightReference

    base, wind = given["cloud_base"], given["wind"]
    if base is not None and base.reference is not HeightReference.MSL:
        raise UsageError(
            "bad-height", f"--cloud-base: {base.text} is not above mean sea level.", hint="Write e.g. '1800m MSL'."
        )
    as_typed = ("flown_on", "starters", "finishers", "best_kmh", "median_kmh", "remarks")
    return FlownRecord(
        wind_from_deg=wind.from_deg if wind else None,
        wind_speed_kmh=wind.speed_kmh if wind else None,
        cloud_base_m=base.metres if base else None,
        **{name: given[name] for name in as_typed},
    )


def _flown_file(invocation: Invocation, given: dict[str, Any]) -> Answer:
    from taskdb.core.numbers import counted
    from taskdb.services.tasks import flown as service

    if given["to_file"]:
        path = given["to_file"]
        count = service.export_flown(invocation.desk, path, overwrite=invocation.settings.yes)
        said = f"{path}: {counted(count, 'record')}"
    else:
        path = given["from_file"]
        count = invocation.confirmed(lambda write: service.import_flown(invocation.desk, path, write))
        said = f"{counted(count, 'record')} taken in from {path}"
    return Answer({"path": path, "records": count}, people=lambda printer: printer.line(said))


@command("task choose", writes=True)
@click.argument("reference", metavar="NAME", shell_complete=names_of("task"))
@click.option("--issued", metavar="TIME", help="When it was issued, UTC, e.g. 2027-05-14T08:30:00Z. Default: now.")
@contest_option
def choose(invocation: Invocation, reference: str, issued: str | None, contest: str | None) -> Answer:
    """Issue a variant, and mark what it replaces.

    Another issued task of the same day and class becomes replaced.
    """
    from taskdb.services.tasks.flown import choose_task

    where, at = invocation.contest(contest), _utc(issued)
    done = invocation.confirmed(lambda write: choose_task(invocation.desk, reference, at, write, where))

    page = task_page(done.issued)

    def people(printer: Printer) -> None:
        printer.line(f"issued at {done.issued.task.issued_at}", style="good")
        if done.replaced:
            printer.line(f"it replaces {', '.join(done.replaced)}", style="warning")
        page.people(printer)

    return Answer({**page.result, "replaces": list(done.replaced)}, people=people)


def _utc(text: str | None) -> str | None:
    import datetime

    if text is None:
        return None
    try:
        at = datetime.datetime.fromisoformat(text.strip())
    except ValueError:
        at = None
    if at is None or at.tzinfo is None:
        raise UsageError(
            "bad-time", f"--issued: {text!r} is no moment with its zone.", hint="Write 2027-05-14T08:30:00Z (UTC)."
        )
    return at.astimezone(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


@command("task cancel", writes=True)
@click.argument("reference", metavar="NAME", shell_complete=names_of("task"))
@contest_option
def cancel(invocation: Invocation, reference: str, contest: str | None) -> Answer:
    """Mark a task as cancelled."""
    from taskdb.services.tasks.flown import cancel_task

    where = invocation.contest(contest)
    return task_page(invocation.confirmed(lambda write: cancel_task(invocation.desk, reference, write, where)))
