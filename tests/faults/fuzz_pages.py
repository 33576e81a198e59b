"""What is written of texts that others typed, for the fuzzer: pages, their data files and pictures.

The judge knows nothing of how pages are made: Python's own parsers of HTML, XML and JSON take them apart again.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from functools import cache
from html.parser import HTMLParser
from typing import Any
from xml.parsers import expat

from taskdb.core.course.measure import measure_course
from taskdb.core.model import Feature, Finding, Landable, Position, Radio, Runway, Severity, Waypoint
from taskdb.core.names import clean_text, code_problem
from taskdb.core.quantities import Units
from taskdb.report.pages.course_data import course_script
from taskdb.report.pages.edition import Download, Edition, Manner, Since, Tiles
from taskdb.report.pages.set_pages import set_pages
from taskdb.report.proposals import ProposalsPage, ProposedCard, draw_proposals, render_proposals
from taskdb.report.sheet import render_sheet
from tests.building import page, place, task

HOME, NORTH, EAST = (48.0, 11.0), (48.4, 11.0), (48.2, 11.6)


class _Parts(HTMLParser):
    """Counts the elements of a page, and its attributes by name; holds what its scripts refer to."""

    def __init__(self) -> None:
        super().__init__()
        self.found: Counter[str] = Counter()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "iframe", "object", "embed", "form", "base", "meta", "link", "style", "foreignobject"):
            self.found[tag] += 1
        for name, value in attrs:
            if name.startswith("on") or (
                name in ("href", "src") and str(value).strip().lower().startswith("javascript")
            ):
                self.found[f"{tag} {name}"] += 1


def acting(html: str) -> Counter[str]:
    """Return how many elements and attributes of a page can do something, by kind."""
    parts = _Parts()
    parts.feed(html)
    parts.close()
    return parts.found


def _require_data(script: str) -> None:
    """A data file is constants whose values are JSON, each on a line of its own, and ends no script around it."""
    if "</script" in script.lower() or "<!--" in script:
        raise AssertionError("a text ends the script around it")
    for line in script.split("\n"):
        if line.startswith("const "):
            json.loads(line.partition(" = ")[2].removesuffix(";"))
        elif line and not line.startswith("/*"):
            raise AssertionError(f"a line of a data file that is none of its constants: {line[:60]!r}")


def _require_picture(svg: str) -> None:
    parser = expat.ParserCreate()
    parser.StartElementHandler = lambda tag, attributes: _require_still(tag, attributes)
    parser.Parse(svg, True)


def _require_still(tag: str, attributes: dict[str, str]) -> None:
    if tag.rpartition(":")[2].lower() in ("script", "foreignobject") or any(key.startswith("on") for key in attributes):
        raise AssertionError(f"a picture with {tag}")


def _published(text: str) -> dict[str, bytes]:
    code = text if code_problem(text) is None else "X1"
    one = Waypoint(
        code, text or "-", Position.at(48.87, 11.81), 389.0, landable=Landable.AERODROME, feature=next(iter(Feature)),
        country="DE", description=text or None, source=text or None, radio=(Radio("123.505", text or None),),
        runways=(Runway(text[:12] or None, 71.0, 850.0, 30.0, text[:30] or "grass"),),
    )  # fmt: skip
    edition = Edition(
        text or "set", 3, "2027-05-14", (one,), label=text or None,
        since=Since(text or "2", added=(one,), retired=(one,), reasons={one.identity or "": (text,)}),
        findings={code: (Finding("1", "rule", Severity.WARNING, (code,), text, {}),)},
    )  # fmt: skip
    manner = Manner(title=text or None, tiles=Tiles("https://h.example/{z}/{x}/{y}", text, "https://h.example"))
    return set_pages(edition, manner, [Download(f"files/{one.identity}.csv", "csv", 3, "0" * 64, (text,))])


def _proposed(text: str) -> ProposalsPage:
    stops = [
        (place(at, text[:8] or "X", text), zone)
        for at, zone in zip((HOME, NORTH, EAST, HOME), ("line 1km", *["cylinder 1km"] * 3), strict=True)
    ]
    made = task(*stops, name=text or "A")
    card = ProposedCard(made, measure_course(made, touching=False), 9e4, 0.5, 2.3, (text,), (text,), (text,), text)
    return ProposalsPage(
        text, text, text, (card,), (text,), (Waypoint("9", text, Position.at(48.2, 11.2)),), (), Units.KM
    )


@cache
def _plain_counts() -> dict[str, Counter[str]]:
    return {name: acting(html) for name, html in _pages("Ormsau").items()}


def _pages(text: str) -> dict[str, str]:
    """Return pages by name with a text in every place that takes one, their data files and pictures looked at."""
    found = {}
    for path, content in _published(text).items():
        if path.endswith(".html"):
            found[path] = content.decode()
        elif path == "catalogue.js":
            _require_data(content.decode())
        elif path.endswith(".svg"):
            _require_picture(content.decode())
    proposals = _proposed(text)
    _require_picture(draw_proposals(proposals))
    sheet = page(proposals.cards[0].task)
    _require_data(course_script(sheet))
    return found | {"proposals": render_proposals(proposals), "sheet": render_sheet([sheet])}


def _written(content: bytes) -> None:
    for name, html in _pages(clean_text(content.decode("utf-8", "replace"))).items():
        if acting(html) != _plain_counts()[name]:
            raise AssertionError(f"{name}: a text became a part of the page: {acting(html)}")


HOSTILE = (
    b"<script>x</script>", b"\"><img src=x onerror=alert(1)>", b"' onclick='x", b"]]></svg>", b"a & b &lt; c", b"",
    b"</title><base href=//x>", b"javascript:alert(1)", b"{{ 7*7 }}", b"\xe2\x80\xa8", b"</style>", b"<!--",
)  # fmt: skip


def page_readers(texts: tuple[bytes, ...]) -> list[tuple[str, tuple[bytes, ...], Callable[[bytes], Any], int]]:
    """Return name, seeds, writer and weight."""
    return [("pages", (*HOSTILE, *texts), _written, 1)]
