"""`taskdb task find`, `choose`, `cancel` and `flown`: the right task found again, and what became of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.tasks.task import TYPES, contest_option
from taskdb.cli.typed.options import BEARING, DATE, DISTANCE, DURATION, FILE, HEIGHT, SPEED, WIND
from taskdb.core.kinds import ShapeKind, Status
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from taskdb.core.filters.tasks import Range, Sector
    from taskdb.services.tasks.finding import TaskFindRequest

F = TypeVar("F", bound=Callable[..., Any])
ORDERS = ("name", "distance", "times-flown", "last-flown", "finish-rate")


def filter_options(function: F) -> F:
    """Add what finds tasks by what they are and how they were flown."""
    options = [
        click.option("--class", "class_name", metavar="C", help="Of this class."),
        click.option("--status", type=click.Choice([s.value for s in Status]), help="In this status."),
        click.option("--type", "task_type", type=click.Choice(sorted(TYPES)), help="Of this type."),
        click.option("--distance", metavar="250km..350km", help="Task distance in this range; one end may be open."),
        click.option("--duration", metavar="2:00..4:00", help="Time in this range."),
        click.option(
            "--through", multiple=True, metavar="REF", shell_complete=names_of("waypoint"), help="Through this point."
        ),
        click.option("--near", metavar="PLACE", help="With a point near this place; goes with --within."),
        click.option("--within", "within_m", type=DISTANCE, metavar="D", help="How near, e.g. 10km."),
        click.option("--heading", metavar="270..330", help="First leg in these directions, clockwise, true."),
        click.option("--shape", type=click.Choice([s.value for s in ShapeKind]), help="Of this shape."),
        click.option("--fai", is_flag=True, help="FAI triangles only."),
        click.option("--tag", "tags", multiple=True, metavar="T", help="With this tag."),
        click.option("--text", metavar="TEXT", help="With these words in its name, tags or points."),
        click.option("--flown-after", type=DATE, metavar="DATE", help="Flown after this day."),
        click.option("--wind-from", metavar="200..260", help="Flown in wind from these directions."),
        click.option("--finish-rate", metavar="60..100", help="Flown with this percentage of finishers."),
        click.option(
            "--like", metavar="TASK", shell_complete=names_of("task"), help="Like this task, most alike first."
        ),
    ]
    for option in reversed(options):
        function = option(function)
    return function


@command("task find")
@click.argument("words", nargs=-1, metavar="[TEXT]…")
@click.option("--day", type=click.IntRange(min=1), metavar="N", help="Of this day.")
@filter_options
@click.option("--sort", type=click.Choice(ORDERS), help="Sort by this instead of by name.")
@click.option("--limit", type=click.IntRange(min=0), metavar="N", help="Show at most N.")
@contest_option
def find(invocation: Invocation, words: tuple[str, ...], **given: Any) -> Answer:
    """Find tasks by what they are and how they were flown.

    All filters given must fit. --like finds courses that share points (in whatever order) and legs, or lie near.
    """
    from taskdb.cli.render.found_tasks import show_found_tasks
    from taskdb.services.tasks.finding import find_tasks
    from taskdb.services.tasks.plain import found_plain

    request = find_request(words, given, invocation.contest(given["contest"]))
    found = find_tasks(invocation.desk, request)
    return Answer(found_plain(found), people=lambda printer: show_found_tasks(printer, found))


def find_request(words: tuple[str, ...], given: dict[str, Any], contest: str | None) -> TaskFindRequest:
    """Return the search that was typed."""
    from taskdb.core.filters.tasks import TaskFilter
    from taskdb.services.tasks.finding import Order, TaskFindRequest

    text = " ".join([*words, given["text"] or ""]).strip()
    wanted = TaskFilter(
        contest=contest,
        day=given["day"],
        class_name=given["class_name"],
        status=Status(given["status"]) if given["status"] else None,
        type=TYPES[given["task_type"]] if given["task_type"] else None,
        distance_m=range_of(given["distance"], DISTANCE.parse, "--distance"),
        duration_s=range_of(given["duration"], DURATION.parse, "--duration"),
        heading=sector_of(given["heading"], "--heading"),
        shape=ShapeKind(given["shape"]) if given["shape"] else None,
        is_fai_triangle=True if given["fai"] else None,
        tags=given["tags"],
        text=text or None,
        flown_after=given["flown_after"],
        wind_from=sector_of(given["wind_from"], "--wind-from"),
        finish_rate_percent=range_of(given["finish_rate"], _percent, "--finish-rate"),
    )
    return TaskFindRequest(
        wanted=wanted,
        through=given["through"],
        near=given["near"],
        within_m=given["within_m"],
        like=given["like"],
        order=Order(given["sort"]) if given.get("sort") else None,
        limit=given.get("limit"),
    )


def is_filtered(given: dict[str, Any]) -> bool:
    """Say whether any of the options of `filter_options` was given."""
    return any(given.get(name) for name in FILTERS)


FILTERS = (
    "class_name", "status", "task_type", "distance", "duration", "through", "near", "within_m", "heading", "shape",
    "fai", "tags", "text", "flown_after", "wind_from", "finish_rate", "like",
)  # fmt: skip


def range_of(text: str | None, parse: Any, option: str) -> Range | None:
    """Return the range that `LOW..HIGH` means; either end may be missing. UsageError for anything else."""
    from taskdb.core.filters.tasks import Range

    if text is None:
        return None
    low, dots, high = text.partition("..")
    if not dots or not (low.strip() or high.strip()):
        raise UsageError("bad-range", f"{option}: {text!r} is no range.", hint=f"Write {option} LOW..HIGH.")
    try:
        ends = [parse(end.strip()) if end.strip() else None for end in (low, high)]
    except UsageError as error:
        raise UsageError(error.code, f"{option}: {error.message}", hint=error.hint) from None
    found = Range(*ends)
    if found.low is not None and found.high is not None and found.low > found.high:
        raise UsageError("bad-range", f"{option}: {text!r} ends before it begins.", hint="Exchange its ends.")
    return found


def sector_of(text: str | None, option: str) -> Sector | None:
    """Return the sector of directions that `FROM..TO` means, clockwise. UsageError for anything else."""
    from taskdb.core.filters.tasks import Sector

    if text is None:
        return None
    first, dots, last = text.partition("..")
    if not dots:
        raise UsageError("bad-range", f"{option}: {text!r} is no range.", hint=f"Write {option} 270..330, clockwise.")
    return Sector(BEARING.parse(first), BEARING.parse(last))


def _percent(text: str) -> float:
    try:
        value = float(text.removesuffix("%"))
    except ValueError:
        value = -1.0
    if not 0 <= value <= 100:
        raise UsageError("bad-percent", f"{text!r} is no percentage.", hint="Write a number from 0 to 100.")
    return value


@command("task choose", writes=True)
@click.argument("reference", metavar="NAME", shell_complete=names_of("task"))
@click.option("--issued", metavar="TIME", help="When it was issued, UTC, e.g. 2027-05-14T08:30:00Z. Default: now.")
@contest_option
def choose(invocation: Invocation, reference: str, issued: str | None, contest: str | None) -> Answer:
    """Issue a variant, and mark what it replaces.

    Another issued task of the same day and class becomes replaced.
    """
    from taskdb.cli.render.tasks import show_task_page
    from taskdb.services.tasks.flown import choose_task
    from taskdb.services.tasks.plain import shown_plain

    where, at = invocation.contest(contest), _utc(issued)
    done = invocation.confirmed(lambda write: choose_task(invocation.desk, reference, at, write, where))

    def people(printer: Any) -> None:
        printer.line(f"issued at {done.issued.task.issued_at}", style="good")
        if done.replaced:
            printer.line(f"it replaces {', '.join(done.replaced)}", style="warning")
        show_task_page(printer, done.issued)

    return Answer({**shown_plain(done.issued), "replaces": list(done.replaced)}, people=people)


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
    from taskdb.cli.render.tasks import show_task_page
    from taskdb.services.tasks.flown import cancel_task
    from taskdb.services.tasks.plain import shown_plain

    where = invocation.contest(contest)
    done = invocation.confirmed(lambda write: cancel_task(invocation.desk, reference, write, where))
    return Answer(shown_plain(done), people=lambda printer: show_task_page(printer, done))


@command("task flown", writes=True)
@click.argument("reference", required=False, metavar="[NAME]", shell_complete=names_of("task"))
@click.option("--on", "flown_on", type=DATE, metavar="DATE", help="The day it was flown.")
@click.option("--wind", type=WIND, metavar="W", help="Wind of the day, e.g. 240/15kt.")
@click.option("--cloud-base", type=HEIGHT, metavar="H", help="Cloud base, e.g. '1800m MSL'.")
@click.option("--starters", type=click.IntRange(min=0), metavar="N", help="How many started.")
@click.option("--finishers", type=click.IntRange(min=0), metavar="N", help="How many finished.")
@click.option("--best", type=SPEED, metavar="V", help="Best speed.")
@click.option("--median", type=SPEED, metavar="V", help="Median speed.")
@click.option("--remarks", metavar="TEXT", help="Whatever is worth keeping.")
@click.option("--withdraw", is_flag=True, help="Take the record of that day back.")
@click.option("--from-file", type=FILE, metavar="FILE.csv", help="Take records in from a CSV file.")
@click.option("--to-file", type=FILE, metavar="FILE.csv", help="Write all records to a CSV file.")
@contest_option
def flown(invocation: Invocation, reference: str | None, **given: Any) -> Answer:
    """Keep how a task was flown on a day, or show it.

    With a name alone it shows the records; with --on it keeps one, the last one of a day counts.
    """
    from taskdb.cli.render.found_tasks import show_flown
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


def _record(given: dict[str, Any]) -> Any:
    from taskdb.core.model import FlownRecord
    from taskdb.core.quantities import HeightReference

    base, wind = given["cloud_base"], given["wind"]
    if base is not None and base.reference is not HeightReference.MSL:
        raise UsageError(
            "bad-height", f"--cloud-base: {base.text} is not above mean sea level.", hint="Write e.g. '1800m MSL'."
        )
    return FlownRecord(
        flown_on=given["flown_on"],
        wind_from_deg=wind.from_deg if wind else None,
        wind_speed_kmh=wind.speed_kmh if wind else None,
        cloud_base_m=base.metres if base else None,
        starters=given["starters"],
        finishers=given["finishers"],
        best_kmh=given["best"],
        median_kmh=given["median"],
        remarks=given["remarks"],
    )


def _flown_file(invocation: Invocation, given: dict[str, Any]) -> Answer:
    from taskdb.cli.render.numbers import counted
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
