"""The pages of a published set: finding, the list, one waypoint, what changed, the files to take.

Takes an edition with all that is to be said of it, and returns files; the same edition gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from taskdb.core.history.facts import ChangeFacts
from taskdb.core.kinds import Feature, Landable
from taskdb.core.model import Runway, Waypoint
from taskdb.core.quantities import format_bearing
from taskdb.report.lettering import shown
from taskdb.report.pages.catalogue_data import borders_script, catalogue_script
from taskdb.report.pages.change_words import change_phrases, minutes_text
from taskdb.report.pages.edition import Download, Edition, Manner
from taskdb.report.pages.static_map import HEIGHT_MM, WIDTH_MM, catalogue_map
from taskdb.report.pages.texts import texts_in
from taskdb.report.pages.views import Views, views_of
from taskdb.report.pages.writing import Frame, frame_of, image_sources, map_facts, shared_files
from taskdb.report.sheet_fields import channel_words

ROWS_A_LIST = 500
_CODE_LIMIT, _NAME_LIMIT, _TEXT_LIMIT = 200, 200, 2000
_SCRIPTS = ("places.js", "page.js", "find.js", "waypoint.js")
_CHART_SCRIPTS = ("chart.js", "map.js")


@dataclass(frozen=True, slots=True)
class ListRow:
    """A line of the list: everything that is known of a waypoint, as text."""

    code: str
    page: str
    name: str
    kind: str
    position: str
    elevation: str
    known: str


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """A line of the changes; `page` is empty for a waypoint that is not there any more."""

    code: str
    page: str
    name: str
    what: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FileRow:
    """A line of the files to take."""

    path: str
    name: str
    format: str
    size: str
    sha256: str
    lost: str


def set_pages(edition: Edition, manner: Manner, downloads: Sequence[Download]) -> dict[str, bytes]:
    """Return the pages of an edition by path, without the files to take."""
    frame = _frame(edition, manner)
    texts = frame.texts
    lists = _lists(edition.waypoints, texts)
    views = views_of([w.position for w in edition.waypoints])
    pages = {
        "index.html": _find_page(frame, edition),
        "waypoint.html": frame.page("waypoint", "", texts["waypoint"], first_list=list_path(0)),
        "changes.html": _changes_page(frame, edition),
        "files.html": _files_page(frame, downloads),
        **_map_pages(frame, edition, views),
        "catalogue.js": catalogue_script(edition, manner, texts).encode("utf-8"),
    }
    for number, (path, _) in enumerate(lists):
        pages[path] = _list_page(frame, edition, lists, number)
    scripts = _SCRIPTS + (_CHART_SCRIPTS if manner.library is not None else ())
    return pages | shared_files(texts, _facts(edition, manner, texts, views), scripts)


def list_path(number: int) -> str:
    """Return the path of a page of the list, from 0."""
    return f"list-{number + 1:03d}.html"


def waypoint_page(code: str) -> str:
    """Return the address of a waypoint's page."""
    return f"waypoint.html#{quote(code, safe='')}"


def edition_words(label: str | None, revision: int, texts: Mapping[str, str]) -> str:
    """Return what an edition is called: its label, else its revision."""
    return shown(label, 80) if label else texts["revision"].format(number=revision)


def kind_words(waypoint: Waypoint, texts: Mapping[str, str]) -> str:
    """Return how far a waypoint is landable and what it marks; what is a mere feature is not said to be no field."""
    words = []
    if waypoint.landable is not None and not (waypoint.landable is Landable.NO and waypoint.feature is not None):
        words.append(texts[f"landable_{waypoint.landable}"])
    if waypoint.feature is not None:
        words.append(texts[f"feature_{waypoint.feature}"])
    return ", ".join(words)


