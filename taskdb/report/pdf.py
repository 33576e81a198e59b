"""The task sheet as PDF, by the optional package WeasyPrint, which in turn needs the system's library Pango.

Nothing is fetched: the sheet holds all that it shows. The bytes are not promised to be the same on every machine.
"""

from __future__ import annotations

import logging
import warnings
from enum import StrEnum
from typing import Any

from taskdb.errors import RefusedError
from taskdb.report.lettering import HALO

_OTHERWISE = "Or write the sheet as .html and print it to PDF from a browser."


class Paper(StrEnum):
    A4 = "a4"
    LETTER = "letter"


def require_pdf() -> Any:
    """Return the package that writes PDF; RefusedError that says what is missing, and how it is had."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            import weasyprint
    except ImportError:
        raise RefusedError(
            "no-pdf",
            "Writing PDF needs the package WeasyPrint, which is not installed.",
            hint=f"pip install 'taskdb[pdf]'. {_OTHERWISE}",
            details={"missing": "weasyprint"},
        ) from None
    except OSError as error:
        raise RefusedError(
            "no-pdf",
            f"Writing PDF needs the system's library Pango, which WeasyPrint does not find: {str(error)[:200]}",
            hint="Debian, Ubuntu: apt install libpango-1.0-0 libpangoft2-1.0-0. macOS: brew install pango. Windows: "
            f"install the GTK runtime. {_OTHERWISE}",
            details={"missing": "pango"},
        ) from None
    return weasyprint


def sheet_pdf(document: str, paper: Paper = Paper.A4) -> bytes:
    """Return a sheet's HTML as PDF on a paper. RefusedError where what writes PDF is not installed."""
    weasyprint = require_pdf()
    from weasyprint.urls import URLFetcher

    # It says on its log what styles it does not know; that is no talk for whoever prints a sheet.
    logging.getLogger("weasyprint").setLevel(logging.CRITICAL)
    logging.getLogger("fontTools").setLevel(logging.CRITICAL)
    # It draws an outline of letters over the letters and not under them, so that they would vanish in white.
    bare = document.replace(f" {HALO}", "")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        size = weasyprint.CSS(string=f"@page {{ size: {'A4' if paper is Paper.A4 else 'letter'} }}")
        # The relief of a map lies within the document; nothing is fetched from elsewhere.
        nothing = URLFetcher(allowed_protocols=("data",))
        page = weasyprint.HTML(string=bare, url_fetcher=nothing, base_url=None)
        content = page.write_pdf(stylesheets=[size])
    assert isinstance(content, bytes)
    return content
