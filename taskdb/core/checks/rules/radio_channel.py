"""Rule `radio-channel`: a radio channel that does not exist."""

from __future__ import annotations

import re
from collections.abc import Iterator

from taskdb.core.checks.columns import once_or_each
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity, Waypoint

_CHANNEL = re.compile(r"(\d{3})(?:[.,](\d{1,3}))?")
_BAND_KHZ = (117_975, 137_000)
_NAVIGATION_KHZ = (108_000, 117_975)


def check(survey: Survey) -> Iterator[Draft]:
    """A radio channel does not exist.

    What: in the airband (118.000 to 136.990) the last two digits of a channel are 00, 05, 10, 15, 25, 30, 35, 40, 50,
    55, 60, 65, 75, 80, 85 or 90; 20, 45, 70, 95 and anything between do not exist. Two decimals are read as the
    25 kHz channels that they shorten (122.47 is 122.475). A warning; a note for a channel outside the airband. More
    than 20 points that are one in five of those with a channel are told once: it is the column.

    Why it matters: it cannot be set on a radio, and the nearest that can is somebody else's.

    How to mend: look it up in the aeronautical publication of the country.

    Trap: a channel that exists may still be the wrong one. Old lists have 25 kHz channels that have been changed.

    Example: 123.520 does not exist; 123.515 and 123.525 do.

    Source: the channel names of ICAO Annex 10 Vol V for 25 and 8.33 kHz spacing, from memory.
    """
    found: dict[int, list[Draft]] = {}
    stated = survey.waypoints.stating("radio")
    for index in stated.tolist():
        point = survey.waypoints[index]
        for draft in _of_point(point):
            found.setdefault(index, []).append(draft)
    yield from once_or_each(
        survey,
        found,
        stated,
        name="radio",
        told="have a channel that does not exist or lies outside the airband",
        doubt="the column is in doubt, or how it is written. Look up how the source writes channels.",
    )


def _of_point(point: Waypoint) -> Iterator[Draft]:
    for radio in point.radio:
        khz = read_khz(radio.channel)
        told = None
        severity = Severity.WARNING
        if khz is None:
            told = "is no channel: write it as 123.505"
        elif _BAND_KHZ[0] <= khz < _BAND_KHZ[1]:
            if khz % 25 not in (0, 5, 10, 15):
                told = f"does not exist; {_near_words(khz)} do"
        elif not _NAVIGATION_KHZ[0] <= khz < _NAVIGATION_KHZ[1]:
            told, severity = "lies outside the airband, 118 to 137 MHz", Severity.NOTE
        if told is not None:
            yield Draft(
                severity,
                (point,),
                f"{point.code} {point.name!r}: channel {radio.channel} {told}.",
                {"channel": radio.channel, "purpose": radio.purpose},
            )


def read_khz(channel: str) -> int | None:
    """Return a channel in kHz as named; two decimals that shorten a 25 kHz channel are made whole. None: no number."""
    match = _CHANNEL.fullmatch(channel.strip())
    if match is None:
        return None
    decimals = match[2] or ""
    khz = int(match[1]) * 1000 + int(decimals.ljust(3, "0"))
    if len(decimals) == 2 and decimals[1] in "27":
        khz += 5
    return khz


def _near_words(khz: int) -> str:
    below = next(one for one in range(khz - 1, khz - 30, -1) if one % 25 in (0, 5, 10, 15))
    above = next(one for one in range(khz + 1, khz + 30) if one % 25 in (0, 5, 10, 15))
    return f"{below / 1000:.3f} and {above / 1000:.3f}"


RULE = Rule(
    name="radio-channel",
    summary="A radio channel does not exist.",
    function=check,
    reads=("radio",),
)
