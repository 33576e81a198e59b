"""Airspace on map and sheet: what is near the course is drawn, labelled where there is room, listed, and told when it
changes."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from taskdb.core.airspace.heights import parse_limit
from taskdb.core.airspace.nearby import volumes_near, volumes_near_course
from taskdb.core.airspace.volume import E7, Kind, Volume
from taskdb.core.geodesy import destination
from taskdb.core.model import Position
from taskdb.core.quantities import Units
from taskdb.report.map import draw_map, frame_of, lay_out_in
from taskdb.report.map_airspace import STYLES, draw_airspace, sample
from taskdb.report.palette import AIRSPACE_INK, REDDISH_PURPLE, STYLES as ZONE_STYLES
from taskdb.report.placing import Room
from taskdb.report.sheet import _content, render_sheet
from taskdb.report.sheet_airspace import CAUTION, MOST_LISTED
from taskdb.report.sheet_room import PageLayout, _air, _used_mm, said_mm
from tests.drawn import paths_of, vertices
from tests.telling import assert_told
from tests.unit.test_sheets_tell_every_change import RACING, page_of

MIDDLE = Position.at(48.75, 12.2)


def disc(name: str, at: Position, radius_m: float, kind: Kind = Kind.RESTRICTED, ceiling: str = "FL95") -> Volume:
    rim = [destination(at, 360 - 6 * n, radius_m) for n in range(60)]
    ring = [(round(p.longitude_deg * E7), round(p.latitude_deg * E7)) for p in rim]
    return Volume.of(name, kind, parse_limit("GND"), parse_limit(ceiling), [[[*ring, ring[0]]]])


MOOR = disc("Moor", MIDDLE, 12_000)


def drawn(*volumes: Volume, width: float = 180, height: float = 130) -> str:
    page = page_of(RACING)
    return draw_map(RACING, page.course, airspace=volumes, width_mm=width, height_mm=height)


def test_a_map_without_airspace_is_as_it_was() -> None:
    page = page_of(RACING)
    assert drawn() == draw_map(RACING, page.course)
    assert REDDISH_PURPLE not in drawn()


def test_a_volume_is_drawn_and_labelled_with_its_limits() -> None:
    for radius, limits in ((12_000, "GND – FL095"), (22_000, "restricted GND – FL095")):
        svg = drawn(disc("Moor", MIDDLE, radius))
        ElementTree.fromstring(svg)
        assert svg.count(REDDISH_PURPLE) == 3  # fill, outline, ticks
        texts = re.findall(r"<tspan[^>]*>([^<]*)</tspan>", svg)
        assert texts[:2] == ["Moor", limits]


def test_what_lies_outside_the_frame_is_not_drawn_and_what_surrounds_it_is_cut_off() -> None:
    assert REDDISH_PURPLE not in drawn(disc("Far", Position.at(44.0, 12.2), 20_000))
    assert REDDISH_PURPLE not in drawn(disc("Other side", Position.at(-48.0, -168.0), 50_000))
    svg = drawn(disc("Huge", MIDDLE, 900_000, Kind.CONTROLLED))
    assert svg.count(REDDISH_PURPLE) == 2
    numbers = [abs(n) for path in paths_of(svg) for vertex in vertices(path) for n in vertex]
    assert max(numbers) < 400


def test_a_name_that_is_markup_is_text() -> None:
    svg = drawn(disc("<script>x</script>&\u202e", MIDDLE, 15_000))
    ElementTree.fromstring(svg)
    assert "<script" not in svg and "\u202e" not in svg


def test_labels_lie_on_nothing_and_in_no_other_volume() -> None:
    page = page_of(RACING)
    layout = lay_out_in(frame_of([(RACING, page.course)], 122, 70), RACING, page.course, Units.KM)
    before = len(layout.room.boxes)
    volumes = [
        disc(f"V{n}", destination(MIDDLE, 40 * n, 9_000 * n), 3_000 + 500 * n, kind)
        for n, kind in enumerate(list(Kind) * 3)
    ]
    svg = draw_airspace(layout.frame, layout.room, volumes)
    own = layout.room.boxes[before:]
    assert 3 <= len(own) == svg.count("<text")
    for box in own:
        others = Room(layout.room.width_mm, layout.room.height_mm, layout.room.lines)
        others.take(*(one for one in layout.room.boxes if one is not box))
        assert others.is_free(box) and not layout.room.is_free(box)


def test_kinds_differ_without_colour_and_from_zones() -> None:
    looks = {(style.dash, style.width_mm, style.ticks_mm) for style in STYLES.values()}
    assert len(looks) == len(Kind)
    assert set(STYLES) == set(Kind)
    assert REDDISH_PURPLE not in {style.colour for style in ZONE_STYLES.values()}
    for kind in Kind:
        ElementTree.fromstring(sample(kind))


def test_letters_and_lines_stand_out_from_white_in_grey() -> None:
    # WCAG 2.1, 1.4.3 and 1.4.11: 4.5 : 1 for text, 3 : 1 for graphics, by relative luminance.
    def contrast(colour: str) -> float:
        parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 1.05 / (sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True)) + 0.05)

    assert contrast(AIRSPACE_INK) > 4.5
    assert contrast(REDDISH_PURPLE) > 3.0


def test_near_the_course_is_within_10_km_of_a_leg_or_a_zone() -> None:
    middle = destination(RACING.points[0].place.position, 67.2, 35_000)  # on the first leg, about north-east
    for off, is_near in ((14_000, True), (16_500, False)):
        at = destination(middle, 337.2, off)
        assert bool(volumes_near_course(RACING, (disc("N", at, 5_000),))) is is_near, off
    assert volumes_near_course(RACING, (disc("Over all", MIDDLE, 900_000),)) == (0,)
    assert volumes_near_course(RACING, ()) == ()


def test_near_is_near_over_the_antimeridian() -> None:
    at = Position.at(50.0, -179.99)
    west = disc("W", Position.at(50.0, 179.9), 3_000)
    apart = 0.11 * 111_320 * math.cos(math.radians(50))
    assert volumes_near([(at, apart - 3_000 + 50)], (west,)) == (0,)
    assert volumes_near([(at, apart - 3_000 - 50)], (west,)) == ()


# The sheet


def test_the_sheet_lists_what_is_near_with_its_source_and_the_caution() -> None:
    far = disc("Far", Position.at(44.0, 12.2), 20_000)
    timed = replace(MOOR, times="Mon-Fri", frequency="123.505")
    html = render_sheet([page_of(RACING, airspace=(timed, far), airspace_from="air@3 of 2027-03-01")])
    assert "air@3 of 2027-03-01: 1 within 10 km of a leg or a zone" in html
    assert CAUTION.replace("'", "&#39;") in html
    assert "<bdi>Moor</bdi></b> restricted, GND – FL095, Mon-Fri, 123.505" in html
    assert "Far" not in html


def test_a_sheet_says_that_nothing_is_near_and_nothing_where_no_airspace_is_known() -> None:
    assert "air@3: none within 10 km" in render_sheet([page_of(RACING, airspace_from="air@3")])
    assert '<p class="said air">' not in render_sheet([page_of(RACING)])


def test_the_list_takes_its_own_room_on_a_sheet_and_none_where_there_is_none() -> None:
    without = {**_content(page_of(RACING), Units.KM), "changes": ()}
    listed = {**_content(page_of(RACING, airspace=(MOOR,), airspace_from="air@3"), Units.KM), "changes": ()}
    used = [_used_mm(content, [3.0] * 5, PageLayout(0.0)) for content in (without, listed)]
    assert used[1] - used[0] == pytest.approx(said_mm(_air(listed)))
    assert said_mm(_air(listed)) > 0
    assert ".air" not in render_sheet([page_of(RACING)])


def test_where_more_is_near_than_is_listed_it_is_said() -> None:
    many = tuple(disc(f"V{n:02}", MIDDLE, 8_000 + n) for n in range(MOST_LISTED + 4))
    html = render_sheet([page_of(RACING, airspace=many, airspace_from="air@3")])
    assert f"air@3: {MOST_LISTED} of {MOST_LISTED + 4}, the map has more within" in html


@pytest.mark.parametrize(
    "after",
    [
        {"airspace": (replace(MOOR, name="Heath"),)},
        {"airspace": (replace(MOOR, kind=Kind.DANGER),)},
        {"airspace": (replace(MOOR, ceiling=parse_limit("FL65")),)},
        {"airspace": (replace(MOOR, times="H24"),)},
        {"airspace": (replace(MOOR, frequency="123.505"),)},
        {"airspace": ()},
        {"airspace_from": "air@4"},
        {"airspace": (), "airspace_from": None},
    ],
    ids=str,
)  # fmt: skip
def test_each_change_of_the_airspace_is_told(after: dict[str, object]) -> None:
    before = {"airspace": (MOOR,), "airspace_from": "air@3"}
    assert_told(page_of(RACING, **before), page_of(RACING, **{**before, **after}), str(after.keys()))
