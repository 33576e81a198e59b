"""Zones as options and as words among points: which words are zones is decided in one place for every command."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any, cast

import click

from taskdb.cli.typed.options import ZONE, F, together
from taskdb.core.kinds import Role
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from taskdb.core.course.assembly import ZoneChoice
    from taskdb.core.model import Zone
    from taskdb.services.tasks.task import PointRequest


def _zone_option(role: Role, how: str = "", **type_: Any) -> Callable[[F], F]:
    words = f"The default zone of {'an' if role is Role.AREA else 'a'} {role}{how}."
    return click.option(f"--{role.value}", f"{role.value}_zone", metavar="ZONE", help=words, **type_)


contest_zone_options = together(*(_zone_option(role, type=ZONE) for role in Role))
"""Adds --start, --turn, --area and --finish: a contest's zone defaults per role."""
contest_zone_changes = together(*(_zone_option(role, ", or `default`") for role in Role))
"""Adds the same options, which take `default` as well: back to the built-in zone."""


def zone_or_default(text: str) -> Zone | None:
    """Return the zone that a text means; None for `default`."""
    return None if text.strip().lower() == "default" else cast("Zone", ZONE.parse(text))


def zone_changes(given: dict[str, Any]) -> dict[Role, Zone | None]:
    """Return the zones given by `contest_zone_changes`; None for `default`."""
    changes: dict[Role, Zone | None] = {}
    for role in Role:
        text = given[f"{role.value}_zone"]
        if text is None:
            continue
        try:
            changes[role] = zone_or_default(text)
        except UsageError as error:
            raise UsageError(error.code, f"--{role.value}: {error.message}", hint=error.hint) from None
    return changes


def zones_by_role(given: dict[str, Any]) -> dict[Role, Zone]:
    """Return the zones given by `contest_zone_options`."""
    return {role: given[f"{role.value}_zone"] for role in Role if given[f"{role.value}_zone"] is not None}


def points_and_zones(words: Iterable[str]) -> tuple[PointRequest, ...]:
    """Return the points among words; a word that parses as a zone belongs to the point before it.

    Raises UsageError for a zone before the first point or two zones after one point.
    """
    from taskdb.core.course.zones import is_zone_text, parse_zone
    from taskdb.services.tasks.task import PointRequest

    points: list[PointRequest] = []
    for word in words:
        if not is_zone_text(word):
            points.append(PointRequest(word))
            continue
        if not points or points[-1].zone is not None:
            where = "before the first point" if not points else f"after {points[-1].reference}, which has one already"
            raise UsageError(
                "zone-without-point",
                f"The zone {word!r} stands {where}.",
                hint="A zone stands after its point: HOME 'line 10km' QUARRY 'area 25km' CASTLE HOME",
            )
        points[-1] = PointRequest(points[-1].reference, parse_zone(word))
    return tuple(points)


def zone_choices(words: Iterable[str]) -> tuple[ZoneChoice, ...]:
    """Return the choices of `--zone N|start|finish|turns|areas=ZONE|default`, in order."""
    from taskdb.core.course.assembly import GROUPS, ZoneChoice

    choices = []
    for word in words:
        target, equals, text = word.partition("=")
        target = target.strip().lower()
        if not equals or not (target in GROUPS or (target.isascii() and target.isdigit())):
            raise UsageError(
                "bad-zone-choice",
                f"--zone: {word!r} is not a point or group with a zone.",
                hint='Write --zone 2="cylinder 1km", or start=, finish=, turns=, areas=; =default goes back.',
            )
        choices.append(ZoneChoice(int(target) if target.isdigit() else target, zone_or_default(text)))
    return tuple(choices)


def numbered(words: Iterable[str], *, option: str, form: str) -> tuple[tuple[int, str], ...]:
    """Return `N=TEXT` words as numbers and texts. UsageError for anything else."""
    result = []
    for word in words:
        number, equals, text = word.partition("=")
        if not equals or not (number.strip().isascii() and number.strip().isdigit()) or not text.strip():
            raise UsageError("bad-value", f"{option}: {word!r} is not {form}.", hint=f"Write {option} {form}.")
        result.append((int(number), text.strip()))
    return tuple(result)
