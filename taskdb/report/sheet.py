"""The task sheet: one self-contained HTML document, a page a task, to print on A4 or Letter or to show on a phone.

Gathers words, the panel of zones and the map, and hands them to the template, which escapes every text. No script,
no network, no clock: the same pages give the same bytes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from taskdb.core.contest_scopes import what_holds
from taskdb.core.course.day import DaySheet
from taskdb.core.course.measure import Course
from taskdb.core.model import Contest, ContestDay, Finding, Role, Status, Task, TaskType, Waypoint
from taskdb.core.quantities import Units, format_distance
from taskdb.report import sheet_words as words
from taskdb.report.lettering import FONTS, shown
from taskdb.report.map import draw_map
from taskdb.report.palette import STYLES
from taskdb.report.sheet_briefing import outlanding_phone, programme_letters, programme_rows, remarks
from taskdb.report.sheet_day import day_sentences, magnetic_cells
from taskdb.report.sheet_declared import declared_block
from taskdb.report.sheet_fields import NEAR_COURSE_M, field_rows, near_fields
from taskdb.report.sheet_procedure import channels, procedure_sentences
from taskdb.report.sheet_room import free_cells, map_height_mm
from taskdb.report.sheet_variants import Compared, variants
from taskdb.report.sheet_zones import zone_cards

if TYPE_CHECKING:
    from jinja2 import Template

MAP_WIDTH_MM = 126.0
MOST_NEAR = 4
"""So many landable points near the course are listed; the map shows all."""


@dataclass(frozen=True, slots=True)
class SheetPage:
    """Everything that one task's page shows.

    `waypoints` are those of the task's points (and take-off and landing) by code, for runways and channels;
    `catalogue` is drawn lightly on the map; `stale` are sentences; `date` is ISO text or None.
    """

    task: Task
    revision: int
    course: Course
    fingerprint: str
    catalogue: Sequence[Waypoint] = ()
    waypoints: Mapping[str, Waypoint] = field(default_factory=lambda: MappingProxyType({}))
    contest: Contest | None = None
    date: str | None = None
    stale: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    day: DaySheet | None = None
    units: Units | None = None
    """Units of this page's distances where they differ from those of the others."""


