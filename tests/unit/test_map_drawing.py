"""A task's map shows every zone true to shape and scale, keeps its texts apart, and lets no name out of its text."""

from __future__ import annotations

import re
from itertools import combinations

import pytest
from geographiclib.geodesic import Geodesic
from lxml import etree
from shapely import LineString, Point, Polygon

from taskdb.core.course.axes import resolve_points
from taskdb.core.course.measure import measure_course
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Landable, Place, Position, Role, Task, TaskPoint, TaskType, Waypoint, ZoneFrom
from taskdb.core.quantities import Units
from taskdb.report.boxes import Box
from taskdb.report.lettering import LEAST_LETTERS_MM, text_width_mm
from taskdb.report.map import MapLayout, draw_map, frame_of, lay_out_in
from tests import building

HOSTILE = [
    "<script>alert(1)</script>",
    "\"'><img src=x onerror=alert(1)>",
    "]]><!-- & &amp; {{ 7*7 }}",
    "a\x00b\x1b[31m\u202egnp.exe\u2066",
    "W" * 300,
    "שדה תעופה مطار",
    "",
]


def _task(*points: tuple[str, float, float, str], type_: TaskType = TaskType.RACING) -> Task:
    stops = [
        (building.place((latitude, longitude), f"{n:03d}", name, elevation_m=400.0), zone)
        for n, (name, latitude, longitude, zone) in enumerate(points)
    ]
    return building.task(*stops, type=type_, name="Runde")


RACING = _task(
    ("Ormsau Startlinie", 48.871, 11.784, "line 1km"),
    ("Großer Zirbel", 49.113, 12.701, "cylinder 500m"),
    ("Vilsgreuth", 48.425, 12.508, "keyhole 500m 90deg 10km"),
    ("Lohnerberg", 48.933, 11.428, "sector 90deg"),
    ("Ormsau", 48.872, 11.8105, "cylinder 3km"),
)
AREAS = _task(
    ("Ormsau", 48.8755, 11.783, "cylinder 5km"),
    ("Großer Zirbel", 49.113, 12.701, "area 10km..25km 180..300"),
    ("Greifenlohe", 48.631, 12.326, "area 20km"),
    ("Hohe Sterz", 48.465, 11.777, "area 5km..25km"),
    ("Ormsau", 48.872, 11.8105, "cylinder 3km"),
    type_=TaskType.ASSIGNED_AREA,
)
MANY = _task(
    *[
        (f"Wendepunkt Nummer {n}", 48.6 + 0.05 * (n * 7 % 11), 11.8 + 0.06 * (n * 5 % 13), "cylinder 500m")
        for n in range(14)
    ]
)
OUT_AND_BACK = _task(
    ("Hin", 48.9, 11.8, "line 1km"), ("Weg", 49.1, 12.7, "cylinder 1km"), ("Hin", 48.9, 11.8, "line 1km")
)
TINY = _task(
    ("Eins", 48.87, 11.78, "line 1km"), ("Zwei", 48.9, 11.8, "cylinder 500m"), ("Drei", 48.87, 11.84, "line 500m")
)
DATE_LINE = _task(
    ("West", -17.0, 179.5, "line 1km"), ("Ost", -17.3, -179.4, "area 20km"), ("Süd", -17.9, 179.9, "cylinder 3km")
)
TASKS = {
    "racing": RACING,
    "areas": AREAS,
    "many": MANY,
    "out-and-back": OUT_AND_BACK,
    "tiny": TINY,
    "date-line": DATE_LINE,
}


def _layout(task: Task, width_mm: float = 176, height_mm: float = 113) -> MapLayout:
    course = measure_course(task, extremes=False)
    return lay_out_in(frame_of([(task, course)], width_mm, height_mm), task, course, Units.KM)


def _draw(task: Task, **options: object) -> str:
    return draw_map(task, measure_course(task, extremes=False), **options)  # type: ignore[arg-type]


def _catalogue(count: int = 300) -> list[Waypoint]:
    kinds = list(Landable)
    return [
        Waypoint(
            f"{n:03d}",
            f"Ort Nummer {n}",
            Position.at(48.4 + n * 37 % 97 / 130, 11.4 + n * 53 % 101 / 75),
            400.0,
            kinds[n % 4],
        )
        for n in range(count)
    ]


def _polygon(box: Box) -> Polygon:
    return Polygon(box.corners)


