"""Flights on a map: a grey line a piece, a mark for each start, turn and end, and a legend that hides none of them."""

from __future__ import annotations

import re
from xml.etree import ElementTree

from taskdb.core.course.measure import measure_course
from taskdb.core.flights.thinned import DrawnFlight
from taskdb.core.model import Position
from taskdb.report.map import draw_map
from taskdb.report.map_frame import fit_frame
from taskdb.report.map_tracks import tracks_legend
from taskdb.report.palette import TRACK_INK
from tests import building

A, B, C = (Position.at(48.87, 11.81), Position.at(49.05, 12.47), Position.at(48.63, 12.33))
TASK = building.task((A, "line 5km"), (B, "cylinder 1km"), (C, "cylinder 1km"), (A, "cylinder 3km"))
HOME = DrawnFlight(((A, B), (B, C, A)), A, (B, C), A, finished=True)
OUT = DrawnFlight(((A, B),), A, (B,), B, finished=False)


def drawn(*flights):
    return draw_map(TASK, measure_course(TASK), width_mm=180, height_mm=130, flights=flights)


def tracks(svg):
    root = ElementTree.fromstring(svg)  # well-formed, or it raises
    space = {"s": "http://www.w3.org/2000/svg"}
    return root.findall(f".//s:g[@stroke='{TRACK_INK}']/s:path", space)


def test_each_piece_is_a_line_and_a_gap_is_none():
    assert len(tracks(drawn(HOME, OUT))) == 3
    assert len(tracks(drawn())) == 0 and "ended elsewhere" not in drawn()


def test_a_place_far_off_the_course_is_shown_where_a_flight_ended_there():
    far = Position.at(48.0, 10.5)
    course = measure_course(TASK)
    alone = draw_map(TASK, course, width_mm=180, height_mm=130)
    wide = drawn(DrawnFlight(((A, far),), A, (), far, finished=False))

    def scale(svg):
        return int(re.sub(r"\D", "", re.search(r"about 1 : ([\d\s\u202f\u00a0]+)", svg)[1]))

    assert scale(wide) > 2 * scale(alone)


def test_the_legend_stands_in_the_corner_where_nothing_is():
    frame = fit_frame([A, B, C], 180, 120, pad_mm=(9, 7))

    def corner(seen):
        at = re.search(r'x="([\d.]+)" y="([\d.]+)"', tracks_legend(frame, seen))
        return float(at[1]) < 90, float(at[2]) < 60

    assert corner([]) == (True, True)
    assert corner([(5.0, 5.0)]) == (False, True)
    assert corner([(5.0, 5.0), (175.0, 5.0)]) == (True, False)
    assert corner([(5.0, 5.0), (175.0, 5.0), (5.0, 115.0)]) == (False, False)
