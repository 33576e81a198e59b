"""The sheet as PDF where the optional package is there, and what is said where it is not."""

from __future__ import annotations

import re
import sys
import zlib

import pytest

from taskdb.errors import ExitCode, RefusedError
from taskdb.report.pdf import Paper, require_pdf, sheet_pdf
from taskdb.report.sheet import render_sheet
from taskdb.report.sheet_page import SheetPage
from tests.formats.random_tasks import random_tasks

pytestmark = pytest.mark.slow


def pages(amount: int) -> str:
    tasks = [t for t in random_tasks(40, seed=5, hostile=False) if len(t.task.points) <= 4][:amount]
    return render_sheet([SheetPage(t.task, 1, t.course, t.fingerprint) for t in tasks])


def test_without_the_package_it_is_said_how_it_is_had(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(RefusedError) as refused:
        sheet_pdf(pages(1))
    assert refused.value.exit_code is ExitCode.REFUSED and refused.value.details == {"missing": "weasyprint"}
    assert "pip install" in (refused.value.hint or "") and "browser" in (refused.value.hint or "")


def test_without_the_systems_library_it_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    class Finder:
        def find_spec(self, name: str, *_: object) -> None:
            if name == "weasyprint":
                raise OSError("cannot load library 'libpango-1.0-0'")

    monkeypatch.delitem(sys.modules, "weasyprint", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Finder(), *sys.meta_path])
    with pytest.raises(RefusedError) as refused:
        require_pdf()
    assert refused.value.details == {"missing": "pango"} and "apt install" in (refused.value.hint or "")


@pytest.fixture
def writer() -> None:
    try:
        require_pdf()
    except RefusedError as error:
        pytest.skip(error.message)


def unpacked(content: bytes) -> list[bytes]:
    """Return the streams of a PDF that can be unpacked."""
    found = []
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", content, re.DOTALL):
        try:
            found.append(zlib.decompress(stream))
        except zlib.error:
            continue
    return found


@pytest.mark.parametrize(("paper", "size"), [(Paper.A4, (595, 842)), (Paper.LETTER, (612, 792))])
def test_a_task_is_a_page_of_the_paper_asked_for(writer: None, paper: Paper, size: tuple[int, int]) -> None:
    content = sheet_pdf(pages(3), paper)
    assert content.startswith(b"%PDF")
    content += b"".join(unpacked(content))
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", content)
    # ISO 216 A4 is 210 mm x 297 mm, Letter 8.5 in x 11 in; a point is 1/72 inch.
    assert [(round(float(w)), round(float(h))) for w, h in boxes] == [size] * 3


def test_a_pdf_fetches_nothing(writer: None) -> None:
    # A picture elsewhere is left out, and nobody is asked for it.
    outside = '<img src="http://example.invalid/x.png"><img src="file:///etc/hostname">'
    assert sheet_pdf(pages(1).replace("<body>", f"<body>{outside}")).startswith(b"%PDF")
