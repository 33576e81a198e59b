"""Types of typed values for click's arguments and options; what each reads stands in `core.quantities`.

A value that cannot be read is refused with the option's name in front, the expected form behind, and exit code 2.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

import click

from taskdb.cli.frame.completion import names_of
from taskdb.core.kinds import Severity, TaskType
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from enum import StrEnum

    from taskdb.formats.text.profiles import Profile

    AnyType = click.ParamType[Any]
    AnyChoice = click.Choice[Any]
else:
    # click before 8.5 has no type arguments here.
    AnyType = click.ParamType
    AnyChoice = click.Choice

F = TypeVar("F", bound=Callable[..., Any])


def together(*options: Callable[[F], F]) -> Callable[[F], F]:
    """Return one decorator that adds several options, in the order in which help shows them."""

    def add(function: F) -> F:
        for option in reversed(options):
            function = option(function)
        return function

    return add


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
STEP = Typed("step", "parse_step")
"""A `core.quantities.Step`."""
HEIGHT = Typed("height", "parse_height")
"""A `core.quantities.Height`."""
LIMIT = Typed("limit", "parse_limit", "taskdb.core.airspace.heights")
"""A `core.airspace.volume.Limit`."""
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


class OneOf(AnyChoice):
    """A choice among words; the value is what the word stands for. The members of an enum go by their values."""

    def __init__(self, words: Mapping[str, Any] | type[StrEnum]) -> None:
        self.words = words if isinstance(words, Mapping) else {member.value: member for member in words}
        super().__init__(list(self.words))

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        return self.words[super().convert(value, param, ctx)]


TASK_TYPE = OneOf(dict(sorted({**{kind.value: kind for kind in TaskType}, "area": TaskType.ASSIGNED_AREA}.items())))
"""A `TaskType`; `area` is short for `assigned-area`."""

fail_on_option = click.option(
    "--fail-on",
    type=OneOf({**{severity.value: severity for severity in Severity}, "never": None}),
    default="error",
    show_default=True,
    help="Exit 1 for a finding at least this severe.",
)


airspace_option = click.option(
    "--airspace",
    multiple=True,
    metavar="NAME[@R]",
    shell_complete=names_of("airspace"),
    help="Hold against this airspace, not the contest's; again for more.",
)


class FileName(AnyType):
    """A path as text; whether it is there is the service's to say. Completion offers files.

    A name that begins with a minus sign is a mistyped option more often than a file: `./-x` names one. `-` alone is
    standard input or output where the command reads or writes one file.
    """

    name = "file"

    def __init__(self, *, reads: bool = False, writes: bool = False, makes: bool = False) -> None:
        self.reads, self.writes = reads, writes
        self.makes = makes or writes

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        if value == "-" and not (self.reads or self.writes):
            self.fail("- (standard input or output) does not serve here; a file of that name is ./-", param, ctx)
        if value != "-" and value.startswith("-"):
            self.fail(f"{value!r} begins like an option; a file of that name is ./{value}", param, ctx)
        return value

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[Any]:
        from click.shell_completion import CompletionItem

        return [CompletionItem(incomplete, type="file")]


FILE, INPUT, OUTPUT, TARGET = FileName(), FileName(reads=True), FileName(writes=True), FileName(makes=True)
"""A path that is only named, a file read, a file written; what is made and cannot be standard output."""

terrain_option = click.option(
    "--terrain",
    type=FILE,
    envvar="TASKDB_TERRAIN",
    metavar="DIR",
    help="A folder of heights of your own: .hgt, .asc, .tif. [env: TASKDB_TERRAIN]",
)
"""Adds the folder of the user's terrain; without it the shipped grid of 9 km serves where that is enough."""


def required_terrain(folder: str | None, option: str) -> str:
    """Return the folder of terrain that an option needs. UsageError where none is named."""
    if folder is None:
        raise UsageError(
            "no-terrain-named",
            f"{option} takes heights from terrain of your own, and none is named.",
            hint=f"Give {option} --terrain DIR, a folder with tiles such as N47E011.hgt.",
        )
    return folder


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


def fields_of(kind: Any, given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the options that are named like a field of a dataclass: what it can be made of as it was typed."""
    from dataclasses import fields

    return {field.name: given[field.name] for field in fields(kind) if field.name in given}


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