def runway_text(runway: Runway, texts: Mapping[str, str]) -> str:
    """Return a runway for people: `09/27, 094° true, 1050 m × 60 m, grass`."""
    size = " × ".join(f"{metres:.0f} m" for metres in (runway.length_m, runway.width_m) if metres is not None)
    heading = runway.heading_true_deg
    words = (
        shown(runway.designator, 12) if runway.designator else "",
        f"{format_bearing(heading)}° {texts['true']}" if heading is not None else "",
        size,
        shown(runway.surface, 30) if runway.surface else "",
        texts["one_way"] if runway.one_way else "",
    )
    return ", ".join(filter(None, words)) or texts["strip"]


def _frame(edition: Edition, manner: Manner) -> Frame:
    texts = texts_in(manner.language)
    state = [edition_words(edition.label, edition.revision, texts)]
    if edition.valid_from:
        state.append(texts["valid_from"].format(date=edition.valid_from))
    foot = f"{shown(edition.set_name, 120)}@{edition.revision}"
    pages = [
        ("find", "index.html"),
        ("list", list_path(0)),
        ("map", "map.html"),
        ("changes", "changes.html"),
        ("files", "files.html"),
    ]
    return frame_of(manner, edition.set_name, edition.date, foot, state, pages)


def _facts(edition: Edition, manner: Manner, texts: Mapping[str, str], views: Views) -> dict[str, Any]:
    """Return the few facts of an edition that scripts say."""
    magnetic = edition.magnetic
    words = "" if magnetic is None else texts["magnetic_from"].format(model=magnetic.model, date=magnetic.date)
    since = shown(edition.since.label, 80) if edition.since is not None else ""
    maps = {"near": views.near, "whole": views.whole, "outside": views.outside}
    return {**map_facts(manner), "since": since, "magnetic": words, "views": maps}


def _find_page(frame: Frame, edition: Edition) -> bytes:
    texts = frame.texts
    there = {w.landable for w in edition.waypoints}, {w.feature for w in edition.waypoints}
    return frame.page(
        "find",
        "index.html",
        texts["find"],
        figures=[texts["waypoints_n"].format(n=len(edition.waypoints))],
        landables=[(kind.value, texts[f"landable_{kind}"]) for kind in Landable if kind in there[0]],
        features=[(kind.value, texts[f"feature_{kind}"]) for kind in Feature if kind in there[1]],
        first_list=list_path(0),
    )


def _lists(waypoints: Sequence[Waypoint], texts: Mapping[str, str]) -> list[tuple[str, str]]:
    """Return path and range of codes of each page of the list; one, without a range, for a set without waypoints."""
    found = []
    for number, start in enumerate(range(0, max(len(waypoints), 1), ROWS_A_LIST)):
        part = waypoints[start : start + ROWS_A_LIST]
        ends = (shown(end.code, 20) for end in (part[0], part[-1])) if part else ("", "")
        first, last = ends
        found.append((list_path(number), texts["list_from_to"].format(first=first, last=last) if part else ""))
    return found


def _list_page(frame: Frame, edition: Edition, lists: Sequence[tuple[str, str]], number: int) -> bytes:
    part = edition.waypoints[number * ROWS_A_LIST : (number + 1) * ROWS_A_LIST]
    path, words = lists[number]
    heading = f"{frame.texts['list']} {words}".strip()
    rows = [_list_row(waypoint, frame.texts) for waypoint in part]
    return frame.page("list", list_path(0), heading, lists=lists, this=path, range=words, rows=rows)


def _list_row(waypoint: Waypoint, texts: Mapping[str, str]) -> ListRow:
    known = [
        *map(channel_words, waypoint.radio),
        *(runway_text(runway, texts) for runway in waypoint.runways),
        shown(waypoint.description, _TEXT_LIMIT) if waypoint.description else "",
        f"{texts['source']}: {shown(waypoint.source, _TEXT_LIMIT)}" if waypoint.source else "",
        f"{texts['inspected']}: {shown(waypoint.inspected_on)}" if waypoint.inspected_on else "",
    ]
    return ListRow(
        code=shown(waypoint.code, _CODE_LIMIT),
        page=waypoint_page(waypoint.code),
        name=shown(waypoint.name, _NAME_LIMIT),
        kind=kind_words(waypoint, texts),
        position=minutes_text(waypoint.position),
        elevation="" if waypoint.elevation_m is None else f"{waypoint.elevation_m:.0f} m",
        known=" · ".join(filter(None, known)),
    )


