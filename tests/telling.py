"""The sheet as the judge of a change note: which words are on one page and not on another, and are not told."""

from __future__ import annotations

import re
from dataclasses import replace

from lxml import html

from taskdb.core.quantities import Units
from taskdb.core.shown import page_changes
from taskdb.report.sheet import parts_of, render_sheet
from taskdb.report.sheet_page import SheetPage

TITLES = frozenset(
    re.findall(
        r"\w+",
        """Landable near the course within as catalogue has them. Channels of contest. Runways and channels. Out
        of date. Declared course checked by the official observer under the Sporting Code in force. opens, length
        each side. Remarks, outlanding desk, reserved. Airspace. Other classes, by the timetable. Flown before""",
    )
)
"""Words of headings and labels, which say nothing by themselves."""


def words_on(page: SheetPage) -> list[str]:
    """Every word that a page shows, pictures, revision and fingerprint aside."""
    document = html.document_fromstring(render_sheet([replace(page, fingerprint="XXXX-XXXX", revision=2, changes=())]))
    body = document.find("body")
    assert body is not None
    for picture in body.xpath("//svg"):
        picture.drop_tree()
    return " ".join(body.itertext()).split()


def told_words(before: SheetPage, after: SheetPage) -> str:
    """All that is told of the later page, in one text."""
    return " ".join(one.words() for one in page_changes(parts_of(before, Units.KM), parts_of(after, Units.KM)))


def silent_words(before: SheetPage, after: SheetPage) -> tuple[set[str], set[str]]:
    """The words that came onto a page, and those that went, of which the note is silent."""
    return _silent(words_on(before), words_on(after), told_words(before, after))


def _silent(before: list[str], after: list[str], told: str) -> tuple[set[str], set[str]]:
    old, new = ({word.strip("(),;:.·") for word in words} - TITLES - {""} for words in (before, after))
    return {word for word in new - old if word not in told}, {word for word in old - new if word not in told}


def assert_told(before: SheetPage, after: SheetPage, what: str) -> None:
    """Hold that a page reads otherwise, and that each word of it is told."""
    old, new = words_on(before), words_on(after)
    assert old != new, f"{what}: the sheet shows nothing of it"
    came, went = _silent(old, new, told_words(before, after))
    assert not came, f"{what}: on the sheet, and not told: {sorted(came)}"
    assert not went, f"{what}: no longer on the sheet, and not told: {sorted(went)}"
