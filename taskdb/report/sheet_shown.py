"""Everything that a task's page says, as labelled values: what a later page is held against to tell what changed.

Made from the very values that the page's template is given, so that nothing is printed that a change note would not
tell. Who gives the template something new says here what it is called; a test asks for it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from taskdb.core.model import Orientation, Task
from taskdb.core.shown import POSITION, ShownPart, ShownValue

Content = Mapping[str, Any]

DRAWN = frozenset({"map", "room", "beside_cards", "changes"})
"""What a page has besides values: pictures of them, where they stand, and what changed."""
NAMED_ELSEWHERE = frozenset({"revision", "fingerprint"})
"""What names a state of a page: told beside what changed, not as a change."""

_FOLLOWS = frozenset({"Task distance", "Minimum distance", "Maximum distance"})


def shown_parts(task: Task, content: Content) -> tuple[ShownPart, ...]:
    """Return what the page of a task says, in parts, from the content that its template is given.

    KeyError for content that nobody has said how to tell.
    """
    parts: list[ShownPart] = [_tiles(task, content["tiles"]), _course(task), *_points(task, content)]
    for key, value in content.items():
        if key not in DRAWN and key not in NAMED_ELSEWHERE and key not in _TOLD_ABOVE:
            parts.extend(_TOLD[key](value))
    return tuple(part for part in parts if part.values)


def _course(task: Task) -> ShownPart:
    """Return the points in order, in one line: whoever inserts, drops or moves one changes it."""
    codes = " – ".join(point.place.code for point in task.points)
    return ShownPart("course", "", (ShownValue("points", codes),))


_TOLD_ABOVE = frozenset({"cards", "points", "magnetic", "tiles"})


def _points(task: Task, content: Content) -> Iterable[ShownPart]:
    magnetic = content["magnetic"] or [""] * len(task.points)
    rows = zip(task.points, content["cards"], content["points"], magnetic, strict=True)
    for point, (card, _), row, north in rows:
        place = point.place
        # A direction that was given as a bearing was decided; any other follows from the points before and after.
        follows = point.zone.orientation is not Orientation.BEARING
        values = [
            ShownValue("point", f"{row.code} {row.name}"),
            ShownValue("role", card.role),
            ShownValue("zone", card.words),
            ShownValue(POSITION, f"{row.latitude} {row.longitude}"),
            ShownValue("elevation", f"{row.elevation_m} ({row.elevation_ft})"),
            *(ShownValue(what, figure, follows, said_by="zone") for what, figure in card.figures),
            *_maybe("leg to it", row.leg, follows=True),
            *_maybe("course to it, true", row.course, follows=True),
            *_maybe("course to it, magnetic", north, follows=True),
            *_maybe("distance up to it", row.total, follows=True),
        ]
        title = row.tag if not row.tag.isdigit() else f"point {row.tag}"
        key = f"point {place.identity or place.code}"
        yield ShownPart(key, f"{title} {row.code}", tuple(values), in_order=True, at=place.position)


def _maybe(what: str, text: str, *, follows: bool = False) -> tuple[ShownValue, ...]:
    return (ShownValue(what, text, follows),) if text else ()


def _one(what: str, *, follows: bool = False) -> Callable[[Any], Iterable[ShownPart]]:
    """Tell a single text, or nothing where there is none."""

    def tell(text: str | None) -> Iterable[ShownPart]:
        yield ShownPart(what, "", _maybe(what, text or "", follows=follows))

    return tell


def _sentences(what: str, *, follows: bool = False) -> Callable[[Any], Iterable[ShownPart]]:
    """Tell sentences under one label, each for itself."""

    def tell(sentences: Iterable[str]) -> Iterable[ShownPart]:
        yield ShownPart(what, "", tuple(ShownValue(what, sentence, follows) for sentence in sentences))

    return tell


def _pairs(title: str, *, follows: bool = False) -> Callable[[Any], Iterable[ShownPart]]:
    """Tell pairs of a label and its text."""

    def tell(pairs: Iterable[tuple[str, str]]) -> Iterable[ShownPart]:
        yield ShownPart(title, title, tuple(ShownValue(what, text, follows) for what, text in pairs))

    return tell


def _tiles(task: Task, tiles: Iterable[tuple[str, str, str]]) -> ShownPart:
    # What stands small beside a figure is its unit. When the start opens is told with the procedure, which says it too.
    values = [
        ShownValue(what.lower(), figure, what in _FOLLOWS or (what == "Expected time" and task.time_s is None))
        for what, figure, _ in tiles
        if what != "Start opens"
    ]
    return ShownPart("tiles", "", tuple(values))


def _fields(fields: Iterable[Any]) -> Iterable[ShownPart]:
    for field in fields:
        values = [
            ShownValue("landing at", f"{field.name}, {field.kind}"),
            *(ShownValue("runway", runway) for runway in field.runways),
            *(ShownValue("channel", channel) for channel in field.channels),
        ]
        yield ShownPart(f"field {field.code}", field.code, tuple(values), comes_along=True)


def _near(fields: Iterable[Any]) -> Iterable[ShownPart]:
    for field in fields:
        value = ShownValue("landable near the course", f"{field.name}, {field.words}", follows=True)
        yield ShownPart(f"near {field.code}", field.code, (value,))


def _airspace(rows: Iterable[tuple[Any, Any]]) -> Iterable[ShownPart]:
    for row, _ in rows:
        yield ShownPart(f"airspace {row.name}", row.name, (ShownValue("airspace", f"{row.name} {row.words}"),))


def _ends(rows: Iterable[tuple[str, str, str]]) -> Iterable[ShownPart]:
    yield ShownPart("ends", "", tuple(ShownValue(what, f"{names}, {where}") for what, names, where in rows))


def _counted_through(pair: tuple[str, str] | None) -> Iterable[ShownPart]:
    values = () if pair is None else (ShownValue(pair[0], pair[1], follows=True),)
    yield ShownPart("counted through", "", values)


def _programme(rows: Iterable[tuple[str, str]]) -> Iterable[ShownPart]:
    yield ShownPart("programme", "", tuple(ShownValue("programme", f"{time} {what}".strip()) for time, what in rows))


def _declared(block: Any) -> Iterable[ShownPart]:
    if block is not None:
        yield ShownPart(
            "declared",
            "declared course",
            (
                *(ShownValue(what, f"{figure}, {words}", follows=True) for what, figure, words in block.rows),
                *(ShownValue("what it is good for", sentence, follows=True) for sentence in block.sentences),
                *(ShownValue("to be filled in", blank, follows=True) for blank in block.blanks),
            ),
        )


def _findings(findings: Iterable[tuple[str, str]]) -> Iterable[ShownPart]:
    values = tuple(ShownValue("the review found", f"{how}: {words}", follows=True) for how, words in findings)
    yield ShownPart("findings", "", values)


_TOLD: dict[str, Callable[[Any], Iterable[ShownPart]]] = {
    "name": _one("name"),
    "above": _pairs(""),
    "type": _one("type of task"),
    "set": _one("points of the set"),
    "status": _one("status"),
    "ends": _ends,
    "stale": _sentences("out of date"),
    "distances": _sentences("how it is measured", follows=True),
    "other_classes": _sentences("other classes"),
    "day": _sentences("the day", follows=True),
    "flown": _one("flown before", follows=True),
    "free": _one("the pilot's own choice"),
    "cross_check": _pairs("instrument should show", follows=True),
    "counted_through": _counted_through,
    "procedure": _pairs(""),
    "channels": _pairs("channels"),
    "phone": _one("outlanding desk"),
    "programme": _programme,
    "remarks": _one("remarks"),
    "fields": _fields,
    "near": _near,
    "near_words": _one("landable near the course, listed", follows=True),
    "airspace": _airspace,
    "airspace_words": _one("airspace near the course"),
    "declared": _declared,
    "findings": _findings,
}
