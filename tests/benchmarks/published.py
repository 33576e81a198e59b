"""Published pages, as ratios and in a browser: `python -m tests.benchmarks.published [WAYPOINTS…]`.

The first catalogue carries a contest of 60 issued tasks too, every second with assigned areas, one a day.

The floor of publishing is the start-up of `set list` in the same run (processor time, median of five). Searching is the
time from a letter typed to the hits on the page; opening the time until the map is drawn; panning the frames in which
the browser shows a moved map while the mouse drags it to and fro for two seconds. Headless chromium draws by processor
here, which a phone does by its graphics: frames are the worst case of that.
"""

from __future__ import annotations

import random
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

from taskdb.core.course.zones import parse_zone
from taskdb.services.contests.contest import NewContest, new_contest
from taskdb.services.desk import Write
from taskdb.services.tasks.flown import choose_task
from taskdb.services.tasks.task import NewTask, PointRequest, new_task
from tests import building
from tests.benchmarks.figures import Figure, command_s, told
from tests.report.publications import HEADER

WHY_SLOW = "sixty sheets with maps, and the shortest way through the zones of each"
WHY_LARGE = "each sheet is a file of its own with its style and a map; outlines of zones within a metre are digits"
SYLLABLES = (
    "Or", "m", "sau", "Kel", "ried", "Tann", "wöhr", "Grei", "fen", "lohe", "Var", "bach", "hau", "sen", "berg",
    "stein", "dorf", "feld", "wald", "au", "ing", "mühl", "kir", "chen",
)  # fmt: skip


def catalogue(path: Path, count: int) -> Path:
    """Write an invented catalogue of a region as large as southern Germany."""
    chance = random.Random(5)
    lines = [",".join(HEADER)]
    for n in range(count):
        name = "".join(chance.choice(SYLLABLES) for _ in range(3)).capitalize()
        kind = chance.random()
        landable = "aerodrome" if kind < 0.1 else "field" if kind < 0.25 else "no"
        feature = "" if landable != "no" else chance.choice(("settlement", "crossing", "water", "relief", "structure"))
        field = ("123.505 launch", "09/27 094deg 1050m x 60m grass") if landable == "aerodrome" else ("", "")
        remark = chance.choice(
            ("", "church north of the village", "crossing of two main roads", "at the edge of the moor")
        )
        lines.append(
            f"{n:05d},{name} {n % 97},{chance.uniform(47.3, 50.5):.7f},{chance.uniform(9, 13.5):.7f},"
            f"{chance.randint(200, 900)},{landable},{feature},DE,{field[0]},{field[1]},{remark},survey 2026,2026-04-23"
        )
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def contest(store: str, count: int) -> None:
    """Issue 60 tasks on the catalogue of a store."""
    desk = building.desk(store)
    write = Write("benchmark", confirmed=True)
    new_contest(desk, NewContest("Cup", "region", site="00001"), write)
    chance = random.Random(3)
    for n in range(60):
        zone = parse_zone("area 15km") if n % 2 else None
        turns = (PointRequest(f"{chance.randrange(count):05d}", zone) for _ in range(3))
        points = (PointRequest("00001"), *turns, PointRequest("00001"))
        new_task(desk, NewTask(f"T{n:02d}", points, contest="Cup", day=n + 1, time_s=9000), write)
        choose_task(desk, f"T{n:02d}", None, write, "Cup")


def size_mb(site: Path) -> tuple[int, float]:
    sizes = [file.stat().st_size for file in site.rglob("*") if file.is_file()]
    return len(sizes), sum(sizes) / 1e6


SEARCH = """async (texts) => {
  const box = document.getElementById('text'), times = [];
  for (const text of texts) {
    box.value = text;
    const start = performance.now();
    box.dispatchEvent(new Event('input'));
    document.getElementById('hits').getBoundingClientRect();
    times.push(performance.now() - start);
    await new Promise(requestAnimationFrame);
  }
  return times;
}"""
FRAMES = """() => { window.frames_seen = []; const pane = document.querySelector('.leaflet-map-pane'); let last = '';
  const look = (at) => { const now = pane.style.transform; if (now !== last) window.frames_seen.push(at); last = now;
    requestAnimationFrame(look); }; requestAnimationFrame(look); }"""


def dragged(page: Page) -> list[float]:
    """Return the times (ms) of frames with a moved map while it is dragged."""
    page.evaluate(FRAMES)
    page.mouse.move(600, 500)
    page.mouse.down()
    end, step = time.perf_counter() + 2.0, 0
    while time.perf_counter() < end:
        step += 1
        page.mouse.move(600 + 150 * ((step // 40) % 2 * 2 - 1) * (step % 40) / 40, 500 + step % 7)
    page.mouse.up()
    page.wait_for_timeout(300)
    seen: list[float] = page.evaluate("window.frames_seen")
    return seen


def in_browser(browser: Browser, site: Path, count: int, most_ms: float) -> list[Figure]:
    page = browser.new_page(viewport={"width": 1200, "height": 900})
    page.goto((site / "index.html").as_uri())
    texts = ["o", "or", "orm", "k", "ke", "kel", "mühl", "muehl 7", "0", "00", "feld", "w", "wa", "x", ""] * 3
    times = page.evaluate(SEARCH, texts)
    made = [
        Figure(f"a letter typed to its hits of {count:,} shown, median", statistics.median(times), "ms", goal=most_ms),
        Figure("the same, the longest", max(times), "ms", goal=most_ms),
    ]
    for _ in range(3):
        start = time.perf_counter()
        page.goto("about:blank")
        page.goto((site / "map.html").as_uri())
        page.wait_for_function("document.getElementById('chart').dataset.drawn > 0")
        opened = time.perf_counter() - start
    made.append(Figure("its map drawn after opening", opened, "s"))
    seen = dragged(page)
    made.append(Figure("frames a second of a dragged map", 1000 * (len(seen) - 1) / (seen[-1] - seen[0]), "frames"))
    page.close()
    return made


def figures(counts: Sequence[int] = (5_000, 30_000)) -> list[Figure]:
    chromium, said = shutil.which("chromium") or shutil.which("chromium-browser"), "set list"
    made: list[Figure] = []
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        for count in counts:
            folder = Path(name) / str(count)
            folder.mkdir()
            store = str(folder / "store.db")
            path = catalogue(folder / "region.csv", count)
            command_s("--store", store, "set", "import", str(path), "--into", "region")
            floor = statistics.median(command_s("--store", store, "set", "list") for _ in range(5))
            site = folder / "site"
            taken = command_s("--store", store, "publish", "region", "--to", str(site))
            files, size = size_mb(site)
            made.append(
                Figure(f"publish of {count:,} waypoints", taken, "s", said, floor, 20 if count <= 5_000 else None)
            )
            made.append(Figure(f"its size ({files} files)", size, "MB"))
            made += in_browser(browser, site, count, 30 if count <= 5_000 else 100)
            if count == counts[0]:
                contest(store, count)
                cup = folder / "cup"
                taken = command_s("--store", store, "publish", "--contest", "Cup", "--to", str(cup))
                files, size = size_mb(cup)
                made.append(Figure("publish of a contest of 60 tasks", taken, "s", said, floor, 20, why=WHY_SLOW))
                made.append(Figure(f"its size ({files} files)", size, "MB", goal=4, why=WHY_LARGE))
        browser.close()
    return made


if __name__ == "__main__":
    told(figures([int(word) for word in sys.argv[1:]] or (5_000, 30_000)))
