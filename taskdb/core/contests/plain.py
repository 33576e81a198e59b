"""The JSON form of contests: their days, what is set for whom, and what holds."""

from __future__ import annotations

from typing import Any

from taskdb.core.contests.scopes import WHOLE, Holding, channels_at, scopes_of, value_at, zones_at
from taskdb.core.contests.settings import SETTINGS
from taskdb.core.course.wind import wind_of
from taskdb.core.model import Contest, ContestDay
from taskdb.core.plain import or_none, plain, speed_kmh, zone_plain


def contest_day_plain(day: ContestDay) -> dict[str, Any]:
    """Return a day as its contest keeps it; what is not known is null."""
    return {
        "day": day.number,
        "date": day.date,
        "start_opens": day.start_opens,
        "wind": plain(wind_of(day)),
        "speed_kmh": or_none(speed_kmh, day.speed_kmh),
    }


def scopes_plain(contest: Contest) -> list[dict[str, Any]]:
    """Return what is set for each class, day and class on a day; scopes that set nothing are left out."""
    found = []
    for scope in scopes_of(contest):
        values = {s.key: value for s in SETTINGS if (value := value_at(contest, scope, s.key)) is not None}
        zones, channels = zones_at(contest, scope), channels_at(contest, scope)
        if scope != WHOLE and (values or zones or channels):
            found.append(
                {
                    **plain(scope),
                    "zones": {role.value: zone_plain(zone) for role, zone in zones.items()},
                    "settings": plain(values),
                    "frequencies": dict(channels),
                }
            )
    return found


def holding_plain(holding: Holding) -> dict[str, Any]:
    """Return what holds for a class on a day: each value with whose it is (`from`), `default` included."""
    return {
        "class": holding.class_name,
        "day": holding.day,
        "zones": {
            role.value: {"zone": zone_plain(zone), "zone_from": origin.value}
            for role, (zone, origin) in holding.zones.items()
        },
        "settings": {
            key: {"value": plain(held.value), "from": held.whose, "source": held.source}
            for key, held in holding.values.items()
        },
        "frequencies": dict(holding.channels),
    }
