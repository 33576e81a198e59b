"""The task sheet: one self-contained HTML document, a page a task, to print on A4 or Letter or to show on a phone.

Gathers words, the panel of zones and the map, and hands them to the template, which escapes every text. No script,
no network, no clock: the same pages give the same bytes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from taskdb.core.contests.days import day_of
from taskdb.core.contests.scopes import what_holds
from taskdb.core.course.day import magnetic_between_points
from taskdb.core.course.free import free_words
from taskdb.core.course.near_course import NEAR_COURSE_M, landable_near
from taskdb.core.findings import findings_that_matter
from taskdb.core.model import Role, Status, TaskType
from taskdb.core.numbers import counted
from taskdb.core.quantities import Units, format_distance
from taskdb.core.review.told_to_pilots import is_meeting
from taskdb.core.shown import ShownPart, Withdrawn
from taskdb.report import sheet_words as words
from taskdb.report.lettering import CODE_LIMIT, FONTS, NAME_LIMIT, shown
from taskdb.report.map import draw_map
from taskdb.report.page_template import page_template
from taskdb.report.palette import STYLES
from taskdb.report.profile import draw_profile, profile_mm, profile_words
from taskdb.report.sheet_airspace import airspace_rows, airspace_words
from taskdb.report.sheet_changes import change_notes, withdrawn_rows
from taskdb.report.sheet_contest import channels, outlanding_phone, procedure_sentences, programme_rows, remarks
from taskdb.report.sheet_day import day_sentences, magnetic_cells
from taskdb.report.sheet_declared import declared_block
from taskdb.report.sheet_fields import field_rows, near_fields
from taskdb.report.sheet_page import SheetPage
from taskdb.report.sheet_room import free_cells, room_on_page
from taskdb.report.sheet_shown import shown_parts
from taskdb.report.sheet_variants import variants
from taskdb.report.sheet_zones import card_lines, zone_cards
from taskdb.report.side_view import ground_profile

MAP_WIDTH_MM = 126.0
PROFILE_WIDTH_MM = 186.0
MOST_NEAR = 4
"""So many landable points near the course are listed; the map shows all."""


def render_sheet(
    pages: Sequence[SheetPage],
    *,
    units: Units = Units.KM,
    variants_of: Sequence[Sequence[SheetPage]] = (),
    withdrawn: Sequence[Withdrawn] = (),
    above_withdrawn: Sequence[str] = (),
) -> str:
    """Return the sheet as HTML, one section a page in the order given; no pages give a document that says so.

    Each group of `variants_of` gets a page before them on which its two to four tasks stand at one scale (else
    UsageError); what is `withdrawn` gets the first page of all, `above_withdrawn` says of which contest and day.
    """
    first = pages[0].task.name if pages else "withdrawn" if withdrawn else "no task"
    return page_template("sheet.html").render(
        title=shown(f"Task sheet: {first}" + (f" and {len(pages) - 1} more" if len(pages) > 1 else ""), 120),
        fonts=FONTS,
        colours={role.value: STYLES[role].colour for role in Role},
        cautions=words.CAUTIONS,
        has_pictures=any(page.ground is not None for page in pages),
        withdrawn=withdrawn_rows(withdrawn),
        above_withdrawn=[shown(text, NAME_LIMIT) for text in above_withdrawn],
        variants=[_variants(group, units) for group in variants_of],
        pages=[_page(page, page.units or units) for page in pages],
    )


def parts_of(page: SheetPage, units: Units) -> tuple[ShownPart, ...]:
    """Return everything that a page says, as labelled values, with its distances in `units`."""
    return shown_parts(page.task, _content(page, units))


def _variants(pages: Sequence[SheetPage], units: Units) -> dict[str, Any]:
    """Return the page of one class's variants: its heading, and each task with its picture."""
    from markupsafe import Markup

    shared = pages[0].units if pages else None
    drawn = [(variant, Markup(variant.picture)) for variant in variants(pages, shared or units)]
    return {"of": [text for _, text in _above(pages[0], with_variant=False)], "tasks": drawn}


def _page(page: SheetPage, units: Units) -> dict[str, Any]:
    """Return what the template needs of a page: its content, its map, and where things stand."""
    from markupsafe import Markup

    content = _content(page, units)
    content["changes"] = change_notes(page.changes)
    content["profile"] = _profile(page, units)
    room = room_on_page(content, [card_lines(card) for card, _ in content["cards"]])
    drawn = draw_map(
        page.task,
        page.course,
        catalogue=page.catalogue,
        airspace=page.airspace,
        width_mm=MAP_WIDTH_MM,
        height_mm=room.map_mm,
        units=units,
        ground=page.ground,
    )
    found = Counter(severity for severity, _ in content["findings"])
    found_words = ", ".join(counted(count, severity) for severity, count in found.items())
    return {**content, "room": room, "map": Markup(drawn), "found_words": found_words}


