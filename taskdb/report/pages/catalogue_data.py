"""The data file of a published set: every waypoint in columns, as a script, since a page on a stick may not fetch.

Columns and tables of repeated texts keep it small: a catalogue of 5,000 takes some half a megabyte.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from taskdb.core.ground import filled_by
from taskdb.core.model import Finding, Waypoint
from taskdb.core.quantities import Units
from taskdb.report.pages.change_words import change_phrases
from taskdb.report.pages.edition import Edition, Manner

_OUTLINES_NOTICE = (
    "/* Borders: country-coder 5.6.1. Copyright (c) 2025, country-coder contributors. Permission to use, copy, modify, "
    "and/or distribute this software for any purpose with or without fee is hereby granted, provided that the above "
    'copyright notice and this permission notice appear in all copies. THE SOFTWARE IS PROVIDED "AS IS" AND THE AUTHOR '
    "DISCLAIMS ALL WARRANTIES WITH REGARD TO THIS SOFTWARE INCLUDING ALL IMPLIED WARRANTIES OF MERCHANTABILITY AND "
    "FITNESS. IN NO EVENT SHALL THE AUTHOR BE LIABLE FOR ANY SPECIAL, DIRECT, INDIRECT, OR CONSEQUENTIAL DAMAGES OR "
    "ANY DAMAGES WHATSOEVER RESULTING FROM LOSS OF USE, DATA OR PROFITS, WHETHER IN AN ACTION OF CONTRACT, NEGLIGENCE "
    "OR OTHER TORTIOUS ACTION, ARISING OUT OF OR IN CONNECTION WITH THE USE OR PERFORMANCE OF THIS SOFTWARE. */\n"
)


def script_of(name: str, value: Any) -> str:
    """Return a script that sets one constant; no text in it can end the script, wherever it is put."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return f"const {name} = {text.replace('<', chr(92) + 'u003c')};\n"


def catalogue_script(edition: Edition, manner: Manner, texts: Mapping[str, str]) -> str:
    """Return the constant `CATALOGUE`: what the pages find, show and draw."""
    waypoints = edition.waypoints
    numbers = {waypoint.code: number for number, waypoint in enumerate(waypoints)}
    return script_of(
        "CATALOGUE",
        {
            "codes": [w.code for w in waypoints],
            "names": [w.name for w in waypoints],
            "latitude_e7": [w.position.latitude_e7 for w in waypoints],
            "longitude_e7": [w.position.longitude_e7 for w in waypoints],
            "elevation_dm": [None if w.elevation_m is None else round(w.elevation_m * 10) for w in waypoints],
            "landable": _table(w.landable.value if w.landable else None for w in waypoints),
            "feature": _table(w.feature.value if w.feature else None for w in waypoints),
            "country": _table(w.country for w in waypoints),
            "source": _table(w.source for w in waypoints),
            "inspected": _table(w.inspected_on for w in waypoints),
            "remarks": _table(w.description for w in waypoints),
            "filled": _some(waypoints, filled_by),
            "radio": _some(waypoints, lambda w: [[radio.channel, radio.purpose] for radio in w.radio]),
            "runways": _some(waypoints, _runways),
            "declination": _by_number(numbers, {} if edition.magnetic is None else edition.magnetic.degrees),
            "changed": _by_number(numbers, _changes(edition, manner.units, texts)),
            "findings": _by_number(numbers, {code: _findings(found) for code, found in edition.findings.items()}),
        },
    )


def borders_script(edition: Edition) -> str:
    """Return the constant `BORDERS`: lines of [longitude, latitude, …] in 1e-5 degree, each step from the last."""
    lines = []
    for line in edition.borders:
        flat, x, y = [], 0, 0
        for to_x, to_y in line:
            flat += [to_x - x, to_y - y]
            x, y = to_x, to_y
        lines.append(flat)
    return (_OUTLINES_NOTICE if lines else "") + script_of("BORDERS", lines)


def _table(values: Iterable[str | None]) -> dict[str, Any]:
    """Return a column of texts that repeat: each of them once, and a number for each row (0: nothing)."""
    numbers: dict[str, int] = {}
    column = [0 if not value else numbers.setdefault(value, len(numbers) + 1) for value in values]
    return {"texts": list(numbers), "rows": column if numbers else []}


def _some(waypoints: Sequence[Waypoint], value: Callable[[Waypoint], Any]) -> dict[str, Any]:
    """Return a column that few rows have, by the number of the row."""
    return {str(number): held for number, waypoint in enumerate(waypoints) if (held := value(waypoint))}


def _by_number(numbers: Mapping[str, int], values: Mapping[str, Any]) -> dict[str, Any]:
    known = {numbers[code]: value for code, value in values.items() if code in numbers}
    return {str(number): known[number] for number in sorted(known)}


def _runways(waypoint: Waypoint) -> list[list[Any]]:
    """Return designator, true heading, length, width, surface and whether one-way, for each runway."""
    return [
        [r.designator, r.heading_true_deg, r.length_m, r.width_m, r.surface, 1 if r.one_way else 0]
        for r in waypoint.runways
    ]


def _changes(edition: Edition, units: Units, texts: Mapping[str, str]) -> dict[str, list[str]]:
    if edition.since is None:
        return {}
    found = {fact.new.code: change_phrases(fact, texts, units) for fact in edition.since.changed}
    return found | {waypoint.code: [texts["is_new"]] for waypoint in edition.since.added}


def _findings(found: Sequence[Finding]) -> list[list[str]]:
    return [[finding.severity.value, finding.message] for finding in found]
