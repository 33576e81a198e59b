"""Searching in a published page gives the hits of `waypoint find`, in its order; positions and distances are the same.

In a real browser (headless chromium), from `file://`, on the demo, on names of every script, on open data of airfields
(airportsdata). The command line's own functions are the judge; pyproj (Karney's geodesics) that of the distances.
"""

from __future__ import annotations

import random
import unicodedata
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from taskdb.core.geodesy import inverse
from taskdb.core.model import Feature, Landable, Position
from taskdb.core.names import fold, fold_german
from taskdb.core.notation import Notation, format_position
from taskdb.core.quantities import format_bearing
from taskdb.reference.airports import load_airports
from taskdb.services.desk import Desk
from taskdb.services.waypoints.waypoint import FindRequest, find_waypoints
from tests.report.publications import DEMO, HOSTILE, desk_with, hostile_rows, published

pytestmark = pytest.mark.slow

QUERIES = (
    "", " ", "o", "orm", "ORMSAU", "ormsau ", "  start ormsau", "start n", "n start", "quarn", "001", "1", "01", "0",
    "straße", "STRASSE", "strasse", "stra", "grossen", "Großen weiher", "mühl", "muehl", "muhl", "MUHL", "zurich", "ö",
    "oe", "é", "etoile", "Étoile", "e\u0301t", "İ", "i", "ılgaz", "ilgaz", "οδος", "ΟΔΌΣ", "σισυφος", "ﬁ", "fin", "½",
    "1⁄2", "viii", "Ⅷ", "angstrom", "aangstroem", "ångström", "oere", "ore", "aesir", "lodz", "thing", "東", "क्ष", "٣",
    "%", "_", "<", "</script>", "'", '"', "\\", "--", "script", "<script>", "a b c", "a a", "😀", "\u202e", "gnal",
    "10 10a", "10a 10", "feld", "Feld ", "-", ".", "x0", "X0", "W" * 30,
)  # fmt: skip


def find_in_page(page: Page, queries: Iterable[tuple[str, str, str]]) -> list[list[str]]:
    found: list[list[str]] = page.evaluate(
        "(all) => all.map(([text, landable, feature]) =>"
        " places.find(text, landable, feature).map((n) => CATALOGUE.codes[n]))",
        list(queries),
    )
    return found


def find_at_desk(desk: Desk, text: str, landable: str, feature: str) -> list[str]:
    request = FindRequest(
        text, None, landable=Landable(landable) if landable else None, feature=Feature(feature) if feature else None
    )
    return [hit.waypoint.code for hit in find_waypoints(desk, request).waypoints]


def compared(desk: Desk, page: Page, queries: list[tuple[str, str, str]]) -> int:
    """Hold the page against the desk in every query, and return how many had several hits."""
    told = find_in_page(page, queries)
    wanted = [find_at_desk(desk, *query) for query in queries]
    differing = {query: (a[:5], b[:5]) for query, a, b in zip(queries, told, wanted, strict=True) if a != b}
    assert differing == {}
    return sum(len(hits) > 1 for hits in wanted)


def drawn(names: list[str], count: int) -> list[str]:
    """Return beginnings of words of names, one or two, as people type them."""
    chance = random.Random(20271130)
    queries = []
    for _ in range(count):
        words = chance.choice(names).split() or [""]
        some = chance.sample(words, min(len(words), chance.choice((1, 1, 2))))
        text = " ".join(word[: chance.randint(1, 6)] for word in some)
        queries.append(chance.choice((text, text.upper(), text.lower(), unicodedata.normalize("NFD", text))))
    return queries


def test_the_demo_is_found_as_on_the_command_line(tmp_path: Path, opened: Callable[..., Page]) -> None:
    desk = desk_with(tmp_path, DEMO / "region.csv")
    published(desk, tmp_path / "site")
    page = opened((tmp_path / "site" / "index.html").as_uri())
    names: list[str] = page.evaluate("CATALOGUE.names")
    queries = [(text, "", "") for text in (*QUERIES, *drawn(names, 200))]
    queries += [(text, landable, "") for text in ("", "feld", "o") for landable in Landable]
    queries += [(text, "no", feature) for text in ("", "k") for feature in Feature]
    assert compared(desk, page, queries) > 100