def _changes_page(frame: Frame, edition: Edition) -> bytes:
    texts, since = frame.texts, edition.since
    if since is None:
        return frame.page(
            "changes", "changes.html", texts["changes"], headline=texts["changes"], lead=texts["first_edition"],
            moved=[], retired=[], added=[], others=[],
        )  # fmt: skip
    headline = texts["changes_title"].format(edition=shown(since.label, 80))
    moved = [fact for fact in since.changed if fact.moved_m is not None and not fact.is_refined]
    others = [fact for fact in since.changed if fact.moved_m is None or fact.is_refined]
    is_same = not (since.changed or since.added or since.retired)
    return frame.page(
        "changes",
        "changes.html",
        headline,
        headline=headline,
        lead=texts["no_change"] if is_same else "",
        moved=[_changed_row(fact, edition, frame) for fact in moved],
        others=[_changed_row(fact, edition, frame) for fact in others],
        added=[_row(w, edition, [minutes_text(w.position), kind_words(w, texts)]) for w in since.added],
        retired=[_row(w, edition, [], is_there=False) for w in since.retired],
    )


def _changed_row(fact: ChangeFacts, edition: Edition, frame: Frame) -> ChangeRow:
    phrases = change_phrases(fact, frame.texts, frame.manner.units)
    now = [minutes_text(fact.new.position)] if fact.moved_m is not None else []
    return _row(fact.new, edition, [*now, *phrases])


def _row(waypoint: Waypoint, edition: Edition, what: Iterable[str], *, is_there: bool = True) -> ChangeRow:
    notes = edition.since.reasons.get(waypoint.identity or "", ()) if edition.since is not None else ()
    said = [*filter(None, what), *(shown(note, _TEXT_LIMIT) for note in notes)]
    page = waypoint_page(waypoint.code) if is_there else ""
    return ChangeRow(shown(waypoint.code, _CODE_LIMIT), page, shown(waypoint.name, _NAME_LIMIT), tuple(said))


def file_rows(downloads: Sequence[Download]) -> list[FileRow]:
    """Return the lines of files to take, in their order."""
    return [
        FileRow(
            quote(file.path), shown(file.path), file.format, size_words(file.bytes), file.sha256, "; ".join(file.lost)
        )
        for file in downloads
    ]


def _files_page(frame: Frame, downloads: Sequence[Download]) -> bytes:
    rows = file_rows(downloads)
    loses = any(row.lost for row in rows)
    return frame.page(
        "files", "files.html", frame.texts["files_title"], lead=frame.texts["files_lead"], files=rows, loses=loses
    )


def _map_pages(frame: Frame, edition: Edition, views: Views) -> dict[str, bytes]:
    """Return the page of the map and its picture, and with the map library the borders that it draws."""
    manner = frame.manner
    total = len(edition.waypoints)
    outside = frame.texts["map_outside"].format(n=views.outside, total=total) if views.outside else ""
    picture = catalogue_map(frame.title, edition.waypoints, edition.borders, manner.units, views.is_main)
    heading = frame.texts["map_of"].format(name=frame.title)
    page = frame.page(
        "map",
        "map.html",
        heading,
        images=image_sources(manner),
        picture="map.svg",
        size=(round(WIDTH_MM * 4), round(HEIGHT_MM * 4)),
        outside=outside,
        is_live=manner.library is not None,
        attribution=manner.tiles.attribution if manner.tiles else "",
    )
    borders = {"borders.js": borders_script(edition).encode("utf-8")} if manner.library is not None else {}
    return {"map.html": page, "map.svg": picture.encode("utf-8"), **borders, **(manner.library or {})}


def size_words(size: int) -> str:
    """Return a size in bytes, kilobytes or megabytes of a thousand."""
    if size < 1000:
        return f"{size} B"
    return f"{size / 1000:.0f} kB" if size < 1_000_000 else f"{size / 1_000_000:.1f} MB"
