"""The pictures of the README, made from the demo: `.venv/bin/python demo/pictures.py` (chromium is needed).

A store is made of the demo's files under a fixed clock; what is pictured is written from it (sheet, pages, a screen of
text) and photographed by a browser. `pictures/sources.txt` keeps the sums of what was pictured: a test makes it anew
and tells when a picture is old.
"""

from __future__ import annotations

import contextlib
import datetime
import hashlib
import html
import io
import itertools
import os
import shutil
import tempfile
from pathlib import Path

from taskdb.cli.main import main as taskdb
from taskdb.core.contests.days import DayChange
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import ContestClass, Role, TaskType
from taskdb.core.quantities import Wind
from taskdb.services.airspace.importing import AirspaceImport, import_airspace
from taskdb.services.contests.contest import NewContest, new_contest, set_contest_zones
from taskdb.services.contests.day import set_day
from taskdb.services.contests.settings import ContestEdit, edit_contest, set_classes
from taskdb.services.desk import Desk, Write
from taskdb.services.handing_out.exporting import TaskChoice
from taskdb.services.handing_out.publishing import PublishRequest, publish
from taskdb.services.handing_out.sheets import SheetRequest, write_sheet
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks.flown import choose_task
from taskdb.services.tasks.task import NewTask, PointRequest, new_task

DEMO = Path(__file__).parent
PICTURES = DEMO / "pictures"
SOURCES = PICTURES / "sources.txt"
CUP = "Varnpokal 2027"
SCREEN = ("task", "show", "Day 2 A", "--contest", CUP)
NAMES = ("sheet", "map", "screen", "site")


def made(folder: Path) -> dict[str, bytes]:
    """Write what is pictured into a folder, and return what each picture hangs on."""
    desk = _desk(folder)
    write_sheet(desk, SheetRequest(TaskChoice(("Day 2 A",)), str(folder / "sheet.html")))
    publish(desk, PublishRequest(str(folder / "site"), set_reference="region", title="Varn region"))
    publish(desk, PublishRequest(str(folder / "cup"), contest=CUP))
    screen = _screen(folder)
    (folder / "screen.html").write_text(_as_page(screen), encoding="utf-8")
    return {
        "sheet": (folder / "sheet.html").read_bytes(),
        "map": _own(folder / "cup"),
        "screen": screen.encode("utf-8"),
        "site": _own(folder / "site"),
    }


def sums(pictured: dict[str, bytes]) -> str:
    """Return the sums of what is pictured, a line each, as `sources.txt` has them."""
    return "".join(f"{name} {hashlib.sha256(pictured[name]).hexdigest()}\n" for name in NAMES)


def _desk(folder: Path) -> Desk:
    """Return a desk at a store with the demo's catalogue and a contest, the same every time."""
    numbers = itertools.count(1)
    moment = datetime.datetime(2027, 5, 13, 18, 0, tzinfo=datetime.UTC)
    desk = Desk(str(folder / "demo.db"), "librarian", now=lambda: moment, new_identity=lambda: f"{next(numbers):032x}")
    write = Write("demo", confirmed=True)
    import_set(desk, ImportRequest(str(DEMO / "region.csv"), "region"), write)
    import_set(desk, ImportRequest(str(DEMO / "mends.csv"), "region"), Write("demo", note="mended after the check"))
    import_airspace(desk, AirspaceImport(str(DEMO / "airspace.geojson"), "varn-air"), write)
    dates = {"from_date": "2027-05-14", "to_date": "2027-05-22", "timezone": "Europe/Berlin"}
    new_contest(desk, NewContest(CUP, "region", site="001", **dates), write)
    zones = {Role.START: "line 5km", Role.TURN: "cylinder 500m", Role.AREA: "area 20km", Role.FINISH: "cylinder 3km"}
    set_contest_zones(desk, CUP, {role: parse_zone(text) for role, text in zones.items()}, write)
    edit_contest(desk, CUP, ContestEdit(airspace=("varn-air",)), write)
    set_classes(desk, CUP, (ContestClass("Club", 60, 110),), (), write)
    set_day(desk, CUP, 2, DayChange(date="2027-05-15", start_opens="12:45", wind=Wind(240, 20)), write)
    points = ("045", ("232", "area 10km..25km 180..300"), "004", ("236", "area 25km"), "001")
    asked = [PointRequest(p) if isinstance(p, str) else PointRequest(p[0], parse_zone(p[1])) for p in points]
    task = NewTask(
        "Day 2 A", tuple(asked), contest=CUP, type=TaskType.ASSIGNED_AREA, day=2, class_name="Club", time_s=10_800
    )
    new_task(desk, task, write)
    choose_task(desk, "Day 2 A", None, write, CUP)
    return desk