@pytest.mark.parametrize("name", TASKS)
def test_the_map_is_one_well_formed_svg_element_without_script_style_or_reference(name: str) -> None:
    root = etree.fromstring(_draw(TASKS[name], catalogue=_catalogue()))
    assert etree.QName(root).localname == "svg"
    tags = {etree.QName(element).localname for element in root.iter()}
    assert tags <= {"svg", "g", "path", "rect", "circle", "text", "tspan", "title"}
    names = {attribute for element in root.iter() for attribute in element.attrib}
    assert not any(re.match(r"on|.*href|style|src", attribute) for attribute in names)


@pytest.mark.parametrize("name", TASKS)
@pytest.mark.parametrize("size", [(176, 113), (122, 78)])
def test_texts_lie_neither_on_each_other_nor_on_the_course_nor_over_the_edge(
    name: str, size: tuple[float, float]
) -> None:
    layout = _layout(TASKS[name], *size)
    labels = [*layout.point_labels, *layout.leg_labels]
    shapes = [_polygon(label.placed.box) for label in labels]
    assert all(a.intersection(b).area < 1e-6 for a, b in combinations(shapes, 2))
    frame = Polygon([(0, 0), (size[0], 0), size, (0, size[1])])
    assert all(shape.within(frame) for shape in shapes)
    for leg in layout.legs:
        line = LineString(leg.line)
        assert all(shape.intersection(line).length < 1e-6 for shape in shapes)
    assert len(layout.point_labels) == len({point.place.code for point in TASKS[name].points})
    assert all(label.text for label in layout.point_labels)


@pytest.mark.parametrize(("name", "is_beside"), [("areas", True), ("racing", True), ("out-and-back", False)])
def test_a_low_map_has_its_legend_beside_where_the_course_is_seen_larger_so(name: str, is_beside: bool) -> None:
    size = {"width_mm": 126.0, "height_mm": 58.0}
    root = etree.fromstring(_draw(TASKS[name], catalogue=_catalogue(), **size))
    frame = root.find("{*}svg")
    assert frame is not None
    width_mm, height_mm = float(frame.get("width")), float(frame.get("height"))
    assert (width_mm < 100, height_mm > 50) == (is_beside, is_beside)
    # What explains the map lies outside the frame and on the paper, by the widths of its letters.
    right_mm, foot_mm = float(frame.get("x")) + width_mm, float(frame.get("y")) + height_mm
    texts = 0
    for sample in root.findall("{*}g/{*}g[@transform]"):
        at = [float(value) for value in re.findall(r"[\d.]+", sample.get("transform"))]
        (text,) = sample.findall("{*}text")
        end = at[0] + float(text.get("x")) + text_width_mm(text.text or "", LEAST_LETTERS_MM)
        assert end <= size["width_mm"] + 0.1 and at[1] <= size["height_mm"]
        assert at[0] >= right_mm if is_beside else at[1] >= foot_mm
        texts += 1
    assert texts >= 5


def test_start_and_finish_at_one_waypoint_share_a_label() -> None:
    home, away = (
        Place("001", "Ormsau", Position.at(48.872, 11.8105)),
        Place("232", "Großer Zirbel", Position.at(49.1, 12.7)),
    )
    points = [
        TaskPoint(home, Role.START, parse_zone("line 1km"), ZoneFrom.OWN),
        TaskPoint(away, Role.TURN, parse_zone("cylinder 500m"), ZoneFrom.OWN),
        TaskPoint(home, Role.FINISH, parse_zone("line 1km"), ZoneFrom.OWN),
    ]
    layout = _layout(Task("Hin und her", TaskType.RACING, resolve_points(points), "region", 1))
    assert [(label.lead, label.text) for label in layout.point_labels] == [
        ("Start · Finish", "Ormsau"),
        ("1", "Großer Zirbel"),
    ]
    assert len(layout.leg_labels) == 2


def test_catalogue_names_keep_clear_of_the_tasks_own_texts_and_of_each_other() -> None:
    layout = _layout(RACING)
    before = list(layout.room.boxes)
    from taskdb.report.map_ground import draw_places, places_in

    places = places_in(layout.frame, _catalogue(), frozenset(), layout.room)
    draw_places(layout.room, places)
    added = layout.room.boxes[len(before) :]
    names = added[len(places) :]
    assert len(names) > 20
    assert all(
        _polygon(a).intersection(_polygon(b)).area < 1e-6 for a, b in combinations([*before, *names], 2) if b in names
    )


