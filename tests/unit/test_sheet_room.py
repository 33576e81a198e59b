"""Where what stands on a sheet when a page is too small for all of it: the map stays one that can be read."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from lxml import html

from taskdb.report.sheet import render_sheet
from taskdb.report.sheet_page import SheetPage
from taskdb.report.sheet_room import HIGHEST_MAP_MM, READABLE_MAP_MM
from tests.reference.pages import DECLARED, FINDINGS, MODIFIED, RACING, page

PLAIN = replace(page(DECLARED, full=False), waypoints={}, contest=None)


def map_mm(document: str) -> float:
    found = re.search(r'<div class="map"><svg [^>]*height="([\d.]+)mm"', document)
    assert found is not None
    return float(found[1])


def test_a_declared_course_with_little_to_say_is_one_sheet() -> None:
    document = render_sheet([PLAIN])
    assert '<header class="apart">' not in document
    assert READABLE_MAP_MM <= map_mm(document) <= HIGHEST_MAP_MM


def test_a_declared_course_with_much_to_say_has_its_declaration_on_a_second_sheet() -> None:
    document = render_sheet([page(DECLARED)])
    assert map_mm(document) >= READABLE_MAP_MM
    (section,) = html.document_fromstring(document).xpath("//section[@class='task']")
    inside = [str(child.get("class") or child.tag) for child in section]
    # The declaration and its blanks stand behind the first sheet's foot, under a heading of their own.
    first_foot, heading = inside.index("foot"), inside.index("apart")
    assert first_foot < heading < inside.index("declared")
    assert len(section.xpath(".//*[@class='declared']//dl")) == 1
    assert section.text_content().count("Not for primary navigation.") == 2


@pytest.mark.parametrize(
    "given", [page(DECLARED), page(RACING), page(MODIFIED)], ids=["declared", "racing", "modified"]
)
def test_nothing_that_was_found_is_cut_or_left_out(given: SheetPage) -> None:
    text = " ".join(html.document_fromstring(render_sheet([given])).text_content().split())
    for finding in FINDINGS:
        assert text.count(finding.message) >= 1
    for runway in ("08/26, 083° true, 1480 m × 30 m, asphalt", "122.555 gliders"):
        assert text.count(runway) >= 3


def test_runways_stand_below_the_map_where_they_are_longer_than_it() -> None:
    assert '<p class="said fields">' in render_sheet([page(RACING)])
    assert '<p class="said fields">' not in render_sheet([PLAIN])


def test_findings_that_a_page_has_no_room_for_stand_on_the_next_and_the_map_can_still_be_read() -> None:
    given = replace(page(MODIFIED, full=False), waypoints={}, contest=None, findings=FINDINGS * 5)
    (section,) = html.document_fromstring(render_sheet([given])).xpath("//section[@class='task']")
    told = "The review found 15 warnings: on the next page."
    inside = [(str(child.get("class") or child.tag), " ".join(child.text_content().split())) for child in section]
    first_foot = [name for name, _ in inside].index("foot")
    assert ("note found", told) in inside[:first_foot]
    assert [name for name, _ in inside[first_foot + 1 :]] == ["apart", "note found", "cautions", "foot"]
    assert f"what the review found fingerprint {given.fingerprint}" in inside[first_foot + 1][1]
    assert map_mm(render_sheet([given])) >= READABLE_MAP_MM
