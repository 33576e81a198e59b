"""What finds tasks by what they are and how they were flown: the same options for `task find` and `export task`."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import BEARING, DATE, DISTANCE, DURATION, TASK_TYPE, AnyType, OneOf, together
from taskdb.core.kinds import ShapeKind, Status
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from taskdb.services.tasks.finding import TaskFindRequest


class Ends(AnyType):
    """A `core.filters.tasks.Range` typed as `LOW..HIGH`, either end open; `read` reads an end."""

    name = "range"

    def __init__(self, read: Callable[[str], float]) -> None:
        self.read = read

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        from taskdb.core.filters.tasks import Range

        assert param is not None
        option = param.opts[0]
        low, dots, high = value.partition("..")
        if not dots or not (low.strip() or high.strip()):
            raise UsageError("bad-range", f"{option}: {value!r} is no range.", hint=f"Write {option} LOW..HIGH.")
        try:
            found = Range(*(self.read(end.strip()) if end.strip() else None for end in (low, high)))
        except UsageError as error:
            raise UsageError(error.code, f"{option}: {error.message}", hint=error.hint) from None
        if found.low is not None and found.high is not None and found.low > found.high:
            raise UsageError("bad-range", f"{option}: {value!r} ends before it begins.", hint="Exchange its ends.")
        return found


class Directions(AnyType):
    """A `core.filters.tasks.Sector` typed as `FROM..TO`, degrees true, clockwise."""

    name = "directions"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        from taskdb.core.filters.tasks import Sector

        assert param is not None
        option = param.opts[0]
        first, dots, last = value.partition("..")
        if not dots:
            hint = f"Write {option} 270..330, clockwise."
            raise UsageError("bad-range", f"{option}: {value!r} is no range.", hint=hint)
        return Sector(BEARING.parse(first), BEARING.parse(last))


def _percent(text: str) -> float:
    try:
        value = float(text.removesuffix("%"))
    except ValueError:
        value = -1.0
    if not 0 <= value <= 100:
        raise UsageError("bad-percent", f"{text!r} is no percentage.", hint="Write a number from 0 to 100.")
    return value


_LOOKED_AT = (
    "class_name", "status", "type", "distance_m", "duration_s", "heading", "shape", "is_fai_triangle", "tags",
    "flown_after", "wind_from", "finish_rate_percent",
)  # fmt: skip
"""Filters by the fields of a `TaskFilter`, which they fill as they are."""
_LOOKED_UP = ("through", "near", "within_m", "like", "avoid")
"""Filters by the fields of a `TaskFindRequest`: references, which the service looks up."""

filter_options = together(
    click.option("--class", "class_name", metavar="C", help="Of this class."),
    click.option("--status", type=OneOf(Status), help="In this status."),
    click.option("--type", type=TASK_TYPE, help="Of this type."),
    click.option(
        "--distance", "distance_m", type=Ends(DISTANCE.parse), metavar="250km..350km",
        help="Task distance in this range; one end may be open.",
    ),
    click.option(
        "--duration", "duration_s", type=Ends(DURATION.parse), metavar="2:00..4:00", help="Time in this range."
    ),
    click.option(
        "--through", multiple=True, metavar="REF", shell_complete=names_of("waypoint"), help="Through this point."
    ),
    click.option("--near", metavar="PLACE", help="With a point near this place; goes with --within."),
    click.option("--within", "within_m", type=DISTANCE, metavar="D", help="How near, e.g. 10km."),
    click.option(
        "--heading", type=Directions(), metavar="270..330", help="First leg in these directions, clockwise, true."
    ),
    click.option("--shape", type=OneOf(ShapeKind), help="Of this shape."),
    click.option("--fai", "is_fai_triangle", is_flag=True, help="FAI triangles only."),
    click.option("--tag", "tags", multiple=True, metavar="T", help="With this tag."),
    click.option("--text", metavar="TEXT", help="With these words in its name, tags or points."),
    click.option("--flown-after", type=DATE, metavar="DATE", help="Flown after this day."),
    click.option(
        "--wind-from", type=Directions(), metavar="200..260", help="Flown in wind from these directions."
    ),
    click.option(
        "--finish-rate", "finish_rate_percent", type=Ends(_percent), metavar="60..100",
        help="Flown with this percentage of finishers.",
    ),
    click.option(
        "--avoid", multiple=True, metavar="NAME[:VOLUME]", shell_complete=names_of("airspace"),
        help="Clear of this airspace: legs, areas, points.",
    ),
    click.option("--like", metavar="TASK", shell_complete=names_of("task"), help="Like this task, most alike first."),
)  # fmt: skip


def is_filtered(given: dict[str, Any]) -> bool:
    """Say whether any of the options of `filter_options` was given."""
    return any(given.get(name) for name in (*_LOOKED_AT, *_LOOKED_UP, "text"))


def find_request(
    given: dict[str, Any], contest: str | None, *, words: tuple[str, ...] = (), **more: Any
) -> TaskFindRequest:
    """Return the search that was typed; `more` are fields of the request: its order and its limit."""
    from taskdb.core.filters.tasks import TaskFilter
    from taskdb.services.tasks.finding import TaskFindRequest

    text = " ".join([*words, given["text"] or ""]).strip()
    fields = {name: given[name] for name in _LOOKED_AT}
    fields["is_fai_triangle"] = given["is_fai_triangle"] or None
    wanted = TaskFilter(contest=contest, day=given["day"], text=text or None, **fields)
    return TaskFindRequest(wanted, **{name: given[name] for name in _LOOKED_UP}, **more)
