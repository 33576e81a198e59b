"""How much of a page is left for the map, and what has to stand elsewhere so that it can be read.

Estimates only, in millimetres on the shorter of both papers (Letter): what stands on a sheet is counted in letters and
lines. A page that needs more goes on to the next.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from taskdb.report.sheet_contest import programme_letters

PAGE_MM = 279.4 - 2 * 8.0
HIGHEST_MAP_MM, READABLE_MAP_MM, LOWEST_MAP_MM = 91.0, 58.0, 48.0
CARDS_A_ROW = 3
_HEAD_MM, _TILES_MM, _HEADING_MM, _FOOT_MM = 19.0, 11.5, 6.0, 21.0
_CARD_MM, _FIGURE_MM, _LEAST_FIGURES = 10.5, 5.1, 3
_POINT_MM, _SAID_MM, _SAID_LETTERS = 4.5, 3.5, 138
_NOTE_MM = 6.5
_PROFILE_HEAD_MM, _PROFILE_LINES = 9.0, 2
_NAME_LETTERS = 30
"""So many letters of a name stand on one line of the table."""
_CHANGE_MM, _CHANGE_LETTERS = 3.9, 110
_MAP_LETTERS, _STRIP_LETTERS = 78, 118
"""So many letters stand in a line over the width of the map, and over the width of the page."""
_SIDE_LETTERS, _SIDE_LINE_MM, _CHECK_MM = 36, 3.5, 4.4


@dataclass(frozen=True, slots=True)
class PageLayout:
    """How high the map is, and what stands apart so that it can be: runways below the map, the rest on a second page.

    `beside` is what stands in the empty cells of the panel's last row: the blanks, the procedure, or nothing; or `map`,
    where the procedure stands under the map because the column beside it is longer.
    """

    map_mm: float
    fields_apart: bool = False
    declared_apart: bool = False
    findings_apart: bool = False
    beside: str = ""


def free_cells(cards: int) -> int:
    """Return how many cells of the last row of the panel are empty."""
    return -cards % CARDS_A_ROW


def room_on_page(content: Mapping[str, Any], figures: Sequence[float]) -> PageLayout:
    """Return how a page is laid out: all beside the map where it can be read there, else what is long stands apart.

    `content` is what the page says, by the names that the template has for it; `figures` the number of figures on each
    card (a second line of words counts as a part of one).
    """
    ways = list(_ways(content))
    # Where it goes on to another page in any case, that is the one of the findings: the first keeps a map to look at.
    on_two_pages = [replace(way, findings_apart=True) for way in ways] if content["findings"] else []
    for tried in (ways, on_two_pages):
        for least in (READABLE_MAP_MM, LOWEST_MAP_MM):
            for way in tried:
                left = PAGE_MM - _used_mm(content, figures, way)
                map_mm = left - _under_map_mm(content, way)
                if map_mm >= least and left >= _side_mm(content, way):
                    return replace(way, map_mm=min(HIGHEST_MAP_MM, map_mm))
    # Nothing is won by a map that cannot be read.
    return replace(min(ways, key=lambda way: _whole_mm(content, figures, way)), map_mm=READABLE_MAP_MM)


def _whole_mm(content: Mapping[str, Any], figures: Sequence[float], way: PageLayout) -> float:
    """Return how high all of it is with a map that can be read."""
    top = max(READABLE_MAP_MM + _under_map_mm(content, way), _side_mm(content, way))
    return _used_mm(content, figures, way) + top


def _ways(content: Mapping[str, Any]) -> Iterator[PageLayout]:
    """Yield the ways to lay a page out, the one with most on the first page first."""
    apart = [(False, False)]
    if content["declared"] is not None:
        # The declaration is a form for the official observer: a page of its own suits it.
        apart += [(True, False), *([(True, True)] if content["findings"] else [])]
    for declared_apart, findings_apart in apart:
        beside = _beside(content, declared_apart=declared_apart)
        for fields_apart in (False, True) if content["fields"] else (False,):
            yield PageLayout(0.0, fields_apart, declared_apart, findings_apart, beside)
            if content["procedure"] and beside != "blanks":
                yield PageLayout(0.0, fields_apart, declared_apart, findings_apart, "map")


def _beside(content: Mapping[str, Any], *, declared_apart: bool) -> str:
    cells = content["beside_cards"]
    if content["declared"] is not None and not declared_apart and cells > 1:
        return "blanks"
    return "procedure" if content["procedure"] and cells else ""


def _under_map_mm(content: Mapping[str, Any], way: PageLayout) -> float:
    """Return how high what stands under the map is, beside the column: remarks, and the procedure where it is there."""
    remarks = content["remarks"]
    used = 0.0 if remarks is None else 3.2 + 4.0 * math.ceil((len(remarks) + 9) / _MAP_LETTERS)
    return used + (_sentences_mm(content, _MAP_LETTERS) if way.beside == "map" else 0.0)


def _sentences_mm(content: Mapping[str, Any], letters: int) -> float:
    """Return how high the procedure is where so many letters stand in a line."""
    return 3.0 + 4.2 * sum(1 + len(sentence) // letters for _, sentence in content["procedure"])


def _programme_mm(content: Mapping[str, Any]) -> float:
    programme, phone = content["programme"], content["phone"]
    if not programme and not phone:
        return 0.0
    strip = programme_letters(programme) + (20 + len(phone) if phone else 0)
    return 2.6 + 4.2 * math.ceil(strip / _STRIP_LETTERS)


def _used_mm(content: Mapping[str, Any], figures: Sequence[float], way: PageLayout) -> float:
    """Return how high everything is on the first page but the map with what stands under and beside it."""
    used = _HEAD_MM + _TILES_MM + 2 * _HEADING_MM + _FOOT_MM + _cards_mm(figures) + _programme_mm(content)
    used += _POINT_MM * (1 + sum(1 + len(row.name) // _NAME_LETTERS for row in content["points"]))
    used += _procedure_mm(content, way) + _profile_mm(content)
    paragraphs = [content["distances"], content["day"], [n.words + n.name + n.code + "    " for n in content["near"]]]
    paragraphs += [["Other classes, by the timetable:", *content["other_classes"]]] if content["other_classes"] else []
    paragraphs += [[content["flown"]]] if content["flown"] else []
    paragraphs += [[content["free"]]] if content["free"] else []
    paragraphs += [_air(content)] if content["airspace_words"] else []
    paragraphs += [field_words(content)] if way.fields_apart else []
    used += sum(said_mm(texts) for texts in paragraphs)
    found = () if way.findings_apart else content["findings"]
    boxes = [*([" · ".join(content["stale"])] if content["stale"] else []), *(text for _, text in found)]
    for note in content["changes"]:
        boxes += [text for text in (note.heading, note.following) if text]
        used += sum(_CHANGE_MM * (1 + sum(map(len, row)) // _CHANGE_LETTERS) for row in note.rows)
    used += _NOTE_MM if way.findings_apart else 0.0  # the line that says how many there are, and where
    used += sum(_NOTE_MM + said_mm([text]) - _SAID_MM for text in boxes[:1]) + sum(said_mm([t]) for t in boxes[1:])
    return used if way.declared_apart else used + _declared_mm(content, way)


def _procedure_mm(content: Mapping[str, Any], way: PageLayout) -> float:
    letters = sum(len(sentence) + 8 for _, sentence in content["procedure"])
    if letters and way.beside not in ("procedure", "map"):
        return _sentences_mm(content, 110)
    if letters and way.beside == "procedure":
        # What is longer than the empty cell makes its row of cards higher.
        return float(max(0.0, 3.4 * letters / (42 * content["beside_cards"]) + 3.4 - 26.0))
    return 0.0


def _declared_mm(content: Mapping[str, Any], way: PageLayout) -> float:
    declared = content["declared"]
    if declared is None:
        return 0.0
    rows = sum(5.0 if len(words) <= 100 else 8.6 for _, _, words in declared.rows)
    blanks = 0.0 if way.beside == "blanks" else 27.0
    return _HEADING_MM + 1.0 + rows + blanks + sum(said_mm([sentence]) for sentence in declared.sentences)


def _side_mm(content: Mapping[str, Any], way: PageLayout) -> float:
    """Return how high the column beside the map is."""
    used = _HEADING_MM + _CHECK_MM * (len(content["cross_check"]) + 2 * (content["counted_through"] is not None))
    used += sum(_side_lines(f"{what} {names}") + _SIDE_LINE_MM for what, names, _ in content["ends"])
    if content["channels"]:
        used += _HEADING_MM + _side_lines(" · ".join(f"{channel} {what}" for what, channel in content["channels"]))
    if content["fields"] and not way.fields_apart:
        used += _HEADING_MM
        for field in content["fields"]:
            lines = [f"{field.code} {field.name}, {field.kind}", *field.runways, " · ".join(field.channels)]
            used += 0.8 + sum(_side_lines(line) for line in lines if line)
    return used


def _side_lines(text: str) -> float:
    return _SIDE_LINE_MM * math.ceil(len(text) / _SIDE_LETTERS)


def _air(content: Mapping[str, Any]) -> list[str]:
    """Return the airspace as it stands in one paragraph; a sample of an outline is as wide as six letters."""
    return [
        "Airspace",
        content["airspace_words"],
        *(f"{row.name} {row.words}   ------" for row, _ in content["airspace"]),
    ]


def field_words(content: Mapping[str, Any]) -> list[str]:
    """Return runways and channels as they stand in one paragraph."""
    return [
        f"{field.code} {field.name}, {field.kind}: {'; '.join(field.runways)} {' · '.join(field.channels)}   "
        for field in content["fields"]
    ]


def _cards_mm(figures: Sequence[float]) -> float:
    rows = [figures[i : i + CARDS_A_ROW] for i in range(0, len(figures), CARDS_A_ROW)]
    return sum(_CARD_MM + _FIGURE_MM * max(_LEAST_FIGURES, *row, 0) for row in rows)


def said_mm(texts: Iterable[str]) -> float:
    """Return how high sentences set as one paragraph are; 0 for none."""
    letters = sum(len(text) + 1 for text in texts)
    return math.ceil(letters / _SAID_LETTERS) * _SAID_MM


def _profile_mm(content: Mapping[str, Any]) -> float:
    """Return how high the profile is with its heading, and with the words beside that where they take more lines."""
    if not content.get("profile"):
        return 0.0
    _, words, picture_mm = content["profile"]
    return float(picture_mm) + _PROFILE_HEAD_MM + max(0.0, said_mm([words]) - _PROFILE_LINES * _SAID_MM)
