"""Pages measured in a real browser: on a phone, on a desk and on A4 nothing is wider than its page, cut or too small.

Widths in CSS pixels: 360 and 390 are those of common phones, 520 a large one, 1200 a desk's (common practice, no
source). Skipped where chromium or poppler's tools are not installed.
"""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from taskdb.report.sheet import render_sheet
from tests.reference.pages import SHEETS, notice, sheet, variants
from tests.reference.test_pages_in_a_browser import chromium, hostile_pages, needs_browser, paper

pytestmark = pytest.mark.slow

WIDTHS = (360, 390, 520, 1200)
LEAST_PT = 7.0
needs_poppler = pytest.mark.skipif(shutil.which("pdftohtml") is None, reason="poppler's tools are not installed")

# A browser's window has a least width: the page stands in frames, which have none. Its own policy lets no script run
# in it; the one that measures stands around it.
MEASURING = """<!DOCTYPE html><body>%s<script>
function look(frame) {
  const doc = frame.contentDocument, width = doc.documentElement.clientWidth, bad = [], sizes = [];
  const edge = doc.body.getBoundingClientRect().right;
  const name = e => e.tagName + '.' + e.className + ' ' + e.textContent.trim().slice(0, 40);
  if (doc.documentElement.scrollWidth > width) bad.push('the page is ' + doc.documentElement.scrollWidth + ' wide');
  for (const e of doc.body.querySelectorAll('*')) {
    const box = e.getBoundingClientRect();
    if (e.ownerSVGElement) {
      const around = e.ownerSVGElement.getBoundingClientRect();
      if (e.tagName == 'text' && (box.left < around.left - 1 || box.right > around.right + 1 ||
          box.top < around.top - 1 || box.bottom > around.bottom + 1)) bad.push('cut in its picture: ' + name(e));
      continue;
    }
    if (box.width && (box.right > edge + 0.5 || box.left < -0.5)) bad.push('beyond the edge: ' + name(e));
    const style = frame.contentWindow.getComputedStyle(e);
    if (style.overflowX != 'visible' && e.scrollWidth > e.clientWidth + 1) bad.push('cut or scrolled: ' + name(e));
  }
  const texts = doc.createTreeWalker(doc.body, NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) {
    const e = texts.currentNode.parentElement;
    if (!texts.currentNode.data.trim() || e.tagName == 'title') continue;
    const size = parseFloat(frame.contentWindow.getComputedStyle(e).fontSize);
    sizes.push(0.75 * size * (e.ownerSVGElement ? e.getScreenCTM().a ** 2 + e.getScreenCTM().b ** 2 : 1) ** 0.5);
  }
  for (const e of doc.querySelectorAll('.p, .at')) {
    const words = doc.createRange();
    words.selectNodeContents(e);
    const lines = new Set([...words.getClientRects()].map(box => Math.round(box.top)));
    if (lines.size > 1) bad.push('broken over lines: ' + name(e));
  }
  for (const e of doc.querySelectorAll('.lat')) {
    const tops = [e, e.nextElementSibling].map(cell => {
      const word = doc.createRange();
      word.selectNodeContents(cell);
      return word.getBoundingClientRect().top;
    });
    if (Math.abs(tops[0] - tops[1]) > 1) bad.push('broken over lines: ' + name(e.parentElement));
  }
  return {width: width, bad: bad, smallest_pt: Math.min(...sizes), positions: doc.querySelectorAll('.p, .at').length};
}
window.onload = () => document.documentElement.setAttribute('data-seen',
  JSON.stringify([...document.querySelectorAll('iframe')].map(look)));
</script></body>"""


def measured(folder: Path, document: str, widths: tuple[int, ...] = WIDTHS) -> list[dict[str, object]]:
    """Return what a browser finds of a page at each width."""
    (folder / "page.html").write_text(document, encoding="utf-8")
    frames = "".join(
        f'<iframe src="page.html" style="border:0;width:{width}px;height:20000px"></iframe>' for width in widths
    )
    (folder / "measuring.html").write_text(MEASURING % frames, encoding="utf-8")
    seen = chromium(
        folder, "--allow-file-access-from-files", "--disable-web-security", "--window-size=1400,1000", "--dump-dom",
        (folder / "measuring.html").as_uri(),
    ).decode("utf-8", "replace")  # fmt: skip
    told = re.search(r'data-seen="([^"]*)"', seen)
    assert told is not None
    return json.loads(html.unescape(told[1]))


