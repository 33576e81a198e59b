"""Published pages of a set in a real browser: valid, accessible, readable on every device, and nobody's script runs."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from taskdb.report.pages.texts import Language
from taskdb.services.desk import Write
from taskdb.services.handing_out.exporting import verify_export
from taskdb.services.sets.importing import ImportRequest, Mode, import_set
from taskdb.services.waypoints.waypoint import FindRequest, find_waypoints
from tests.report.looking import badly_laid_out, inaccessible, invalid, needs_java, turn_to
from tests.report.publications import DEMO, HOSTILE, OWN, desk_with, hostile_rows, published

pytestmark = pytest.mark.slow
WIDTHS = (360, 390, 768, 1200, 1600)
PAGES = (
    "index.html",
    "waypoint.html#001",
    "waypoint.html#nowhere",
    "list-001.html",
    "map.html",
    "changes.html",
    "files.html",
)


@pytest.fixture(scope="module")
def sites(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Return the folders of publications: the demo in both languages, and names that hurt."""
    folder = tmp_path_factory.mktemp("demo")
    desk = desk_with(folder, DEMO / "region.csv")
    import_set(
        desk, ImportRequest(str(DEMO / "mends.csv"), "region"), Write("set import", note="mended after the check")
    )
    found = {}
    for language in Language:
        found[language.value] = folder / language.value
        published(desk, found[language.value], language=language, findings=True)
    hostile = tmp_path_factory.mktemp("hostile")
    found["hostile"] = hostile / "site"
    bad = desk_with(hostile, hostile_rows(), name=HOSTILE[3].replace(":", "").replace("@", ""))
    rows = [[*row[:2], row[2][:-3] + "999", *row[3:]] for row in hostile_rows()[:-2]]
    import_set(
        bad,
        ImportRequest(_written(hostile / "moved.csv", rows), _only(bad), mode=Mode.REPLACE),
        Write("x", confirmed=True),
    )
    published(bad, found["hostile"], _only(bad), title=HOSTILE[1], findings=True)
    return found


def _written(path: Path, rows: list[list[str]]) -> str:
    import csv

    from tests.report.publications import HEADER

    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([HEADER, *rows])
    return str(path)


def _only(desk: object) -> str:
    from taskdb.services.sets.set import list_sets

    return list_sets(desk)[0].name  # type: ignore[arg-type]


@needs_java
def test_every_page_is_valid_html(sites: dict[str, Path], tmp_path: Path) -> None:
    paths = [path for site in sites.values() for path in sorted(site.glob("*.html"))]
    wrong = tmp_path / "wrong.html"
    wrong.write_text("<!DOCTYPE html><html lang=en><title>x</title><p><div id=a id=a></p>", "utf-8")
    found = invalid([*paths, wrong])
    assert len(paths) > 15 and [one for one in found if not one.startswith(f"{wrong.name}:")] == []
    assert found != [], "the validator finds nothing at all"


@pytest.mark.parametrize("name", ["en", "de", "hostile"])
def test_no_page_breaks_a_rule_of_accessibility_in_light_or_dark(
    sites: dict[str, Path], opened: Callable[..., Page], name: str
) -> None:
    page = opened(f"{sites[name].as_uri()}/{PAGES[0]}", viewport={"width": 390, "height": 800})
    for path in PAGES:
        page.emulate_media(color_scheme="light")
        turn_to(page, f"{sites[name].as_uri()}/{path}")
        assert (path, inaccessible(page)) == (path, [])
        page.emulate_media(color_scheme="dark")
        assert (path, inaccessible(page, colours_alone=True)) == (path, [])


def test_the_rules_find_what_is_wrong(sites: dict[str, Path], opened: Callable[..., Page]) -> None:
    page = opened(f"{sites['en'].as_uri()}/index.html")
    page.evaluate("document.querySelector('label').remove(); document.querySelector('h1').style.color = '#eee'")
    assert {one.partition(":")[0] for one in inaccessible(page)} >= {"label", "color-contrast"}
    assert {one.partition(":")[0] for one in inaccessible(page, colours_alone=True)} == {"color-contrast"}


@pytest.mark.parametrize("name", ["en", "de", "hostile"])
def test_nothing_is_wider_than_its_page_or_cut_from_a_phone_to_a_wide_desk(
    sites: dict[str, Path], opened: Callable[..., Page], name: str
) -> None:
    code = {"hostile": "X0"}.get(name, "001")
    page = opened(f"{sites[name].as_uri()}/{PAGES[0]}")
    for path in PAGES:
        turn_to(page, f"{sites[name].as_uri()}/{path.replace('001', code) if 'waypoint' in path else path}")
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            assert (path, width, badly_laid_out(page)) == (path, width, [])


