"""The page of proposals: whole without a network, harmless whatever names hold, the same bytes each time."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from html import unescape

import pytest

from taskdb.core.course.measure import measure_course
from taskdb.core.model import Role
from taskdb.core.quantities import Units
from taskdb.report.map import frame_of
from taskdb.report.proposals import CAUTIONS, MAP_MM, ProposalsPage, ProposedCard, draw_proposals, render_proposals
from taskdb.report.symbols import point_symbol
from tests.building import place, task, waypoint

HOME = place((48.872, 11.8105), "001", "Ormsau")
SVG = "{http://www.w3.org/2000/svg}"


def card(*spots, **values) -> ProposedCard:
    stops = [(HOME, "line 1km"), *((spot, "cylinder 500m") for spot in spots), (HOME, "line 1km")]
    made = task(*stops, name="Proposal")
    known = {"length_m": 141_900.0, "score": 0.69, "margin_percent": 2.3, "good": ("head wind",), "bad": (), "like": ()}
    return ProposedCard(made, measure_course(made, touching=False), **(known | values))


@pytest.fixture
def page() -> ProposalsPage:
    return ProposalsPage(
        title="FAI triangles, 140 to 180 km, from 001 Ormsau",
        where="region@2",
        head="The best 2 of 264 of which no two lie nearer than 20 km to each other.",
        cards=(
            card(place((48.6, 11.4), "243", "Torfkuppe"), place((48.5, 12.0), "006", "Mühlschwand")),
            card(
                place((49.2, 12.3), "007", "North"), place((48.8, 12.5), "008", "East"), bad=("sun 5°",), like=("A1",)
            ),
        ),
        said=("weighed by into-wind 1", "not counted: sun (not known: date)"),
        catalogue=(waypoint("999", "Field beside", 48.8, 11.9),),
        airspace=(),
        units=Units.KM,
    )


def test_the_page_shows_each_proposal_with_its_map_its_figures_and_its_reasons(page) -> None:
    html = unescape(render_proposals(page))
    for words in ("001 243 006 001", "Torfkuppe – Mühlschwand", "141.9 km · score 0.69 · margin 2.3 %", "head wind",
                  "sun 5°", "like <bdi>A1</bdi>", "not counted: sun", *CAUTIONS):  # fmt: skip
        assert words in html
    assert html.count("<svg ") == 2 * 2 + 1  # a frame within each map, and the key
    assert unescape(render_proposals(page)) == html


def test_nothing_is_loaded_and_no_name_is_markup(page) -> None:
    bad = '<script>alert("x")</script>&'
    hostile = card(place((48.6, 11.4), "<b>1", bad), place((48.5, 12.0), "006", "x" * 300), like=(bad,))
    html = render_proposals(replace(page, title=bad, cards=(hostile,), said=(bad,)))
    assert "<script" not in html and "<b>1" not in html
    assert "default-src 'none'" in html
    assert not re.search(r"(src|href)=|url\(|https?://(?!www\.w3\.org/2000/svg)", html)
    assert "<script" not in draw_proposals(replace(page, title=bad, cards=(hostile,)))


def test_the_maps_alone_are_one_picture_in_millimetres(page) -> None:
    text = draw_proposals(page)
    root = ET.fromstring(text)
    assert root.tag == f"{SVG}svg"
    inner = root.findall(f"{SVG}svg")
    assert len(inner) == 3
    # Within the picture's own millimetres nothing is measured in another unit.
    assert not any(value.endswith("mm") for one in inner for value in one.attrib.values())
    assert all(float(one.attrib["x"]) + float(one.attrib["width"]) <= float(root.attrib["width"][:-2]) for one in inner)
    words = [element.text or "" for element in root.iter(f"{SVG}text")]
    assert [word for word in words if word.startswith(("1  001", "2  001"))] == [
        "1  001 243 006 001",
        "2  001 007 008 001",
    ]
    assert set(CAUTIONS) <= set(words)


def test_maps_share_one_frame_so_that_home_lies_at_one_place(page) -> None:
    frame = frame_of([(one.task, one.course) for one in page.cards], *MAP_MM)
    html = render_proposals(page)
    assert html.count(point_symbol(Role.START, frame.paper(HOME.position))) == 2
    for one in page.cards:
        assert all(frame.holds(frame.paper(point.place.position)) for point in one.task.points)
