"""Settings of contests as options, by command, and for whom they are set: the whole contest, a class, a day.

Option names by setting are static, so that help loads nothing. A test holds them to the settings that there are.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.typed.options import DATE, SPEED, TIME_OF_DAY, WIND, F, together
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from taskdb.core.model import Scope

PROCEDURE = {
    "start_opens": "When the start opens, local, e.g. 13:15.",
    "start_closes": "When the start closes, local, e.g. 15:30.",
    "start_height": "Highest start, e.g. '1500m MSL'.",
    "start_speed_kmh": "Fastest start, e.g. 170km/h.",
    "event_start": "Pilot-event start: yes or no.",
    "event_wait_s": "Wait after the event, e.g. 0:10.",
    "event_window_s": "Window after the wait, e.g. 0:10.",
    "event_most": "Most events that count.",
    "finish_height": "Lowest finish, e.g. '700m MSL'.",
    "start_deduction": "Start cylinder: less-radius or to-centre.",
    "finish_deduction": "Finish cylinder: less-radius or to-centre.",
    "legal_end": "End of the legal day: sunset, sunset+30min, civil-dusk.",
    "areas_by_hand": "Areas are passed by hand: yes or no.",
}
BRIEFING = {
    "briefing_at": "When the briefing is, local, e.g. 10:00.",
    "grid_at": "When the grid is to stand, local, e.g. 11:15.",
    "programme": "A row of the day's programme, e.g. '10:00 briefing'; repeat it: all rows anew.",
    "outlanding_phone": "Telephone of the outlanding desk, as it is dialled.",
    "landing_procedure": "How to land, in short.",
    "finish_procedure": "How to finish, in short.",
    "finish_closes": "When the finish closes, local, e.g. 19:30.",
    "remarks": "What else pilots are to know, in short.",
}
LIMITS = {
    "slowest_kmh": "Slowest expected, an average in still air, e.g. 60km/h.",
    "fastest_kmh": "Fastest expected, an average in still air, e.g. 110km/h.",
    "speed_kmh": "Planned speed, an average in still air, e.g. 95km/h.",
    "minimum_distance_m": "A task is at least so long, e.g. 120km.",
    "shortest_task_s": "A task lasts at least, e.g. 2:00.",
    "longest_task_s": "A task lasts at most, e.g. 4:30.",
    "shortest_leg_m": "A leg shorter than this is told, e.g. 5km.",
    "least_area_ratio": "Maximum at least so many times the minimum, e.g. 1.3.",
    "declared_short_percent": "A declared course that misses by less is told.",
    "triangle_short_percent": "A declared triangle that misses by less is told.",
    "least_daylight_s": "A last finish nearer to the legal end is told, e.g. 0:30.",
    "least_finishers_time_percent": "The minimum time suits at least so much of the class's range of speeds, percent.",
    "separation_m": "Tasks of one day that come nearer to each other meet, e.g. 1km.",
    "separation_s": "Tasks of one day at one place within this time meet, e.g. 0:10.",
    "glare_deg": "A last leg within so many degrees of the sun is told, e.g. 20deg.",
    "cover_glide": "Glide ratio with which fields are to be in reach, e.g. 25; without it cover is not reviewed.",
    "cover_airspeed_kmh": "Airspeed of that glide, e.g. 100km/h.",
    "cover_safety_m": "Height to arrive with above a field, e.g. 200m.",
    "cover_clearance_m": "Height above the ground on the way to a field, e.g. 100m; with terrain.",
    "cover_free_m": "So far before the field that height is not asked for, e.g. 2km.",
    "cover_longest_out_m": "A longer stretch without a field in reach is a warning, e.g. 5km.",
    "cover_landable": "Where can be landed: of aerodrome, field, emergency, with commas.",
    "working_altitude": "Flown up to, e.g. '1800m MSL': airspace above is no conflict.",
    "qnh_hpa": "Pressure at sea level, e.g. 1018hPa: flight levels are compared by it.",
    "large_from_m": "From here on the rule for large triangles, e.g. 750km.",
    "small_shortest_percent": "Shortest side of a triangle, percent.",
    "large_shortest_percent": "Shortest side of a large triangle, percent.",
    "large_longest_percent": "Longest side of a large triangle, percent.",
    "start_on_side": "A triangle may start on a side: yes or no.",
    "closed_within_m": "Start and finish this near close a course, e.g. 1km.",
}
EDIT = {
    "earth": "Earth model: wgs84 or fai-sphere.",
    "units_distance": "Distances in km, mi or nmi.",
    "units_height": "Heights in m or ft.",
    "units_speed": "Speeds in km/h, kt or mph.",
}
DAY = {
    "start_opens": PROCEDURE["start_opens"],
    "start_closes": PROCEDURE["start_closes"],
    "wind": "Wind from (true) and speed, e.g. 240/15kt.",
    "speed_kmh": LIMITS["speed_kmh"],
    **BRIEFING,
}
_ROWS = ("programme",)
_NAMED_OTHERWISE = {"separation_s": "--separation-time"}
"""Options of keys that differ by their unit alone."""
_UNIT_ENDINGS = ("_m", "_s", "_kmh", "_percent", "_hpa", "_deg")


def option_name(key: str) -> str:
    """Return a setting's option: its key without the unit, which the typed value carries. No two have the same."""
    if key in _NAMED_OTHERWISE:
        return _NAMED_OTHERWISE[key]
    for ending in _UNIT_ENDINGS:
        key = key.removesuffix(ending)
    return "--" + key.replace("_", "-")


def setting_options(table: Mapping[str, str]) -> Callable[[F], F]:
    """Add one option a setting; each takes `default` as well."""
    return together(*(_setting_option(key, words, is_rows=key in _ROWS) for key, words in table.items()))


def _setting_option(key: str, words: str, *, is_rows: bool) -> Callable[[F], F]:
    return click.option(option_name(key), key, metavar="ROW" if is_rows else "VALUE", help=words, multiple=is_rows)


def read(table: Collection[str], given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the settings that were typed as plain values by key; None for `default`."""
    from taskdb.core.contests.settings import BY_KEY, read_values

    values: dict[str, Any] = {}
    for key in table:
        text = "; ".join(given[key]) if key in _ROWS else given[key]
        if text is None or (key in _ROWS and not given[key]):
            continue
        try:
            values |= read_values({key: text})
        except UsageError as error:
            told = f"{option_name(key)}: {error.message.removeprefix(f'{BY_KEY[key].words}: ')}"
            raise UsageError(error.code, told, hint=error.hint, details=error.details) from None
    return values


day_options = together(
    click.option("--date", type=DATE, metavar="DATE", help="Its date, e.g. 2027-05-14."),
    click.option("--start-opens", type=TIME_OF_DAY, metavar="TIME", help=PROCEDURE["start_opens"]),
    click.option("--wind", type=WIND, metavar="W", help=DAY["wind"]),
    click.option(
        "--speed", "speed_kmh", type=SPEED, metavar="V", help="Average cross-country speed in still air, e.g. 95km/h."
    ),
)
"""Adds --date, --start-opens, --wind and --speed: what is known of a day."""


class_option = click.option("--class", "class_name", metavar="C", help="For this class only.")
scope_options = together(
    class_option,
    click.option("--day", "scope_day", type=click.IntRange(min=1), metavar="N", help="For this day only."),
)
"""Adds --class and --day: for whom it is set. The nearer wins: class on the day, class, day, contest."""


def scope_of(given: dict[str, Any]) -> Scope:
    """Take what `scope_options` read out of the options, and return it."""
    from taskdb.core.model import Scope

    return Scope(given.pop("class_name"), given.pop("scope_day"))