def test_names_of_every_script_and_hostile_ones_are_found_as_on_the_command_line(
    tmp_path: Path, opened: Callable[..., Page]
) -> None:
    desk = desk_with(tmp_path, hostile_rows())
    published(desk, tmp_path / "site")
    page = opened((tmp_path / "site" / "index.html").as_uri())
    queries = [(text, "", "") for text in (*QUERIES, *HOSTILE, *drawn(list(HOSTILE), 200))]
    assert compared(desk, page, queries) > 60


def test_open_data_of_airfields_is_found_as_on_the_command_line(tmp_path: Path, opened: Callable[..., Page]) -> None:
    airports = [w for n, w in enumerate(load_airports()) if n % 7 == 0 or not w.name.isascii()]
    rows = [
        [
            w.code,
            w.name,
            f"{w.position.latitude_deg:.7f}",
            f"{w.position.longitude_deg:.7f}",
            "",
            "aerodrome",
            "",
            w.country,
        ]
        + [""] * 5
        for w in airports
    ]
    desk = desk_with(tmp_path, rows)
    published(desk, tmp_path / "site")
    page = opened((tmp_path / "site" / "index.html").as_uri())
    names: list[str] = page.evaluate("CATALOGUE.names")
    assert len(names) > 4_000 and sum(not name.isascii() for name in names) > 100
    assert compared(desk, page, [(text, "", "") for text in (*QUERIES, *drawn(names, 250))]) > 200


def test_every_letter_is_folded_as_on_the_command_line(tmp_path: Path, opened: Callable[..., Page]) -> None:
    published(desk_with(tmp_path, hostile_rows()), tmp_path / "site")
    page = opened((tmp_path / "site" / "index.html").as_uri())
    # What this Python's tables do not know, the browser's newer ones may.
    letters = [chr(n) for n in range(0x20, 0x1_F000) if unicodedata.category(chr(n)) not in ("Cn", "Cs")]
    texts = ["a" + "b x".join(letters[n : n + 20]) + "c" for n in range(0, len(letters), 20)]
    folded, german = page.evaluate("(all) => [all.map(places.fold), all.map(places.foldGerman)]", texts)
    differing = [t for t, f, g in zip(texts, folded, german, strict=True) if (f, g) != (fold(t), fold_german(t))]
    assert len(letters) > 50_000 and differing == []


def test_what_is_typed_filtered_and_chosen_is_shown_in_that_order(tmp_path: Path, opened: Callable[..., Page]) -> None:
    desk = desk_with(tmp_path, DEMO / "region.csv")
    published(desk, tmp_path / "site")
    page = opened((tmp_path / "site" / "index.html").as_uri())
    page.get_by_label("Code, name").press_sequentially("muehl")
    hits = [text.split()[0] for text in page.locator("#hits a").all_inner_texts()]
    assert hits == find_at_desk(desk, "muehl", "", "") != []
    assert page.locator("#count").inner_text() == f"{len(hits)} of 155 waypoints"
    page.get_by_label("Code, name").fill("")
    page.get_by_label("Landable").select_option("emergency")
    hits = [text.split()[0] for text in page.locator("#hits a").all_inner_texts()]
    assert hits == find_at_desk(desk, "", "emergency", "") != []
    page.locator("#hits a").first.click()
    expect(page.locator("h1")).to_contain_text(hits[0])  # the page comes first, its waypoint a moment later
    assert page.locator("h1").inner_text().split()[0] == hits[0]
    page.go_back()
    expect(page.get_by_label("Landable")).to_have_value("emergency")
    expect(page.locator("#hits li")).to_have_count(len(hits))
    page.get_by_label("Landable").select_option("")
    assert page.locator("#hits li").count() == 50
    for _ in range(3):
        page.get_by_role("button", name="Show more").click()
    assert page.locator("#hits li").count() == 155
    assert page.evaluate("document.activeElement === document.querySelectorAll('#hits a')[150]")
    page.get_by_label("Code, name").fill("no such place")
    assert page.locator("#count").inner_text() == "No waypoint fits."


