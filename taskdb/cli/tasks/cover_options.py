"""The options of landable cover, the same at every command that reckons with it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.typed.options import DATE, DISTANCE, HEIGHT, SPEED, WIND, OneOf, Typed, fields_of, together
from taskdb.core.kinds import Landable

if TYPE_CHECKING:
    from taskdb.services.tasks.covers import CoverAsked

GLIDE = Typed("glide", "parse_glide", "taskdb.core.contests.setting_kinds")
"""Metres along for one down."""

glide_options = together(
    click.option("--glide", type=GLIDE, metavar="N", help="Glide ratio through the air, e.g. 25; else the contest's."),
    click.option(
        "--working-altitude",
        type=HEIGHT,
        metavar="H",
        help="Where a glide begins, e.g. '1500m MSL'; else the contest's.",
    ),
    click.option("--airspeed", "airspeed_kmh", type=SPEED, metavar="V", help="Airspeed of the glide, e.g. 100km/h."),
    click.option("--safety", "safety_m", type=DISTANCE, metavar="D", help="To spare over the field, e.g. 200m."),
    click.option(
        "--clearance", "clearance_m", type=DISTANCE, metavar="D", help="Over the ground on the way, e.g. 100m."
    ),
    click.option("--free", "free_m", type=DISTANCE, metavar="D", help="Before the field without clearance, e.g. 2km."),
    click.option("--ignore-terrain", is_flag=True, help="Ask for no ground at all: as over a plain."),
)
"""Adds how is glided, --glide to --ignore-terrain; what is not given is the contest's."""

cover_options = together(
    glide_options,
    click.option("--wind", type=WIND, metavar="W", help="Wind from (true) and speed, e.g. 240/15kt; else the day's."),
    click.option(
        "--landable",
        multiple=True,
        type=OneOf({kind.value: kind for kind in Landable if kind is not Landable.NO}),
        help="Where can be landed; again for more kinds.",
    ),
    click.option("--inspected-since", type=DATE, metavar="DATE", help="Only fields that were inspected since."),
)
"""Adds how is glided, in which wind, and to which fields."""


def cover_asked(given: dict[str, Any]) -> CoverAsked:
    """Return what `cover_options` read."""
    from taskdb.services.tasks.covers import CoverAsked

    return CoverAsked(**fields_of(CoverAsked, given))
