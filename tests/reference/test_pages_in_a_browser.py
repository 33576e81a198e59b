"""Pages in a real browser (headless chromium): hostile names run no script, and a task stays on one sheet of paper.

Skipped where chromium is not installed.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from taskdb.core.model import Contest, ContestDay, Landable, Position, Radio, Runway, TaskType, Waypoint
from taskdb.report.sheet import render_sheet
from taskdb.report.sheet_page import SheetPage
from tests.formats.random_tasks import random_tasks

pytestmark = pytest.mark.slow

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
needs_browser = pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")

OWN = "document.documentElement.setAttribute('data-owned','1')"
PAYLOADS = (
    f"<script>{OWN}</script>",
    f"</title><script>{OWN}</script>",
    f'"><img src=x onerror="{OWN}">',
    f"'><svg/onload={OWN}>",
    f"</text></svg><script>{OWN}</script>",
    f"</style><script>{OWN}</script>",
    f"--><script>{OWN}</script>",
    f"<a href='javascript:{OWN}' autofocus onfocus={OWN}>x</a>",
    f"<iframe srcdoc='<script>parent.{OWN}</script>'></iframe>",
    "{{ 7*7 }}{% raw %}",
)


def chromium(folder: Path, *options: str) -> bytes:
    """Run a browser without a window, without a network, on a profile of its own."""
    assert CHROMIUM is not None
    quiet = (
        "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
        "--disable-background-networking", "--disable-component-update", f"--user-data-dir={folder / 'profile'}",
    )  # fmt: skip
    for attempt in (1, 2):
        try:
            done = subprocess.run([CHROMIUM, *quiet, *options], capture_output=True, timeout=120, check=True)
        except subprocess.SubprocessError:
            # On a busy machine its start fails now and then; what it says of a page never hangs on that.
            if attempt == 2:
                raise
        else:
            return done.stdout
    raise AssertionError


def dom(folder: Path, document: str) -> str:
    path = folder / "page.html"
    path.write_text(document, encoding="utf-8")
    return chromium(folder, "--dump-dom", path.as_uri()).decode("utf-8", "replace")


def is_owned(page: str) -> bool:
    return re.search(r"<html[^>]* data-owned", page) is not None


def hostile_pages() -> list[SheetPage]:
    pages = []
    for n, exported in enumerate(random_tasks(len(PAYLOADS), seed=3)):
        bad = PAYLOADS[n]
        points = tuple(replace(p, place=replace(p.place, code=bad, name=bad)) for p in exported.task.points)
        task = replace(
            exported.task, name=bad, points=points, contest=bad, class_name=bad, variant=bad, set_name=bad, day=1,
            type=TaskType.DECLARED if n == 0 else exported.task.type,
        )  # fmt: skip
        at = points[0].place.position
        field = Waypoint(
            "X" + bad, bad, Position.at(at.latitude_deg + 0.01, at.longitude_deg), landable=Landable.FIELD,
            radio=(Radio(bad, bad),), runways=(Runway(bad, 70.0, 500.0, surface=bad),),
        )  # fmt: skip
        contest = Contest(
            bad, "region", 3, timezone=bad, days=(ContestDay(1, bad, bad),),
            settings={"start_closes": bad, "frequencies": {bad: bad}, "event_start": True},
        )  # fmt: skip
        pages.append(
            SheetPage(
                task,
                1,
                exported.course,
                exported.fingerprint,
                catalogue=[field],
                waypoints={bad: field},
                contest=contest,
                date=bad,
                stale=(bad,),
            )
        )
    return pages


@needs_browser
def test_a_sheet_with_hostile_names_runs_no_script(tmp_path: Path) -> None:
    seen = dom(tmp_path, render_sheet(hostile_pages()[:4], variants_of=[hostile_pages()[:4]]))
    assert "<section" in seen and not is_owned(seen)
    assert not is_owned(dom(tmp_path, render_sheet(hostile_pages()[4:])))
    # The same names, not escaped and without the page's policy, do run: the payloads are real.
    for bad in PAYLOADS[:2]:
        assert is_owned(dom(tmp_path, f"<!DOCTYPE html><html><title>{bad}</title><p>{bad}</p></html>"))


@needs_browser
def test_escaping_alone_keeps_scripts_from_running(tmp_path: Path) -> None:
    without_policy = re.sub(r"<meta http-equiv=[^>]*>", "", render_sheet(hostile_pages()))
    assert "Content-Security-Policy" not in without_policy
    assert not is_owned(dom(tmp_path, without_policy))


def paper(document: str, size: str) -> str:
    return document.replace("@page { margin:", f"@page {{ size: {size}; margin:")


@needs_browser
@pytest.mark.parametrize("size", ["A4", "letter"])
def test_a_task_is_one_sheet_of_paper(tmp_path: Path, size: str) -> None:
    tasks = [t for t in random_tasks(60, seed=5, hostile=False) if len(t.task.points) <= 5][:12]
    contest = Contest(
        "Cup", "region", 3, timezone="Europe/Berlin", days=(ContestDay(1, "2027-05-14", "13:15"),),
        settings={"start_closes": "15:30", "event_start": True, "frequencies": {"start": "122.480"}},
    )  # fmt: skip
    pages = [
        SheetPage(replace(t.task, contest="Cup", day=1), 1, t.course, t.fingerprint, contest=contest) for t in tasks
    ]
    path = tmp_path / "page.html"
    document = render_sheet(pages)
    path.write_text(paper(document, size), encoding="utf-8")
    out = tmp_path / "page.pdf"
    chromium(tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={out}", path.as_uri())
    # Only a declared course whose map could not be read beside it has its declaration on a second sheet.
    apart = document.count('<header class="apart">')
    assert apart < sum(page.task.type is TaskType.DECLARED for page in pages)
    assert len(re.findall(rb"/Type\s*/Page\b", out.read_bytes())) == len(pages) + apart