def _profile(page: SheetPage, units: Units) -> tuple[Any, str, float] | None:
    """Return the picture of the ground under the course, what it is and how high; None without terrain, in plains."""
    from markupsafe import Markup

    if page.ground is None or not page.ground.is_users:
        return None
    profile = ground_profile(page.task, [leg.distance_m for leg in page.course.legs], page.ground)
    if not profile.matters and (page.cover is None or not profile.is_known):
        return None
    drawn = draw_profile(page.task, profile, width_mm=PROFILE_WIDTH_MM, units=units, cover=page.cover)
    return Markup(drawn), profile_words(profile, page.ground, page.cover), profile_mm(page.cover)


def _content(page: SheetPage, units: Units) -> dict[str, Any]:
    """Return everything that a page says; `sheet_shown` has a label for each."""
    from markupsafe import Markup

    task, course = page.task, page.course
    holding = what_holds(page.contest, task.class_name, task.day)
    timezone = page.contest.timezone if page.contest is not None else None
    opens = page.day.start_opens if page.day is not None else holding.get("start_opens")
    near, there = landable_near(task, page.catalogue, MOST_NEAR if task.type is not TaskType.DECLARED else 0)
    cards = zone_cards(task, units)
    volumes, volumes_there = airspace_rows(task, page.airspace)
    return {
        "name": shown(task.name, NAME_LIMIT),
        "above": _above(page),
        "type": words.type_words(task),
        "set": f"{shown(task.set_name, NAME_LIMIT)}@{task.set_revision}",
        "revision": page.revision,
        "fingerprint": shown(page.fingerprint, CODE_LIMIT),
        "status": page.mark or (None if task.status is Status.PROPOSED else task.status.value),
        "tiles": _tiles(page, units, opens),
        "programme": programme_rows(holding),
        "remarks": remarks(holding),
        "stale": [shown(sentence, words.SENTENCE_LIMIT) for sentence in page.stale],
        # Both pictures are written by this layer, which has escaped the names in them.
        "cards": [(card, Markup(card.picture)) for card in cards],
        "points": words.point_rows(task, course, units),
        "ends": words.end_rows(task),
        "distances": words.distance_words(task, course, units),
        "other_classes": [shown(sentence, words.SENTENCE_LIMIT) for sentence in page.other_classes],
        "day": day_sentences(page.day),
        "flown": words.flown_before(page.flown),
        "magnetic": magnetic_cells(magnetic_between_points(course, page.day)),
        "free": _free(page, units),
        "cross_check": words.cross_check(task, course, units),
        "counted_through": words.counted_through(task, course, units),
        "procedure": procedure_sentences(task, holding, timezone, opens),
        "beside_cards": free_cells(len(cards)),
        "channels": channels(holding),
        "phone": outlanding_phone(holding),
        "fields": field_rows(task, page.waypoints),
        "near": near_fields(task, near, units),
        "near_words": _near_words(len(near), there, units),
        "airspace": [(row, Markup(row.picture)) for row in volumes],
        "airspace_words": airspace_words(page.airspace_from, len(volumes), volumes_there, units),
        "declared": declared_block(course.declared, units),
        "findings": [
            (f.severity.value, shown(f.message, words.SENTENCE_LIMIT))
            for f in findings_that_matter(page.findings)
            if not is_meeting(f)  # told as the task's own pilots see it, above
        ],
    }


def _free(page: SheetPage, units: Units) -> str:
    """Return what is left to the pilot, the codes with their names in the catalogue; empty where nothing is."""
    codes = page.task.free.from_codes if page.task.free is not None else ()
    names = {w.code: w.name for w in page.catalogue if w.code in codes}
    return shown(free_words(page.task.free, units, names), 4000) if page.task.free is not None else ""


def _near_words(listed: int, there: int, units: Units) -> str:
    within = format_distance(NEAR_COURSE_M, units, 0)
    return f"within {within} of a leg" + (f", {listed} of {there}, aerodromes first" if listed < there else "")


def _above(page: SheetPage, *, with_variant: bool = True) -> list[tuple[str, str]]:
    """Return the line above the task's name, each with its label: contest, day, date, class, variant; what is known."""
    task, day = page.task, day_of(page.contest, page.task.day)
    date = page.date or (day.date if day is not None else None)
    parts = [
        ("contest", shown(task.contest, NAME_LIMIT) if task.contest else None),
        ("day", f"day\u00a0{task.day}" if task.day is not None else None),
        ("date", shown(date, 20) if date else None),
        ("class", f"class {shown(task.class_name, 40)}" if task.class_name else None),
        ("variant", f"variant {shown(task.variant, 20)}" if task.variant and with_variant else None),
    ]
    return [(what, text) for what, text in parts if text]


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