@cache
def _template() -> Template:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("taskdb.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("sheet.html")


def render_sheet(pages: Sequence[SheetPage], *, units: Units = Units.KM, with_variants: bool = False) -> str:
    """Return the sheet as HTML, one section a page in the order given; no pages give a document that says so.

    `with_variants` puts a page before them on which two to four tasks stand at one scale (else UsageError).
    """
    first = pages[0].task.name if pages else "no task"
    return _template().render(
        title=shown(f"Task sheet: {first}" + (f" and {len(pages) - 1} more" if len(pages) > 1 else ""), 120),
        fonts=FONTS,
        colours={role.value: STYLES[role].colour for role in Role},
        cautions=words.CAUTIONS,
        variants=_variants(pages, units) if with_variants else (),
        pages=[_page(page, page.units or units) for page in pages],
    )


def _variants(pages: Sequence[SheetPage], units: Units) -> list[tuple[Any, Any]]:
    from markupsafe import Markup

    tasks = [Compared(page.task, page.revision, page.course, page.fingerprint, page.catalogue) for page in pages]
    shared = pages[0].units if pages else None
    return [(variant, Markup(variant.picture)) for variant in variants(tasks, shared or units)]


def _page(page: SheetPage, units: Units) -> dict[str, Any]:
    from markupsafe import Markup

    task, course = page.task, page.course
    holding = what_holds(page.contest, task.class_name, task.day)
    timezone = page.contest.timezone if page.contest is not None else None
    opens = page.day.start_opens if page.day is not None else holding.get("start_opens")
    near, there = near_fields(task, page.catalogue, units, MOST_NEAR if task.type is not TaskType.DECLARED else 0)
    cards = zone_cards(task, units)
    content: dict[str, Any] = {
        "name": shown(task.name, words.NAME_LIMIT),
        "above": _above(page),
        "type": words.type_words(task),
        "set": f"{shown(task.set_name, words.NAME_LIMIT)}@{task.set_revision}",
        "revision": page.revision,
        "fingerprint": shown(page.fingerprint, words.CODE_LIMIT),
        "status": None if task.status is Status.PROPOSED else task.status.value,
        "tiles": _tiles(page, units, opens),
        "programme": programme_rows(holding),
        "remarks": remarks(holding),
        "stale": [shown(sentence, 300) for sentence in page.stale],
        # Both pictures are written by this layer, which has escaped the names in them.
        "cards": [(card, Markup(card.picture)) for card in cards],
        "points": words.point_rows(task, course, units),
        "distances": words.distance_words(task, course, units),
        "day": day_sentences(page.day),
        "magnetic": magnetic_cells(page.day, len(task.points)),
        "free": words.free_words(task),
        "cross_check": words.cross_check(task, course, units),
        "procedure": procedure_sentences(task, holding, timezone, opens),
        "beside_cards": free_cells(len(cards)),
        "channels": channels(holding),
        "phone": outlanding_phone(holding),
        "fields": field_rows(task, page.waypoints),
        "near": near,
        "near_words": _near_words(len(near), there, units),
        "declared": declared_block(task, units),
        "findings": [(f.severity.value, shown(f.message, 300)) for f in words.findings_that_matter(page.findings)],
    }
    content["beside"] = _beside(content)
    figures = [len(card.figures) + 0.6 * (len(card.words) > 32) for card in cards]
    height = _map_height_mm(content, figures)
    if content["beside"] == "procedure" and _beside_map_mm(content) - height > 0.7 * _procedure_mm(
        content, MAP_LETTERS
    ):
        # The column beside the map leaves room under it.
        content["beside"] = "map"
        height = _map_height_mm(content, figures)
    drawn = draw_map(task, course, catalogue=page.catalogue, width_mm=MAP_WIDTH_MM, height_mm=height, units=units)
    return {**content, "map": Markup(drawn)}


def _beside(content: Mapping[str, Any]) -> str:
    """Return what stands in the empty cells of the panel's last row: the blanks, the procedure, or nothing."""
    if content["declared"] is not None and content["beside_cards"] > 1:
        return "blanks"
    return "procedure" if content["procedure"] and content["beside_cards"] else ""


def _map_height_mm(content: Mapping[str, Any], figures: Sequence[float]) -> float:
    """Return how high the map can be beside everything else that is said."""
    declared, blocks_mm = content["declared"], 0.0
    if content["programme"] or content["phone"]:
        strip = programme_letters(content["programme"]) + (20 + len(content["phone"]) if content["phone"] else 0)
        blocks_mm += 2.6 + 4.2 * math.ceil(strip / 118)
    if content["remarks"] is not None:
        blocks_mm += 3.2 + 4.0 * math.ceil((len(content["remarks"]) + 9) / MAP_LETTERS)
    letters = sum(len(sentence) + 8 for _, sentence in content["procedure"])
    if letters and content["beside"] != "procedure":
        blocks_mm += _procedure_mm(content, MAP_LETTERS if content["beside"] == "map" else 110)
    elif letters:
        # What is longer than the empty cell makes its row of cards higher.
        blocks_mm += max(0.0, 3.4 * letters / (42 * content["beside_cards"]) + 3.4 - 26.0)
    paragraphs = [content["distances"], content["day"], [n.words + n.name + n.code + "    " for n in content["near"]]]
    if declared is not None:
        blocks_mm += 17.0 + (0.0 if content["beside"] == "blanks" else 27.0)
        paragraphs += [[sentence] for sentence in declared.sentences]
    boxes = [*([" · ".join(content["stale"])] if content["stale"] else []), *(text for _, text in content["findings"])]
    return map_height_mm(
        figures=figures, points=len(content["points"]), paragraphs=paragraphs, boxes=boxes, blocks_mm=blocks_mm
    )


MAP_LETTERS = 78
"""So many letters stand in a line over the width of the map."""


def _procedure_mm(content: Mapping[str, Any], letters: int) -> float:
    return 3.0 + 4.2 * sum(1 + len(sentence) // letters for _, sentence in content["procedure"])


def _beside_map_mm(content: Mapping[str, Any]) -> float:
    """Return how high the column beside the map is, less the remarks under the map."""
    lines = [1 + len(row.name + row.kind) // 34 + len(row.runways) + bool(row.channels) for row in content["fields"]]
    letters = sum(len(purpose) + len(channel) + 4 for purpose, channel in content["channels"])
    column_mm = 3.6 * (sum(lines) + math.ceil(letters / 38)) + 5.0 * len(content["cross_check"])
    column_mm += 6.6 * (1 + bool(lines) + bool(letters))
    remarks = content["remarks"]
    return column_mm - (0.0 if remarks is None else 3.2 + 4.0 * math.ceil((len(remarks) + 9) / MAP_LETTERS))


def _near_words(listed: int, there: int, units: Units) -> str:
    within = format_distance(NEAR_COURSE_M, units, 0)
    return f"within {within} of a leg" + (f", {listed} of {there}, aerodromes first" if listed < there else "")


def _day(page: SheetPage) -> ContestDay | None:
    days = page.contest.days if page.contest is not None else ()
    return next((day for day in days if day.number == page.task.day), None)


def _above(page: SheetPage) -> list[str]:
    """Return the line above the task's name: contest, day and date, class, variant; what is known of it."""
    task, day = page.task, _day(page)
    date = page.date or (day.date if day is not None else None)
    parts = [
        shown(task.contest, words.NAME_LIMIT) if task.contest else None,
        f"day {task.day}" if task.day is not None else None,
        shown(date, 20) if date else None,
        f"class {shown(task.class_name, 40)}" if task.class_name else None,
        f"variant {shown(task.variant, 20)}" if task.variant else None,
    ]
    return [part for part in parts if part]


def _tiles(page: SheetPage, units: Units, opens: str | None) -> list[tuple[str, str, str]]:
    """Return the figures at the top: (what, figure, small words beside it)."""
    distances = page.course.distances
    tiles = [("Task distance", format_distance(distances.task_m, units), "")]
    if any(point.role is Role.AREA for point in page.task.points):
        for what, metres in (("Minimum", distances.minimum_m), ("Maximum", distances.maximum_m)):
            if metres is not None:
                tiles.append((f"{what} distance", format_distance(metres, units), ""))
    what, figure = words.time_words(page.course)
    unit = "" if page.course.time.kind is None else "h:min" if figure.count(":") == 1 else "h:min:s"
    tiles.append((what, figure, " · ".join(part for part in (unit, _whose_time(page)) if part)))
    if opens:
        zone = page.contest.timezone if page.contest is not None else None
        tiles.append(("Start opens", shown(opens, 8), shown(zone, 40) if zone else "local time"))
    return tiles


def _whose_time(page: SheetPage) -> str:
    """Return whose the task's time is: its own, or that of a planned speed; empty where there is none."""
    if page.course.time.kind is None:
        return ""
    if page.task.time_s is not None:
        return "the task's own"
    speed = page.day.air.speed_kmh if page.day is not None and page.day.air is not None else page.task.speed_kmh
    whose = page.day.speed_from if page.day is not None else None
    return f"at {speed:.0f} km/h of {shown(whose or 'the task', 60)}" if speed else ""
