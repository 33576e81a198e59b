"""A ring segment counts through its middle and is carried as its point: each figure says which way it goes.

Lengths and courses by geographiclib's geodesics (another program than the one under test).
"""

from __future__ import annotations

import io
import json
from itertools import pairwise

import pytest
from geographiclib.geodesic import Geodesic
from lxml import html

from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.measure import measure_course
from taskdb.core.course.plain import task_plain
from taskdb.core.model import Task
from taskdb.formats.exported import ExportedTask
from taskdb.formats.registry import write_task
from taskdb.report.sheet import render_sheet
from taskdb.report.sheet_page import SheetPage
from tests.unit.test_sheet_page import AREAS, RACING

COURSE = measure_course(AREAS)


def geodesics(task: Task) -> list[tuple[float, float]]:
    at = [point.place.position for point in task.points]
    lines = [
        Geodesic.WGS84.Inverse(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
        for a, b in pairwise(at)
    ]
    return [(line["s12"], line["azi1"] % 360) for line in lines]


def words(task: Task) -> tuple[str, list[list[str]], dict[str, str]]:
    """Return the text of a task's sheet, the rows of its points, and what an instrument should show."""
    course = measure_course(task)
    document = html.document_fromstring(render_sheet([SheetPage(task, 1, course, fingerprint(task))]))
    rows = [
        [" ".join(cell.itertext()) for cell in row.xpath("td")] for row in document.xpath("//*[@class='points']//tr")
    ]
    check = {
        str(row.xpath("string(td[1])")): str(row.xpath("string(td[2])"))
        for row in document.xpath("//*[@class='side']//table[1]//tr")
    }
    return " ".join(document.text_content().split()), [row for row in rows if row], check


def test_what_an_instrument_shows_goes_through_the_points_and_the_contests_figure_stands_beside_it() -> None:
    legs = geodesics(AREAS)
    points_km, counted_km = sum(length for length, _ in legs) / 1000, COURSE.distances.centres_m / 1000
    # The middle of the segment lies 17.5 km off its point: the two figures cannot be taken for each other.
    assert abs(points_km - counted_km) > 1
    text, _, check = words(AREAS)
    assert check["by centres"] == f"{points_km:.1f} km"
    assert check["by ring edges, start and finish"] == f"{points_km - 8.0:.1f} km"
    assert check["the contest counts, through the middle of ring segments"] == f"{counted_km:.1f} km"
    assert "go through the points, which the files carry; the contest counts" in text


def test_a_row_of_the_table_holds_the_leg_between_the_points_of_its_row_and_the_one_above() -> None:
    _, rows, _ = words(AREAS)
    total = 0.0
    for row, (length_m, azimuth) in zip(rows[1:], geodesics(AREAS), strict=True):
        total += length_m
        assert row[-3:] == [f"{length_m / 1000:.1f} km", f"{round(azimuth):03d}°", f"{total / 1000:.1f} km"]


def test_without_a_ring_segment_nothing_is_said_of_another_way_of_counting() -> None:
    text, _, check = words(RACING)
    assert "the contest counts" not in text
    assert check["by centres"] == f"{measure_course(RACING).distances.centres_m / 1000:.1f} km"


def test_json_keeps_the_contests_figures_and_adds_those_through_the_points() -> None:
    plain = task_plain(AREAS, COURSE, revision=1, fingerprint="")
    assert plain["distance"]["centres_m"] == round(sum(leg.distance_m for leg in COURSE.legs), 3)
    assert plain["distance"]["points_m"] == pytest.approx(sum(length for length, _ in geodesics(AREAS)), abs=0.01)
    for leg, counted, (length_m, azimuth) in zip(plain["legs"], COURSE.legs, geodesics(AREAS), strict=True):
        assert leg["distance_m"] == round(counted.distance_m, 3)
        assert leg["points_m"] == pytest.approx(length_m, abs=0.001)
        assert leg["points_course_true_deg"] == pytest.approx(azimuth, abs=1e-4)


def test_files_give_a_leg_the_length_between_the_points_that_they_draw() -> None:
    exported = ExportedTask(AREAS, COURSE, 1, fingerprint(AREAS))
    content = {}
    for name in ("csv", "kml", "geojson"):
        stream = io.BytesIO()
        write_task(stream, exported, name)
        content[name] = stream.getvalue().decode()
    legs = geodesics(AREAS)
    written = [line.split(",")[-2] for line in content["csv"].splitlines()[2:]]
    assert [float(cell) for cell in written] == pytest.approx([length for length, _ in legs], abs=0.001)
    assert f"001 to 002, {legs[1][0] / 1000:.1f} km" in content["kml"]
    told = [f["properties"] for f in json.loads(content["geojson"])["features"] if f["properties"]["kind"] == "leg"]
    assert [leg["points_m"] for leg in told] == pytest.approx([length for length, _ in legs], abs=0.001)


def test_a_task_without_ring_segments_counts_and_is_carried_alike() -> None:
    course = measure_course(RACING)
    assert course.between_points == course.legs
    assert course.points_m == course.distances.centres_m
