"""Types of typed values for click's arguments and options; what each reads stands in `core.quantities`.

A value that cannot be read is refused with the option's name in front, the expected form behind, and exit code 2.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from taskdb.errors import UsageError

if TYPE_CHECKING:
    AnyType = click.ParamType[Any]
else:
    # click before 8.5 has no type arguments here.
    AnyType = click.ParamType


class Typed(AnyType):
    """A typed value that a function of the core reads; the function is named, and imported when it is used."""

    def __init__(self, name: str, function: str, module: str = "taskdb.core.quantities") -> None:
        self.name = name
        self.function = function
        self.module = module

    def parse(self, text: str) -> Any:
        """Return the value; UsageError for what cannot be read."""
        from importlib import import_module

        read: Callable[[str], Any] = getattr(import_module(self.module), self.function)
        return read(text)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        if not isinstance(value, str):
            return value
        try:
            return self.parse(value)
        except UsageError as error:
            where = f"{param.opts[0]}: " if isinstance(param, click.Option) else ""
            raise UsageError(error.code, where + error.message, hint=error.hint, details=error.details) from None


DISTANCE = Typed("distance", "parse_distance_m")
"""Metres."""
HEIGHT = Typed("height", "parse_height")
"""A `core.quantities.Height`."""
DURATION = Typed("duration", "parse_duration_s")
"""Whole seconds."""
SPEED = Typed("speed", "parse_speed_kmh")
"""km/h."""
BEARING = Typed("bearing", "parse_bearing_deg")
"""Degrees true, 0 ≤ x < 360."""
WIND = Typed("wind", "parse_wind")
"""A `core.quantities.Wind`."""
DATE = Typed("date", "parse_date")
"""ISO text."""
TIME_OF_DAY = Typed("time", "parse_time_of_day")
"""HH:MM text."""
COUNT_OR_ANY = Typed("count", "parse_count_or_any")
"""A whole number from 1 on; 0 for `any`."""
ZONE = Typed("zone", "parse_zone", "taskdb.core.course.zones")
"""A `core.model.Zone`."""


class FileName(AnyType):
    """A path as text; whether it is there is the service's to say. Completion offers files."""

    name = "file"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        return value

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[Any]:
        from click.shell_completion import CompletionItem

        return [CompletionItem(incomplete, type="file")]


FILE = FileName()


def assignments(values: tuple[str, ...], *, option: str, form: str) -> dict[str, str]:
    """Return `A=B` words as a mapping, in order; UsageError for one without `=` or a name given twice."""
    found: dict[str, str] = {}
    for word in values:
        key, equals, value = word.partition("=")
        if not equals or not key.strip():
            raise UsageError("bad-value", f"{option}: {word!r} is not {form}.", hint=f"Write {option} {form}.")
        if key.strip() in found:
            raise UsageError("bad-value", f"{option}: {key.strip()!r} is given twice.", hint="Give it once.")
        found[key.strip()] = value.strip()
    return found
