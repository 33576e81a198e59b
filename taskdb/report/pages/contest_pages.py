"""The pages of a published contest: its days with the tasks that were issued, a page for each task, the files.

Takes a contest's edition with all that is to be said of it, and returns files; the same edition gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from taskdb.core.contests.scopes import what_holds
from taskdb.core.course.zones import describe_zone
from taskdb.core.model import Role, Status
from taskdb.core.quantities import Units, format_distance, format_duration
from taskdb.report.lettering import CODE_LIMIT, NAME_LIMIT, shown
from taskdb.report.pages.catalogue_data import borders_script, catalogue_script
from taskdb.report.pages.contest_edition import ContestEdition, PublishedDay, PublishedTask
from taskdb.report.pages.course_data import course_script
from taskdb.report.pages.edition import Edition, Manner
from taskdb.report.pages.set_pages import FileRow, file_rows
from taskdb.report.pages.texts import texts_in
from taskdb.report.pages.writing import Frame, frame_of, image_sources, map_facts, shared_files
from taskdb.report.sheet import render_sheet
from taskdb.report.sheet_changes import change_notes, edition_words
from taskdb.report.sheet_contest import outlanding_phone, programme_rows
from taskdb.report.sheet_words import point_rows, time_words

_SCRIPTS = ("days.js",)
_CHART_SCRIPTS = ("places.js", "page.js", "chart.js", "course.js")
_SENTENCE_LIMIT = 400


def contest_pages(edition: ContestEdition, manner: Manner) -> dict[str, bytes]:
    """Return the pages of a contest by path, without the files to take."""
    frame = _frame(edition, manner)
    pages = {"index.html": _days_page(frame, edition), "files.html": _files_page(frame, edition)}
    for day in edition.days:
        for task in day.tasks:
            pages |= _task_files(frame, day, task)
    scripts: tuple[str, ...] = _SCRIPTS
    if manner.library is not None:
        under = Edition(edition.name, edition.revision, edition.date, edition.waypoints, borders=edition.borders)
        pages |= manner.library
        pages["catalogue.js"] = catalogue_script(under, manner, frame.texts).encode("utf-8")
        pages["borders.js"] = borders_script(under).encode("utf-8")
        scripts += _CHART_SCRIPTS
    facts = {**map_facts(manner), "fingerprints": _fingerprints(edition)}
    return pages | shared_files(frame.texts, facts, scripts)


def task_page(task: PublishedTask) -> str:
    """Return the path of a task's page."""
    return f"task-{task.file_name}.html"


def _frame(edition: ContestEdition, manner: Manner) -> Frame:
    texts = texts_in(manner.language)
    state = [texts["revision"].format(number=edition.revision)]
    foot = f"{shown(edition.name, 120)}@{edition.revision}"
    return frame_of(manner, edition.name, edition.date, foot, state, [("days", "index.html"), ("files", "files.html")])


def _fingerprints(edition: ContestEdition) -> dict[str, list[Any]]:
    """Return of each fingerprint that was ever published or handed out which task it is, and whether it is valid.

    What is valid goes before what is gone.
    """
    found: dict[str, list[Any]] = {}
    for withdrawn in edition.withdrawn:
        found[withdrawn.edition.fingerprint] = [shown(withdrawn.task, NAME_LIMIT), False]
    for day in edition.days:
        for gone in day.gone:
            found[gone.fingerprint] = [shown(gone.name, NAME_LIMIT), False]
        for task in day.tasks:
            for old in task.editions:
                found[old.fingerprint] = [shown(task.page.task.name, NAME_LIMIT), False]
    for task in edition.tasks:
        is_valid = task.page.task.status is not Status.CANCELLED
        found[task.page.fingerprint] = [shown(task.page.task.name, NAME_LIMIT), is_valid]
    return {code: found[code] for code in sorted(found)}


def _days_page(frame: Frame, edition: ContestEdition) -> bytes:
    texts = frame.texts
    figures = [
        texts["from_to"].format(first=edition.from_date, last=edition.to_date or edition.from_date)
        if edition.from_date
        else "",
        texts["site"].format(name=shown(edition.site, 80)) if edition.site else "",
        texts["classes"].format(names=", ".join(shown(name, 40) for name in edition.classes))
        if edition.classes
        else "",
    ]
    withdrawn = [
        (shown(one.task, NAME_LIMIT), edition_words(one.edition), one.edition.at, shown(one.why, _SENTENCE_LIMIT))
        for one in edition.withdrawn
    ]
    days = [_day(frame, day) for day in edition.days]
    example = next(iter(_fingerprints(edition)), "M9X7-FWR4")
    return frame.page(
        "days",
        "index.html",
        texts["days"],
        figures=[figure for figure in figures if figure],
        days=days,
        has_classes=any(row["class_name"] for day in days for row in day["tasks"]),
        withdrawn=withdrawn,
        example=example,
    )


def _day(frame: Frame, day: PublishedDay) -> dict[str, Any]:
    """Return what the template needs of a day."""
    texts = frame.texts
    title = texts["without_day"] if day.number is None else texts["day_n"].format(number=day.number)
    return {
        "title": title,
        "date": shown(day.date, 20) if day.date else "",
        "programmes": _programmes(frame, day),
        "tasks": [_task_row(frame, task) for task in day.tasks],
        "gone": [
            (
                shown(gone.name, NAME_LIMIT),
                shown(gone.class_name, 40) if gone.class_name else "",
                texts[f"status_{gone.status}"],
                gone.fingerprint,
            )
            for gone in day.gone
        ],
    }


