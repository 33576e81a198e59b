"""The page on which a task setter weighs proposals: their small maps side by side, each with its figures.

All maps share one frame. Takes what is computed already; the template escapes every text. No script, no network.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from taskdb.core.airspace.volume import Volume
from taskdb.core.course.measure import Course
from taskdb.core.model import Role, Task, Waypoint
from taskdb.core.quantities import Units, format_distance
from taskdb.report.lettering import FONTS, LEAST_LETTERS_MM, shown, text_width_mm
from taskdb.report.map import frame_of
from taskdb.report.map_frame import Frame
from taskdb.report.map_margin import STRIP_MM, description
from taskdb.report.page_template import page_template
from taskdb.report.palette import INK, PAPER, SOFT_INK
from taskdb.report.small_map import draw_small_map, key_strip
from taskdb.report.svg import element, number, text_element

CAUTIONS = (
    "Not for primary navigation.",
    "The figures rank courses and promise nothing: they know no weather, and scales and weights are opinions.",
    "Check current airspace, NOTAM, weather and local rules before a task is set.",
    "The task setter, the contest's officials and the pilot in command decide.",
)
MAP_MM = (60.0, 52.0)
_COLUMNS, _GAP_MM, _TEXT_MM = 3, 3.0, 12.5


@dataclass(frozen=True, slots=True)
class ProposedCard:
    """One proposal: its task and course, its score, and in words what speaks for it, against it and what it is like.

    `areas` says of what size its areas are; None where turn points are to be rounded.
    """

    task: Task
    course: Course
    length_m: float
    score: float
    margin_percent: float | None
    good: tuple[str, ...]
    bad: tuple[str, ...]
    like: tuple[str, ...]
    areas: str | None = None


@dataclass(frozen=True, slots=True)
class ProposalsPage:
    """All that the page shows. `said` are sentences below the maps: by what was weighed, what could not count."""

    title: str
    where: str
    head: str
    cards: tuple[ProposedCard, ...]
    said: tuple[str, ...]
    catalogue: Sequence[Waypoint]
    airspace: Sequence[Volume]
    units: Units


def _frame(page: ProposalsPage) -> Frame:
    return frame_of([(card.task, card.course) for card in page.cards], *MAP_MM)


def _picture(page: ProposalsPage, frame: Frame, card: ProposedCard) -> str:
    return draw_small_map(
        frame, card.task, card.course, catalogue=page.catalogue, airspace=page.airspace, units=page.units
    )


def _roles(page: ProposalsPage) -> list[Role]:
    return sorted({point.role for card in page.cards for point in card.task.points}, key=list(Role).index)


def _codes(card: ProposedCard) -> str:
    return " ".join(shown(point.place.code, 12) for point in card.task.points)


def _figures(card: ProposedCard, units: Units) -> str:
    margin = "" if card.margin_percent is None else f" · margin {card.margin_percent:.1f} %"
    areas = "" if card.areas is None else f" · {card.areas}"
    return f"{format_distance(card.length_m, units)} · score {card.score:.2f}{margin}{areas}"


def render_proposals(page: ProposalsPage) -> str:
    """Return the page as HTML."""
    from markupsafe import Markup

    frame = _frame(page)
    return page_template("proposals.html").render(
        title=shown(page.title, 200),
        fonts=FONTS,
        where=shown(page.where, 120),
        head=page.head,
        cards=[
            {
                "number": at,
                "codes": _codes(card),
                "names": " – ".join(shown(point.place.name, 40) for point in card.task.points[1:-1]),
                "figures": _figures(card, page.units),
                "picture": Markup(_picture(page, frame, card)),
                "good": card.good,
                "bad": card.bad,
                "like": [shown(name, 60) for name in card.like],
            }
            for at, card in enumerate(page.cards, start=1)
        ],
        key=Markup(key_strip(frame, page.catalogue, _roles(page), 120.0, page.units)),
        said=[shown(sentence, 600) for sentence in page.said],
        cautions=CAUTIONS,
    )


def draw_proposals(page: ProposalsPage) -> str:
    """Return the maps alone as one SVG, three in a row, each with its course and figures above it."""
    frame = _frame(page)
    columns = min(_COLUMNS, len(page.cards))
    step_x, step_y = MAP_MM[0] + _GAP_MM, MAP_MM[1] + _TEXT_MM
    width = max(columns * step_x + _GAP_MM, 2 * step_x)
    top, parts = 13.0, [text_element(shown(page.title, 90), _GAP_MM, 6.0, 4.2, font_weight="bold")]
    parts.append(text_element(page.head, _GAP_MM, 10.6, LEAST_LETTERS_MM, fill=SOFT_INK))
    for at, card in enumerate(page.cards):
        row, column = divmod(at, columns)
        x, y = _GAP_MM + column * step_x, top + row * step_y
        codes = _fitting(f"{at + 1}  {_codes(card)}", MAP_MM[0], 3.2)
        parts.append(text_element(codes, x, y + 4.4, 3.2, font_weight="bold"))
        parts.append(text_element(_figures(card, page.units), x, y + 8.4, LEAST_LETTERS_MM))
        parts.append(_moved(_picture(page, frame, card), x, y + 9.8))
    foot = top + -(-len(page.cards) // columns) * step_y + 2.0
    parts.append(_moved(key_strip(frame, page.catalogue, _roles(page), width, page.units), 0.0, foot))
    below = foot + STRIP_MM + 3.5
    for line, caution in enumerate(CAUTIONS):
        parts.append(text_element(caution, _GAP_MM, below + 3.6 * line, LEAST_LETTERS_MM))
    height = below + 3.6 * len(CAUTIONS)
    paper = element("rect", x=0, y=0, width=width, height=height, fill=PAPER)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width)}mm" height="{number(height)}mm" '
        f'viewBox="0 0 {number(width)} {number(height)}" role="img" font-family="{FONTS}" fill="{INK}">'
        f"{description(shown(page.title, 200))}{paper}{''.join(parts)}</svg>\n"
    )


def _moved(picture: str, x: float, y: float) -> str:
    """Return an `<svg>` element at a place of the one around it, in whose millimetres it is measured."""
    tag, end, rest = picture.partition(">")
    return f'{tag.replace("<svg ", f"""<svg x="{number(x)}" y="{number(y)}" """).replace("mm", "")}{end}{rest}'


def _fitting(text: str, width_mm: float, size_mm: float) -> str:
    """Return a text as long as fits, with an ellipsis where it does not."""
    for length in range(len(text), 0, -1):
        short = text if length == len(text) else f"{text[:length]}…"
        if text_width_mm(short, size_mm, bold=True) <= width_mm:
            return short
    return ""
