"""The JSON form of a flight: what the contract calls an entry of `flights`."""

from __future__ import annotations

import datetime
from typing import Any

from taskdb.core.flights.flight import Credited, Flight
from taskdb.core.plain import degrees, metres, or_none, plain, speed_kmh


def utc_text(date: str | None, at_s: float) -> str:
    """Return a time as ISO text in UTC to the second; without its date (`T12:03:05Z`) where the log has none."""
    span = datetime.timedelta(seconds=round(at_s))
    if date is None:
        return f"T{datetime.datetime.min + span:%H:%M:%S}Z"
    return f"{datetime.datetime.fromisoformat(date) + span:%Y-%m-%dT%H:%M:%S}Z"


def flight_plain(flight: Flight, *, file: str, task: str | None, ended_near: str | None) -> dict[str, Any]:
    """Return a flight under the names that its caller has for the log, the task, and the waypoint where it ended."""
    flown, date = flight.flown, flight.date

    def utc(at_s: float | None) -> str | None:
        return None if at_s is None else utc_text(date, at_s)

    return {
        "file": file,
        "task": task,
        "date": date,
        "starts": 0 if flown is None else flown.starts,
        "start_utc": None if flown is None else utc(flown.start_s),
        "zones": [] if flown is None else [{"number": zone.number, "utc": utc(zone.at_s)} for zone in flown.zones],
        "finish_utc": None if flown is None else utc(flown.finish_s),
        "finished": flown is not None and flown.is_finished,
        "time_s": None if flown is None else or_none(_seconds, flown.time_s),
        "distance_m": 0.0 if flown is None else metres(flown.distance_m),
        "speed_kmh": None if flown is None else or_none(speed_kmh, flown.speed_kmh),
        "credited": None
        if flown is None or flown.credited is None
        else [_credited_plain(credited, date) for credited in flown.credited],
        "ended_near": ended_near,
        "stood_before": plain(flight.stood_before and flight.stood_before.position),
        "stood_after": plain(flight.stood_after and flight.stood_after.position),
        "problems": list(flight.problems),
    }


def _seconds(value: float) -> float:
    return round(value, 3)


def _credited_plain(credited: Credited, date: str | None) -> dict[str, Any]:
    return {
        "number": credited.number,
        "latitude_deg": degrees(credited.position.latitude_deg),
        "longitude_deg": degrees(credited.position.longitude_deg),
        "utc": utc_text(date, credited.at_s),
    }