def _screen(folder: Path) -> str:
    """Return what `task show` prints, with the command above it."""
    out = io.StringIO()
    kept = dict(os.environ)
    os.environ |= {"COLUMNS": "104", "NO_COLOR": "1", "TASKDB_STORE": str(folder / "demo.db")}
    try:
        with (
            contextlib.redirect_stdout(out),
            contextlib.redirect_stderr(io.StringIO()),
            contextlib.suppress(SystemExit),
        ):
            taskdb(list(SCREEN))
    finally:
        os.environ.clear()
        os.environ.update(kept)
    return f'$ taskdb task show "Day 2 A" --contest "{CUP}"\n{out.getvalue()}'


def _as_page(screen: str) -> str:
    look = "margin:0;padding:14px 18px;background:#16181a;color:#e8e8e8;font:13px/1.35 'Liberation Mono',monospace"
    return f'<!DOCTYPE html><html lang="en"><title>screen</title><pre style="{look}">{html.escape(screen)}</pre></html>'


def _own(site: Path) -> bytes:
    """Return the pages and scripts of a publication, without the map library."""
    own = [path for path in sorted(site.rglob("*")) if path.suffix in (".html", ".js", ".css")]
    return b"".join(path.read_bytes() for path in own if not path.name.startswith("leaflet"))


def photographed(folder: Path) -> dict[str, bytes]:
    """Return each picture as PNG bytes, as the browser shows what was made."""
    from playwright.sync_api import sync_playwright

    (task,) = (folder / "cup").glob("task-*.html")
    with sync_playwright() as playwright:
        chromium = shutil.which("chromium") or shutil.which("chromium-browser")
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])

        def shot(address: str, width: int, height: int, *, of: str | None = None, type_: str = "") -> bytes:
            page = browser.new_page(viewport={"width": width, "height": height})
            page.goto(address)
            if type_:
                page.locator("#text").fill(type_)
            page.wait_for_timeout(500)
            return page.locator(of).screenshot() if of else page.screenshot()

        site = (folder / "site").as_uri()
        found = {
            "sheet": [shot((folder / "sheet.html").as_uri(), 794, 1000)],
            "map": [shot(task.as_uri(), 860, 1000, of="#chart")],
            "screen": [shot((folder / "screen.html").as_uri(), 900, 620)],
            "site": [
                shot(f"{site}/index.html", 390, 760, type_="feld"),
                shot(f"{site}/waypoint.html#004", 390, 760),
            ],
        }
        browser.close()
    return {name: _joined(pictures) for name, pictures in found.items()}


def _joined(pictures: list[bytes]) -> bytes:
    """Return pictures beside each other, in few colours, so that they stay small."""
    from PIL import Image

    parts = [Image.open(io.BytesIO(picture)).convert("RGB") for picture in pictures]
    gap = 14
    width = sum(part.width for part in parts) + gap * (len(parts) - 1)
    whole = Image.new("RGB", (width, max(part.height for part in parts)), "#888888")
    at = 0
    for part in parts:
        whole.paste(part, (at, 0))
        at += part.width + gap
    out = io.BytesIO()
    whole.quantize(48, Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        told = sums(made(folder))
        for picture, content in photographed(folder).items():
            (PICTURES / f"{picture}.png").write_bytes(content)
            print(f"demo/pictures/{picture}.png: {len(content):,} bytes")
    SOURCES.write_text(told, encoding="utf-8")


if __name__ == "__main__":
    main()
