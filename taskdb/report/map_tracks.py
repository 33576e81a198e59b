"""Flights on the map of their task: thin grey lines under the course, and where each started, turned and ended.

No names and no order: whose a line is cannot be told.
"""

from __future__ import annotations

from collections.abc import Sequence

from taskdb.core.flights.thinned import DrawnFlight
from taskdb.core.model import Position
from taskdb.report.lettering import LEAST_LETTERS_MM, text_width_mm
from taskdb.report.map_frame import Frame
from taskdb.report.palette import INK, PAPER, TRACK_INK
from taskdb.report.svg import Point, element, group, number, path_data, text_element

_LINE_MM = 0.22
_MARK_MM = 0.55
_WORDS = ("started", "turned", "finished", "ended elsewhere")
_ROW_MM, _MARGIN_MM = 3.4, 1.0


def marks_of(flights: Sequence[DrawnFlight]) -> tuple[Position, ...]:
    """Return the places of all marks, which a map of the flights has to show."""
    return tuple(
        place for flight in flights for place in (flight.started, *flight.turned, flight.ended) if place is not None
    )


def draw_tracks(frame: Frame, flights: Sequence[DrawnFlight]) -> str:
    """Return the flights' lines."""
    lines = (path_data(frame.line(piece)) for flight in flights for piece in flight.pieces)
    return group(
        (element("path", d=line) for line in lines),
        fill="none", stroke=TRACK_INK, stroke_width=_LINE_MM, stroke_linejoin="round",
    )  # fmt: skip


def draw_marks(frame: Frame, flights: Sequence[DrawnFlight]) -> str:
    """Return where flights turned, started and ended, the rarer above the commoner."""
    turned = [_turned(frame.paper(place)) for flight in flights for place in flight.turned]
    started = [_started(frame.paper(flight.started)) for flight in flights if flight.started is not None]
    ended = [
        (_finished if flight.finished else _elsewhere)(frame.paper(flight.ended))
        for flight in sorted(flights, key=lambda one: not one.finished)
        if flight.ended is not None
    ]
    return group([*turned, *started, *ended])


def tracks_legend(frame: Frame, seen: Sequence[Point]) -> str:
    """Return samples of line and marks with their words, in the corner of the frame that hides least of what is `seen`.

    Millimetres in the frame.
    """
    line = element("path", d=path_data([(-1.6, 0), (1.6, 0)]), stroke=TRACK_INK, stroke_width=_LINE_MM * 2)
    samples = [line, *(mark((0.0, 0.0)) for mark in (_started, _turned, _finished, _elsewhere))]
    words = ("a flight", *_WORDS)
    wide = max(text_width_mm(one, LEAST_LETTERS_MM) for one in words) + 6.4
    high = len(words) * _ROW_MM + 1.4
    x, y = _emptiest_corner(frame, wide, high, seen)
    rows = [
        f'<g transform="translate({number(x + 2.6)},{number(y + 2.4 + n * _ROW_MM)})">{sample}'
        f"{text_element(word, 2.6, LEAST_LETTERS_MM * 0.36, LEAST_LETTERS_MM)}</g>"
        for n, (sample, word) in enumerate(zip(samples, words, strict=True))
    ]
    box = element(
        "rect", x=x, y=y, width=wide, height=high, fill=PAPER, fill_opacity="0.85", stroke=INK, stroke_width=0.15
    )
    return box + group(rows, fill=INK)


def _emptiest_corner(frame: Frame, wide: float, high: float, seen: Sequence[Point]) -> Point:
    corners = [
        (x, y)
        for y in (_MARGIN_MM, frame.height_mm - high - _MARGIN_MM)
        for x in (_MARGIN_MM, frame.width_mm - wide - _MARGIN_MM)
    ]

    def hidden(corner: Point) -> int:
        x, y = corner
        return sum(
            x - _MARGIN_MM <= px <= x + wide + _MARGIN_MM and y - _MARGIN_MM <= py <= y + high + _MARGIN_MM
            for px, py in seen
        )

    return min(corners, key=lambda corner: (hidden(corner), corners.index(corner)))


def _started(at: Point) -> str:
    return element("circle", cx=at[0], cy=at[1], r=_MARK_MM, fill=PAPER, stroke=INK, stroke_width=0.2)


def _turned(at: Point) -> str:
    return element("circle", cx=at[0], cy=at[1], r=_MARK_MM * 0.8, fill=INK, stroke=PAPER, stroke_width=0.12)


def _finished(at: Point) -> str:
    (x, y), half = at, _MARK_MM
    return element(
        "rect", x=x - half, y=y - half, width=2 * half, height=2 * half, fill=PAPER, stroke=INK, stroke_width=0.2
    )


def _elsewhere(at: Point) -> str:
    (x, y), half = at, _MARK_MM * 1.5
    cross = path_data([(x - half, y - half), (x + half, y + half)]) + path_data(
        [(x - half, y + half), (x + half, y - half)]
    )
    halo = element("path", d=cross, stroke=PAPER, stroke_width=0.7)
    return halo + element("path", d=cross, stroke=INK, stroke_width=0.35)