DOCUMENTS = {**{name: lambda name=name: sheet(name) for name in SHEETS}, "variants": variants, "notice": notice}


@needs_browser
@pytest.mark.parametrize("name", DOCUMENTS)
def test_no_element_is_wider_than_its_page_no_position_broken_no_text_cut(tmp_path: Path, name: str) -> None:
    found = measured(tmp_path, DOCUMENTS[name]())
    assert [one["width"] for one in found] == list(WIDTHS)
    assert all(one["positions"] for one in found)
    assert {one["width"]: one["bad"] for one in found if one["bad"]} == {}


@needs_browser
def test_names_that_hurt_stay_on_a_phone_too(tmp_path: Path) -> None:
    found = measured(tmp_path, render_sheet(hostile_pages()[:5]), (360, 520))
    assert {one["width"]: one["bad"] for one in found if one["bad"]} == {}


@needs_browser
def test_the_measuring_finds_what_is_wrong(tmp_path: Path) -> None:
    wrong = (
        '<!DOCTYPE html><body style="margin:0"><p class="p" style="width:30px">48°52 N 011°48 E</p>'
        '<p style="width:500px">wide</p><p style="width:40px;overflow:hidden;white-space:nowrap">cut off at the end</p>'
        '<svg width="20" height="20"><text x="10" y="10">beyond</text></svg></body>'
    )
    (one,) = measured(tmp_path, wrong, (360,))
    kinds = {str(bad).partition(":")[0] for bad in one["bad"]}  # type: ignore[attr-defined]
    assert kinds == {
        "the page is 500 wide", "broken over lines", "beyond the edge", "cut or scrolled", "cut in its picture",
    }  # fmt: skip


def printed(folder: Path, document: str) -> Path:
    (folder / "print.html").write_text(paper(document, "A4"), encoding="utf-8")
    out = folder / "print.pdf"
    chromium(folder, "--no-pdf-header-footer", f"--print-to-pdf={out}", (folder / "print.html").as_uri())
    return out


def run(*words: str) -> str:
    return subprocess.run(words, capture_output=True, check=True, timeout=60).stdout.decode("utf-8", "replace")


@needs_browser
@needs_poppler
@pytest.mark.parametrize("name", DOCUMENTS)
def test_on_a4_no_letter_is_under_seven_points_and_no_word_beyond_the_paper(tmp_path: Path, name: str) -> None:
    document = DOCUMENTS[name]()
    (desk,) = measured(tmp_path, document, (1200,))
    assert desk["smallest_pt"] >= LEAST_PT  # type: ignore[operator]
    out = printed(tmp_path, document)
    # What is wider than the paper is printed smaller: then the heading of 20 (notice: 19) points is none. At three
    # times the size pdftohtml gives sizes in thirds of a point.
    fonts = run("pdftohtml", "-xml", "-i", "-stdout", "-zoom", "3", str(out))
    sizes = [int(size) / 3 for size in re.findall(r'<fontspec [^>]*size="(\d+)"', fonts)]
    assert max(sizes) == pytest.approx(19 if name == "notice" else 20, abs=0.5)
    words = run("pdftotext", "-bbox", str(out), "-")
    edges = [(float(a), float(b)) for a, b in re.findall(r'xMin="([\d.-]+)"[^>]*xMax="([\d.-]+)"', words)]
    # ISO 216 A4 is 210 mm wide; a point is 1/72 inch.
    assert min(a for a, _ in edges) >= 0 and max(b for _, b in edges) <= 210 / 25.4 * 72


@needs_browser
@needs_poppler
def test_what_a_review_found_is_told_to_its_end_and_a_long_course_has_a_map_to_read(tmp_path: Path) -> None:
    out = printed(tmp_path, sheet("declared"))
    text = " ".join(run("pdftotext", "-layout", str(out), "-").split())
    assert "(ends here)" in text and "(e…" not in text
    map_mm = re.search(r'<div class="map"><svg [^>]*height="([\d.]+)mm"', sheet("declared"))
    assert map_mm is not None and float(map_mm[1]) >= 58
    assert len(re.findall(rb"/Type\s*/Page\b", out.read_bytes())) == 2