EDGES = (
    (0.0, 0.0), (-0.0000004, 179.9999999), (89.9999999, -180.0), (-33.9461111, 151.1772222), (48.9999999, 11.9999999),
    (48.99999, 11.0000083), (-0.0083333, -0.0083334), (7.0000001, -79.9999996),
)  # fmt: skip


def test_positions_are_written_and_distances_measured_as_everywhere_else(
    tmp_path: Path, opened: Callable[..., Page]
) -> None:
    rows = [[f"E{n}", f"Edge {n}", f"{lat:.7f}", f"{lon:.7f}", *[""] * 9] for n, (lat, lon) in enumerate(EDGES)]
    chance = random.Random(5)
    rows += [
        [f"R{n}", f"Random {n}", f"{chance.uniform(-89, 89):.7f}", f"{chance.uniform(-180, 179.9):.7f}", *[""] * 9]
        for n in range(300)
    ]
    desk = desk_with(tmp_path, rows)
    published(desk, tmp_path / "site")
    page = opened((tmp_path / "site" / "index.html").as_uri())
    waypoints = {hit.waypoint.code: hit.waypoint for hit in find_waypoints(desk, FindRequest()).waypoints}
    written = page.evaluate(
        "CATALOGUE.codes.map((code, n) => [code, places.position(n, 2, 3), places.position(n, 3, 2),"
        " places.position(n, 1, 6), places.geoUri(n)])"
    )
    assert len(written) == len(rows)
    for code, minutes, seconds, degrees, geo in written:
        at = waypoints[code].position
        assert minutes == format_position(at, Notation.MINUTES, 3)
        assert seconds == format_position(at, Notation.SECONDS)
        assert degrees == format_position(at, Notation.DECIMAL)
        assert geo == format_position(at, Notation.GEO_URI)
    near = page.evaluate("CATALOGUE.codes.map((_, n) => places.nearest(n, 8).map((o) => [o.n, o.metres, o.course]))")
    codes: list[str] = page.evaluate("CATALOGUE.codes")
    for code, found in zip(codes, near, strict=True):
        here = waypoints[code].position
        all_of_them = sorted(
            (inverse(here, w.position).distance_m, w.code) for w in waypoints.values() if w.code != code
        )
        for (n, metres, course), (distance, _) in zip(found, all_of_them, strict=False):
            line = inverse(here, waypoints[codes[n]].position)
            assert metres == pytest.approx(line.distance_m, abs=1e-3) and metres == pytest.approx(distance, rel=0.004)
            assert abs((course - (line.bearing_deg or 0.0) + 180) % 360 - 180) < 1e-5
    assert page.evaluate("places.bearingText(359.7)") == f"{format_bearing(359.7)}°" == "000°"
    assert page.evaluate("places.geodesic(48, 11, 48, 11)") == {"metres": 0, "course": None}


def test_places_within_fifty_kilometres_come_in_the_order_of_their_true_distances(
    tmp_path: Path, opened: Callable[..., Page]
) -> None:
    desk = desk_with(tmp_path, DEMO / "region.csv")
    published(desk, tmp_path / "site")
    page = opened((tmp_path / "site" / "waypoint.html").as_uri() + "#001")
    at: dict[str, Position] = {
        h.waypoint.code: h.waypoint.position for h in find_waypoints(desk, FindRequest()).waypoints
    }
    true = sorted((inverse(at["001"], at[code]).distance_m, code) for code in at if code != "001")[:8]
    shown = page.locator("section:has-text('Nearest') li").all_inner_texts()
    assert [text.split()[0] for text in shown] == [code for _, code in true]
    assert (
        f"{true[0][0] / 1000:.1f} km {format_bearing(inverse(at['001'], at[true[0][1]]).bearing_deg or 0)}°" in shown[0]
    )