def test_hostile_names_are_shown_and_never_run(sites: dict[str, Path], opened: Callable[..., Page]) -> None:
    site = sites["hostile"]
    page = opened(f"{site.as_uri()}/index.html")
    codes: list[str] = page.evaluate("CATALOGUE.codes")
    assert len(codes) == len(HOSTILE) - 2
    seen = opened(f"{site.as_uri()}/index.html")
    for path in (*PAGES, *(f"waypoint.html#{_quoted(page, code)}" for code in codes)):
        turn_to(seen, f"{site.as_uri()}/{path}")
        assert seen.evaluate("document.documentElement.dataset.owned") is None
        assert seen.told == []  # type: ignore[attr-defined]
        assert all(address.startswith(site.as_uri()) for address in seen.asked)  # type: ignore[attr-defined]
    assert OWN in page.locator("#hits").inner_text()
    n = codes.index("X0")
    seen = opened(f"{site.as_uri()}/waypoint.html#X0")
    assert f"<script>{OWN}</script>" in seen.locator("h1").inner_text()
    assert seen.evaluate(f"CATALOGUE.names[{n}]") == HOSTILE[0]


def _quoted(page: Page, code: str) -> str:
    quoted: str = page.evaluate("(code) => encodeURIComponent(code)", code)
    return quoted


def test_a_page_allows_no_script_that_is_not_its_own_and_reaches_no_network(
    sites: dict[str, Path], opened: Callable[..., Page]
) -> None:
    for path in ("index.html", "waypoint.html#001", "map.html"):
        page = opened(f"{sites['en'].as_uri()}/{path}")
        page.evaluate(
            "(own) => { const s = document.createElement('script'); s.textContent = own; document.body.append(s);"
            " document.body.insertAdjacentHTML('beforeend', `<img src=x: onerror=\"${own}\">`); }",
            OWN,
        )
        reached = page.evaluate("fetch('https://example.org/').then(() => true, () => false)")
        data = page.evaluate("fetch('catalogue.js').then(() => true, () => false)")
        page.wait_for_timeout(50)
        assert (reached, data) == (False, False)
        assert page.evaluate("document.documentElement.dataset.owned") is None
        assert any("Content Security Policy" in said for said in page.told)  # type: ignore[attr-defined]


def test_without_script_the_list_tells_everything(sites: dict[str, Path], opened: Callable[..., Page]) -> None:
    page = opened(f"{sites['en'].as_uri()}/index.html", java_script_enabled=False)
    assert page.locator("#search").is_hidden()
    page.locator("noscript a, .note a").first.click()
    expect(page.locator("tbody tr")).to_have_count(155)
    told = page.locator("tbody tr").first.inner_text()
    for words in (
        "001",
        "Ormsau",
        "aerodrome",
        "48°52.320′N 011°48.630′E",
        "389 m",
        "123.505 launch",
        "094° true",
        "winch",
    ):
        assert words in told


def test_a_waypoint_page_tells_what_is_known_of_it(sites: dict[str, Path], opened: Callable[..., Page]) -> None:
    page = opened(f"{sites['en'].as_uri()}/waypoint.html#001")
    told = page.locator("main").inner_text()
    for words in (
        "48°52.320′N 011°48.630′E", "48°52′19.20″N 011°48′37.80″E", "48.872000,11.810500",
        "389 m (1276 ft)", "123.505 launch", "094° / 274° true", "magnetic", "1050 m × 60 m",
        "club survey 2026", "2026-04-23", "Magnetic by WMM2025",
    ):  # fmt: skip
        assert words in told
    assert page.locator("a[href^='geo:']").get_attribute("href") == "geo:48.872,11.8105"
    # 1050 m against 60 m, and 94° clockwise from north.
    box = page.evaluate("(() => { const r = document.querySelector('.runways rect'); return [r.height.baseVal.value,"
                        " r.width.baseVal.value, r.parentNode.getAttribute('transform')]; })()")  # fmt: skip
    assert box[0] / box[1] == pytest.approx(1050 / 60) and box[2] == "rotate(94)"
    changed = opened(f"{sites['de'].as_uri()}/waypoint.html#106").locator("main").inner_text()
    assert "Geändert seit region@1" in changed and "verschoben" in changed and "Befunde" not in changed


