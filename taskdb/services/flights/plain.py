"""The JSON form of what the services of flights answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from taskdb.core.flights.plain import flight_plain
from taskdb.core.plain import degrees, fields_plain, metres, or_none, plain
from taskdb.services.tasks.plain import by_logs_plain, record_plain

if TYPE_CHECKING:
    from taskdb.core.checks.flown_places import Misplaced
    from taskdb.core.flights.places import StoodPlace
    from taskdb.core.model import Waypoint
    from taskdb.services.flights.drawing import DrawnFlights
    from taskdb.services.flights.places import FlightPlaces
    from taskdb.services.flights.reading import FlightShown, FlightsRead, SavedDay, TaskDay


def flights_plain(read: FlightsRead, saved: Sequence[SavedDay] | None, drawn: DrawnFlights | None) -> dict[str, Any]:
    """Return what flights told, as `flight read` answers it."""
    return {
        "flights": [_flight_plain(shown) for shown in read.flights],
        "day": asdict(read.sums),
        "days": [_day_plain(day) for day in read.days],
        "saved": None if saved is None else [_saved_plain(one) for one in saved],
        "map": None if drawn is None else {"path": drawn.path, "task": drawn.task},
    }


def _flight_plain(shown: FlightShown) -> dict[str, Any]:
    entry = flight_plain(shown.flight, file=shown.log.name, task=shown.task, ended_near=shown.ended_near)
    return {**entry, "log": shown.log.number, "checksum": shown.log.checksum, "counted": shown.counts}


def _day_plain(day: TaskDay) -> dict[str, Any]:
    head = day.candidate.head
    return {"task": head.name, "contest": head.contest_name, "flown_on": day.flown_on, **by_logs_plain(day.told)}


def _saved_plain(saved: SavedDay) -> dict[str, Any]:
    return {**fields_plain(saved, but=["record"]), **record_plain(saved.record)}


def places_plain(found: FlightPlaces) -> dict[str, Any]:
    """Return where gliders stood, as `flight places` answers it."""
    return {
        "set": found.at.head.name,
        "revision": found.at.revision,
        "logs": found.logs,
        "marked": [
            {**_place_plain(one.place), "waypoints": [_at_plain(*mark) for mark in one.waypoints]}
            for one in found.marked
        ],
        "misplaced": [_misplaced_plain(one) for one in found.misplaced],
        "candidates": [
            {
                **_place_plain(one.place),
                "nearest": None if one.nearest is None else _at_plain(*one.nearest),
                "perhaps": list(one.perhaps),
            }
            for one in found.unmarked
        ],
    }


def _place_plain(place: StoodPlace) -> dict[str, Any]:
    return {
        "latitude_deg": degrees(place.position.latitude_deg),
        "longitude_deg": degrees(place.position.longitude_deg),
        "days": list(place.days),
        "take_offs": place.take_offs,
        "landings": place.landings,
        "gnss_altitude_m": or_none(metres, place.gnss_altitude_m),
    }


def _at_plain(distance_m: float, waypoint: Waypoint) -> dict[str, Any]:
    return {"code": waypoint.code, "name": waypoint.name, "distance_m": metres(distance_m)}


def _misplaced_plain(one: Misplaced) -> dict[str, Any]:
    slip = one.slip
    return {
        "code": one.waypoint.code,
        "name": one.waypoint.name,
        "distance_m": metres(one.away_m),
        "place": _place_plain(one.place),
        "slip": None if slip is None else slip.words,
        "mended": None if slip is None else plain(slip.mended),
        "others": list(one.others),
    }