def _programmes(frame: Frame, day: PublishedDay) -> list[tuple[str, list[tuple[str, str]], str]]:
    """Return the programme of a day, of each class by itself where they differ: class, rows (time, what), telephone."""
    texts = frame.texts
    own = {"briefing": texts["briefing"], "grid": texts["grid"]}
    found: list[tuple[str, list[tuple[str, str]], str]] = []
    for task in day.tasks:
        page = task.page
        holding = what_holds(page.contest, page.task.class_name, page.task.day)
        rows = [(time, own.get(what, what)) for time, what in programme_rows(holding)]
        opens = page.day.start_opens if page.day is not None else holding.get("start_opens")
        if opens:
            rows = sorted([*rows, (str(opens), texts["start_opens"])], key=lambda row: row[0])
        name = shown(page.task.class_name, 40) if page.task.class_name else ""
        if (rows or outlanding_phone(holding)) and name not in [known for known, _, _ in found]:
            found.append((name, rows, outlanding_phone(holding) or ""))
    if len({(tuple(rows), phone) for _, rows, phone in found}) == 1:
        return [("", found[0][1], found[0][2])]
    return found


def _task_row(frame: Frame, task: PublishedTask) -> dict[str, Any]:
    page = task.page
    distances = page.course.distances
    units = page.units or frame.manner.units
    return {
        "page": quote(task_page(task)),
        "sheet": quote(_sheet_path(task)),
        "name": shown(page.task.name, NAME_LIMIT),
        "class_name": shown(page.task.class_name, 40) if page.task.class_name else "",
        "type": frame.texts[f"type_{page.task.type}"],
        "distance": format_distance(distances.task_m, units),
        "time": _time(page.task.time_s),
        "fingerprint": page.fingerprint,
        "status": frame.texts[f"status_{page.task.status}"],
        "revision": page.revision,
        "is_stale": bool(page.stale),
    }


def _time(seconds: float | None) -> str:
    return format_duration(seconds) if seconds else ""


def _sheet_path(task: PublishedTask) -> str:
    return f"sheets/{task.file_name}.html"


def _course_path(task: PublishedTask) -> str:
    return f"courses/{task.file_name}.js"


def map_path(task: PublishedTask) -> str:
    """Return the path of a task's fixed map, which is published where there is no map library."""
    return f"maps/{task.file_name}.svg"


def _task_files(frame: Frame, day: PublishedDay, task: PublishedTask) -> dict[str, bytes]:
    """Return the page of a task, its sheet, and what the page's map is drawn from."""
    manner = frame.manner
    page = task.page
    units = page.units or manner.units
    heading = shown(page.task.name, NAME_LIMIT)
    content = frame.page(
        "task",
        "",
        heading,
        images=image_sources(manner),
        day=_day(frame, day),
        row=_task_row(frame, task),
        figures=_figures(frame, task, units),
        notes=change_notes(page.changes),
        stale=[shown(sentence, _SENTENCE_LIMIT) for sentence in page.stale],
        others=[shown(sentence, _SENTENCE_LIMIT) for sentence in page.other_classes],
        findings=[(f.severity.value, shown(f.message, _SENTENCE_LIMIT)) for f in page.findings],
        points=_points(frame.texts, task, units),
        files=file_rows(task.downloads),
        editions=[
            (one.revision, one.fingerprint, one.at, frame.texts["valid" if one.is_valid else "status_replaced"])
            for one in task.editions
        ],
        is_live=manner.library is not None,
        course=quote(_course_path(task)),
        picture=quote(map_path(task)),
        attribution=manner.tiles.attribution if manner.tiles else "",
        has_air=bool(page.airspace),
    )
    sheet = render_sheet([page], units=units)
    files = {task_page(task): content, _sheet_path(task): sheet.encode("utf-8")}
    if manner.library is not None:
        files[_course_path(task)] = course_script(page).encode("utf-8")
    return files


def _figures(frame: Frame, task: PublishedTask, units: Units) -> list[tuple[str, str]]:
    """Return the figures at the top of a task's page, each with what it is."""
    texts, page = frame.texts, task.page
    distances = page.course.distances
    figures = [(texts["task_distance"], format_distance(distances.task_m, units))]
    if any(point.role is Role.AREA for point in page.task.points):
        for key, metres in (("minimum", distances.minimum_m), ("maximum", distances.maximum_m)):
            if metres is not None:
                figures.append((texts[key], format_distance(metres, units)))
    if page.course.time.kind is not None:
        figures.append((texts["time"], time_words(page.course)[1]))
    return figures


def _points(texts: Mapping[str, str], task: PublishedTask, units: Units) -> Sequence[Mapping[str, str]]:
    page = task.page
    tags = {"Start": texts["role_start"], "Finish": texts["role_finish"]}
    rows = point_rows(page.task, page.course, units)
    return [
        {
            "tag": tags.get(row.tag, row.tag),
            "code": shown(row.code, CODE_LIMIT),
            "name": row.name,
            "position": f"{row.latitude} {row.longitude}",
            "elevation": row.elevation_m,
            "zone": describe_zone(point.zone, units),
            "leg": " ".join(filter(None, (row.leg, row.course))),
        }
        for row, point in zip(rows, page.task.points, strict=True)
    ]


def _files_page(frame: Frame, edition: ContestEdition) -> bytes:
    rows: list[FileRow] = []
    for task in edition.tasks:
        rows += file_rows(task.downloads)
    texts = frame.texts
    return frame.page(
        "files",
        "files.html",
        texts["files_title"],
        lead=f"{texts['files_contest']} {texts['sheet_brings']}",
        files=rows,
        loses=False,
    )