def test_a_position_is_copied_by_its_button(sites: dict[str, Path], opened: Callable[..., Page]) -> None:
    page = opened(
        f"{sites['en'].as_uri()}/waypoint.html#001", permissions=["clipboard-read", "clipboard-write"]
    )  # fmt: skip
    page.get_by_role("button", name="Copy: 48°52.320′N").click()
    page.wait_for_function("document.getElementById('said').textContent === 'Copied: 48°52.320′N 011°48.630′E'")
    assert page.evaluate("navigator.clipboard.readText()") == "48°52.320′N 011°48.630′E"


def test_the_keyboard_alone_finds_and_opens_a_waypoint(sites: dict[str, Path], opened: Callable[..., Page]) -> None:
    page = opened(f"{sites['en'].as_uri()}/index.html")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "text"
    page.keyboard.type("quarn")
    for _ in range(3):
        page.keyboard.press("Tab")
    first = page.evaluate("document.activeElement.textContent")
    page.keyboard.press("Enter")
    page.wait_for_url("**/waypoint.html#*")
    assert first.split()[0] in page.locator("h1").inner_text()
    page.go_back()
    page.get_by_label("Code, name").press("Enter")
    page.wait_for_url("**/waypoint.html#*")


def test_on_paper_the_list_has_its_cautions_and_no_buttons(sites: dict[str, Path], opened: Callable[..., Page]) -> None:
    page = opened(f"{sites['en'].as_uri()}/list-001.html")
    page.emulate_media(media="print")
    assert page.locator("nav").first.is_hidden() and page.locator("footer").is_visible()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    pdf = page.pdf(format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) > 2


def test_links_lead_to_what_is_there(sites: dict[str, Path], opened: Callable[..., Page]) -> None:
    site = sites["de"]
    wanted = set()
    page = opened(f"{site.as_uri()}/{PAGES[0]}")
    for path in PAGES:
        turn_to(page, f"{site.as_uri()}/{path}")
        wanted |= set(page.evaluate("[...document.querySelectorAll('[href], [src]')].map((e) => e.href || e.src)"))
    wanted = {address for address in wanted if not address.startswith("geo:")}
    assert len(wanted) > 100
    for address in wanted:
        assert address.startswith(site.as_uri()), address
        name = address[len(site.as_uri()) + 1 :].partition("#")[0]
        assert (site / name).is_file(), address


def test_findings_are_published_only_on_request(tmp_path: Path, opened: Callable[..., Page]) -> None:
    desk = desk_with(tmp_path, DEMO / "region.csv")
    published(desk, tmp_path / "quiet")
    published(desk, tmp_path / "told", findings=True)
    assert '"findings":{}' in (tmp_path / "quiet" / "catalogue.js").read_text("utf-8")
    page = opened((tmp_path / "told" / "index.html").as_uri())
    told = page.evaluate("Object.keys(CATALOGUE.findings).map((n) => CATALOGUE.codes[n])")
    assert len(told) > 5
    seen = opened((tmp_path / "told" / "waypoint.html").as_uri() + "#" + told[0])
    assert "Findings of the check" in seen.locator("main").inner_text()


def test_the_same_store_gives_the_same_bytes_and_a_later_publication_replaces_only_what_is_its_own(
    tmp_path: Path,
) -> None:
    desk = desk_with(tmp_path, DEMO / "region.csv")
    for name in ("one", "two"):
        published(desk, tmp_path / name)
    one, two = (
        {p.relative_to(s): p.read_bytes() for p in s.rglob("*") if p.is_file()}
        for s in (tmp_path / "one", tmp_path / "two")
    )
    assert one == two and len(one) > 15
    site = tmp_path / "one"
    (site / "own.txt").write_text("the club's", "utf-8")
    rows = [w.waypoint for w in find_waypoints(desk, FindRequest()).waypoints]
    assert verify_export(str(tmp_path / "two")) == [] and len(rows) == 155
    published(desk, site, language=Language.DE, title="Punkte")
    assert (site / "own.txt").read_text("utf-8") == "the club's"
    assert [d.kind for d in verify_export(str(site))] == ["unlisted"]
    (site / "index.html").write_text("spoilt", "utf-8")
    assert {d.path: d.kind for d in verify_export(str(site))}["index.html"] == "changed"