@pytest.mark.parametrize(("task", "number", "radius_m"), [(AREAS, 2, 20_000), (RACING, 1, 500), (DATE_LINE, 1, 20_000)])
def test_a_round_zone_is_drawn_true_to_its_radius_on_the_ellipsoid(task: Task, number: int, radius_m: float) -> None:
    # The rim is computed by geographiclib, independent of the code that made the outline.
    layout = _layout(task)
    at = task.points[number].place.position
    drawn = LineString(layout.zones[number].rings[0])
    for bearing in range(0, 360, 5):
        rim = Geodesic.WGS84.Direct(at.latitude_deg, at.longitude_deg, bearing, radius_m)
        x, y = layout.frame.paper(Position(rim["lat2"], rim["lon2"]))
        assert drawn.distance(Point(x, y)) < 0.02
    assert drawn.is_ring


def test_a_ring_segment_is_drawn_between_its_radials_and_radii_only() -> None:
    layout = _layout(AREAS)
    at = AREAS.points[1].place.position
    drawn = Polygon(layout.zones[1].rings[0])
    for bearing, away_m, is_inside in [
        (240, 17_000, True),
        (185, 24_900, True),
        (240, 9_000, False),
        (170, 17_000, False),
    ]:
        spot = Geodesic.WGS84.Direct(at.latitude_deg, at.longitude_deg, bearing, away_m)
        assert drawn.contains(Point(layout.frame.paper(Position(spot["lat2"], spot["lon2"])))) is is_inside


def test_a_full_ring_leaves_its_inside_open() -> None:
    zone = _layout(AREAS).zones[3]
    assert len(zone.rings) == 2
    assert Polygon(zone.rings[0]).contains(Polygon(zone.rings[1]))


def test_a_start_line_has_its_full_length_and_lies_square_to_the_leg() -> None:
    layout = _layout(TINY)
    (ax, ay), (bx, by) = layout.zones[0].line
    length_m = Point(ax, ay).distance(Point(bx, by)) / layout.frame.mm_per_m
    assert length_m == pytest.approx(1000, rel=1e-3)
    (px, py), (qx, qy) = layout.legs[0].line[:2]
    cosine = ((bx - ax) * (qx - px) + (by - ay) * (qy - py)) / (
        Point(ax, ay).distance(Point(bx, by)) * Point(px, py).distance(Point(qx, qy))
    )
    assert abs(cosine) < 1e-3


def test_legs_across_the_antimeridian_do_not_run_round_the_world() -> None:
    layout = _layout(DATE_LINE)
    assert layout.frame.scale_denominator < 2_000_000
    assert all(layout.frame.holds(point) for leg in layout.legs for point in leg.line)


def test_every_leg_bears_its_distance_and_true_course() -> None:
    texts = [label.text for label in _layout(RACING).leg_labels]
    lengths = [leg.distance_m for leg in measure_course(RACING, extremes=False).legs]
    assert len(texts) == 4
    assert all(any(f"{length / 1000:.1f} km" in text for text in texts) for length in lengths)
    assert all(re.search(r" \d{3}°", text) for text in texts)


def test_distances_follow_the_chosen_unit() -> None:
    svg = _draw(RACING, units=Units.NMI)
    assert " nmi" in svg
    assert " km" not in svg


@pytest.mark.parametrize("hostile", HOSTILE)
def test_a_hostile_name_stays_text(hostile: str) -> None:
    task = _task(
        (hostile, 48.9, 11.8, "line 1km"), (hostile, 49.1, 12.7, "cylinder 1km"), ("Ende", 48.6, 12.3, "line 1km")
    )
    catalogue = [Waypoint("X1", hostile, Position.at(48.8, 12.2)), *_catalogue(40)]
    root = etree.fromstring(_draw(task, catalogue=catalogue))
    assert not [element for element in root.iter() if etree.QName(element).localname in ("script", "img", "image")]
    text = "".join(root.itertext())
    assert not re.search("[\x00-\x08\x0b-\x1f\u202a-\u202e\u2066-\u2069]", text)
    assert "W" * 31 not in text


def test_the_same_input_gives_the_same_bytes() -> None:
    catalogue = _catalogue()
    assert _draw(AREAS, catalogue=catalogue) == _draw(AREAS, catalogue=list(reversed(catalogue)))


def test_a_course_without_extent_is_still_drawn() -> None:
    here = _task(("Hier", 48.9, 11.8, "cylinder 500m"), ("Hier", 48.9, 11.8, "cylinder 500m"))
    assert etree.fromstring(_draw(here)) is not None


def test_a_role_is_told_by_line_style_as_well_as_by_colour() -> None:
    from taskdb.report.palette import STYLES

    dashes = [STYLES[role].dash for role in (Role.TURN, Role.AREA, Role.FINISH)]
    assert len(set(dashes)) == 3
