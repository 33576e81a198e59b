"""A browser without a window and without a network, for the pages that are published."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        pytest.skip("chromium is not installed")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


@pytest.fixture
def opened(browser: Browser) -> Iterator[Callable[..., Page]]:
    """Return a maker of pages, each in a context of its own, with the network cut off.

    `page.told` gathers what its scripts complained of, `page.asked` every address that it wanted.
    """
    with ExitStack() as stack:

        def open_page(address: str, **context: Any) -> Page:
            around = browser.new_context(offline=True, **context)
            stack.callback(around.close)
            page = around.new_page()
            page.told, page.asked = [], []  # type: ignore[attr-defined]
            page.on("pageerror", lambda error: page.told.append(str(error)))  # type: ignore[attr-defined]
            page.on("console", lambda said: page.told.append(said.text))  # type: ignore[attr-defined]
            page.on("request", lambda request: page.asked.append(request.url))  # type: ignore[attr-defined]
            page.goto(address)
            return page

        yield open_page
