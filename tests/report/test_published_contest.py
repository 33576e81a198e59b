"""Published pages of a contest in a browser: issued tasks and those only, what holds no more, fingerprints, maps."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from taskdb.report.pages.texts import Language
from taskdb.services.desk import Desk
from taskdb.services.handing_out import publishing
from taskdb.services.handing_out.exporting import verify_export
from taskdb.services.tasks.task import show_task
from tests.report.looking import badly_laid_out, inaccessible, invalid, needs_java, turn_to
from tests.report.publications import CUP, contest_desk, published

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    return contest_desk(tmp_path_factory.mktemp("cup"))


@pytest.fixture(scope="module")
def sites(desk: Desk, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("sites")
    for language in Language:
        published(desk, folder / language.value, None, contest=CUP, language=language)
    return {language.value: folder / language.value for language in Language}


def pages_of(site: Path) -> list[Path]:
    return sorted(site.glob("*.html"))


def task_path(site: Path, name: str) -> str:
    (path,) = site.glob(f"task-*{name}.html")
    return path.as_uri()


@needs_java
def test_every_page_is_valid_html_and_so_is_every_sheet(sites: dict[str, Path]) -> None:
    paths = [path for site in sites.values() for path in (*pages_of(site), *(site / "sheets").glob("*.html"))]
    # What newer specifications have (SVG 2, CSS Color Adjustment) and the validator's release, of 2020, does not know.
    newer = ("paint-order", "print-color-adjust", "“isolate” for attribute “unicode-bidi”")
    wrong = [one for one in invalid(paths) if not any(words in one for words in newer)]
    assert len(paths) == 2 * (2 + 3 + 3) and wrong == []


@pytest.mark.parametrize("language", ["en", "de"])
def test_no_page_breaks_a_rule_of_accessibility_and_each_fits_every_width(
    sites: dict[str, Path], opened: Callable[..., Page], language: str
) -> None:
    page = opened(pages_of(sites[language])[0].as_uri())
    for path in pages_of(sites[language]):
        page.emulate_media(color_scheme="light")
        turn_to(page, path.as_uri())
        assert page.told == []  # type: ignore[attr-defined]
        assert (path.name, inaccessible(page)) == (path.name, [])
        for width in (360, 768, 1600):
            page.set_viewport_size({"width": width, "height": 800})
            assert (path.name, width, badly_laid_out(page)) == (path.name, width, [])
        assert all(one.startswith(sites[language].as_uri()) for one in page.asked)  # type: ignore[attr-defined]
        page.emulate_media(color_scheme="dark")
        assert (path.name, inaccessible(page, colours_alone=True)) == (path.name, [])


def test_what_was_not_issued_stands_nowhere(sites: dict[str, Path]) -> None:
    for site in sites.values():
        for path in site.rglob("*"):
            assert "Secret" not in path.name and (path.is_dir() or b"Secret" not in path.read_bytes())


def opened_heading(told: Locator, words: str) -> Locator:
    return told.page.locator("h2", has_text=words)


def test_days_tell_tasks_programme_and_what_holds_no_more(
    desk: Desk, sites: dict[str, Path], opened: Callable[..., Page]
) -> None:
    told = opened(f"{sites['en'].as_uri()}/index.html").locator("main")
    day1, day2, day3 = (told.locator("section", has=opened_heading(told, f"Day {n}")) for n in (1, 2, 3))
    assert CUP in told.locator("h1").inner_text() and "001 Ormsau" in told.inner_text()
    assert "13:45 start opens" in day1.inner_text() and "13:15" not in told.inner_text()
    assert day1.locator("tbody tr").count() == 1 and day2.locator("tbody tr").count() == 2
    for day, name in ((day1, "Day 1 B"), (day2, "Day 2 A"), (day2, "Day 2 O")):
        row = day.locator(f"tr:has-text('{name}')").inner_text()
        assert show_task(desk, name, CUP).fingerprint in row and "issued" in row
    gone = day1.locator(".gone li").inner_text()
    assert "REPLACED" in gone.upper() and "Day 1 A" in gone and show_task(desk, "Day 1 A", CUP).fingerprint in gone
    assert "Day 1 B is flown instead" in told.locator("section.note").inner_text()
    assert "CANCELLED" in day3.inner_text().upper() and "No task is issued" in day3.inner_text()
    assert "2027-05-15" in day2.inner_text() and day3.locator("table").count() == 0


def test_a_fingerprint_is_told_valid_replaced_or_unknown(
    desk: Desk, sites: dict[str, Path], opened: Callable[..., Page]
) -> None:
    page = opened(f"{sites['en'].as_uri()}/index.html")
    box, said = page.get_by_label("Compare a fingerprint"), page.locator("#compared")
    now = show_task(desk, "Day 1 B", CUP).fingerprint
    box.fill(now.lower().replace("-", " "))
    assert said.inner_text() == f"{now} is Day 1 B: it is valid."
    for before in (show_task(desk, "Day 1 B@2", CUP).fingerprint, show_task(desk, "Day 1 A", CUP).fingerprint):
        assert before != now
        box.fill(before)
        assert "REPLACED" in said.inner_text()
    box.fill(show_task(desk, "Day 3", CUP).fingerprint)
    assert "REPLACED" in said.inner_text()
    # What was only proposed is told of to nobody.
    for unknown in (show_task(desk, "Secret plan", CUP).fingerprint, "AAAA-AAAA"):
        box.fill(unknown)
        assert "no task of this publication" in said.inner_text()
    box.fill("m9x")
    assert "eight signs" in said.inner_text()


def test_a_task_page_tells_its_change_its_editions_and_its_files(
    desk: Desk, sites: dict[str, Path], opened: Callable[..., Page]
) -> None:
    site = sites["en"]
    page = opened(task_path(site, "Day 1 B"))
    shown = show_task(desk, "Day 1 B", CUP)
    assert page.locator(".big").inner_text() == shown.fingerprint
    changed = page.locator(".note:has-text('handed out')").first.inner_text()
    assert "13:15" in changed and "13:45" in changed and "003" in changed
    editions = page.locator("section:has-text('Earlier editions') tbody tr").all_inner_texts()
    assert len(editions) == 2 and "VALID" in editions[0].upper() and "REPLACED" in editions[1].upper()
    assert f"{shown.course.distances.task_m / 1000:.1f} km" in page.locator(".tiles").inner_text()
    assert page.locator("section:has-text('Points and zones') tbody tr").count() == 4
    files = page.locator("section:has-text('SHA-256') tbody tr")
    assert files.count() == 5
    for row in files.all():
        path, told = row.locator("a").get_attribute("href"), row.locator(".sum").inner_text()
        assert hashlib.sha256((site / re.sub("%20", " ", path or "")).read_bytes()).hexdigest() == told
    page.get_by_role("link", name="Task sheet").click()
    expect(page.locator("body")).to_contain_text(shown.fingerprint)
    assert verify_export(str(site)) == []


def test_the_map_of_a_task_draws_its_course_zones_and_airspace(
    sites: dict[str, Path], opened: Callable[..., Page]
) -> None:
    page = opened(task_path(sites["en"], "Day 2 A"))
    inked = (
        "(() => { const c = document.querySelector('#chart canvas'); return c.getContext('2d').getImageData(0, 0,"
        " c.width, c.height).data.reduce((sum, value, n) => sum + (n % 4 === 3 && value > 0), 0); })()"
    )
    course = page.evaluate("COURSE")
    assert [len(zone["rings"]) for zone in course["zones"]] == [0, 1, 1, 0] and len(course["legs"]) == 3
    assert [point["tag"] for point in course["points"]] == ["Start", "1", "2", "Finish"] and course["airspace"]
    whole = page.evaluate(inked)
    for words in ("airspace", "course and zones"):
        page.get_by_label(words).uncheck()
        less = page.evaluate(inked)
        assert less < whole
        whole = less
    page.get_by_label("course and zones").check()
    page.locator("#chart").focus()
    page.keyboard.press("Enter")
    assert page.locator("#chosen b").count() >= 1 and "may be old" in page.locator("#chart-room").inner_text()


def test_without_the_library_each_task_has_a_fixed_map_and_without_script_there_is_the_sheet(
    desk: Desk, sites: dict[str, Path], tmp_path: Path, opened: Callable[..., Page], monkeypatch: pytest.MonkeyPatch
) -> None:
    page = opened(task_path(sites["en"], "Day 2 A"), java_script_enabled=False)
    assert "the task sheet holds a fixed one" in page.locator("noscript, .map .note").first.inner_text()
    monkeypatch.setattr(publishing, "load_leaflet", lambda: None)
    published(desk, tmp_path / "site", None, contest=CUP)
    page = opened(task_path(tmp_path / "site", "Day 2 A"))
    assert page.evaluate("document.querySelector('#picture img').naturalWidth") > 300
    assert not list((tmp_path / "site").glob("leaflet*")) and inaccessible(page) == []


def test_the_same_store_gives_the_same_bytes_and_findings_only_on_request(
    desk: Desk, sites: dict[str, Path], tmp_path: Path
) -> None:
    published(desk, tmp_path / "again", None, contest=CUP)
    one, two = (
        {p.relative_to(s): p.read_bytes() for p in s.rglob("*") if p.is_file()}
        for s in (sites["en"], tmp_path / "again")
    )
    assert one == two and len(one) > 25
    assert b"The review found" not in b"".join(one.values())
    published(desk, tmp_path / "told", None, contest=CUP, findings=True)
    assert b"The review found" in b"".join(p.read_bytes() for p in (tmp_path / "told" / "sheets").glob("*"))
