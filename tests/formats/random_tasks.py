"""Random tasks for tests and benchmarks: every shape of zone, every type, anywhere on Earth, names that hurt."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from itertools import count

from taskdb.core.course.assembly import Chosen, assemble, defaults_of
from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.measure import measure_course
from taskdb.core.course.zones import parse_zone
from taskdb.core.geodesy import destination
from taskdb.core.model import (
    Deduction,
    Earth,
    FreeChoice,
    Place,
    Position,
    Role,
    Rules,
    Status,
    Task,
    TaskType,
    Zone,
    ZoneFrom,
)
from taskdb.core.names import clean_text
from taskdb.errors import TaskdbError
from taskdb.formats.exported import ExportedTask

HOSTILE = (
    "<script>alert(1)</script>", "a & b", "\"quoted\" 'names'", "]]>", "<!-- x -->", "&amp;",
    "tab\tand\nline\r\x00\x07", "\u202eright to left", "שדה תעופה", "مطار", "🛩️ glider", "../../etc/passwd",
    "..\\..\\x", "CON", "nul.txt", "x" * 300, "=1+1", "@SUM(A1)", "+cmd", "-cmd", "%s %n",
    "'; DROP TABLE task; --", "\ufffe\uffff", "ｆｕｌｌ", "e\u0301", "ß", "Ǆ", "\u2028line", "a" + "\u0301" * 40,
    "{{ 7*7 }}", "${x}", "\x7f\x85", " padded ", "C5110179N00102644W", "TURN", "007",
)  # fmt: skip
PLAIN = ("Übersee", "Quarry", "Burg am Berg", "Silo", "")
ZONES = {
    Role.START: ("line 5km", "line 1km", "cylinder 3km", "sector 90deg 1km", "sector 180deg"),
    Role.TURN: ("cylinder 500m", "sector 90deg", "sector 90deg 20km", "keyhole 500m 90deg 10km", "cylinder 3mi",
                "sector 90deg 10km 235", "keyhole 1km 60deg 8km towards-next"),
    Role.AREA: ("area 20km", "area 5km..30km", "area 5km..30km 040..110", "area 0km..25km 300..250", "cylinder 10km",
                "keyhole 1km 90deg 15km", "sector 120deg 30km 180"),
    Role.FINISH: ("line 1km", "cylinder 3km", "line 2km 310", "sector 90deg 2km"),
}  # fmt: skip


def random_tasks(amount: int, seed: int = 7, *, hostile: bool = True) -> list[ExportedTask]:
    """Return that many tasks that can be measured, the same for the same seed."""
    return list(_random_tasks(amount, seed, hostile))


@cache
def _random_tasks(amount: int, seed: int, hostile: bool) -> list[ExportedTask]:
    rng = random.Random(seed)
    found: list[ExportedTask] = []
    for _ in count():
        if len(found) == amount:
            return found
        try:
            task = _task(rng, len(found), hostile)
            found.append(
                ExportedTask(task, measure_course(task), rng.randint(1, 9), fingerprint(task), "2027-05-14T08:30:00Z")
            )
        except TaskdbError:
            continue  # a bisector or a line without direction
    raise AssertionError


def _name(rng: random.Random, hostile: bool) -> str:
    return rng.choice(HOSTILE if hostile and rng.random() < 0.7 else PLAIN)


def _place(rng: random.Random, position: Position, hostile: bool, number: int) -> Place:
    elevation_m = None if rng.random() < 0.3 else round(rng.uniform(-50, 3000), 1)
    code = rng.choice(("HOME", f"{number:03d}", "Ä1", "<b>", "=1", "x'y", "a&b", "📍")) if hostile else f"P{number:03d}"
    return Place(code, _name(rng, hostile), Position.at(position.latitude_deg, position.longitude_deg), elevation_m)


def _task(rng: random.Random, number: int, hostile: bool) -> Task:
    kind = rng.choice(list(TaskType))
    home = Position.at(rng.uniform(-75, 75), rng.choice((rng.uniform(-180, 180), 179.9, -179.95)))
    places = [home]
    for _ in range(rng.randint(1, 5)):
        places.append(destination(places[-1], rng.uniform(0, 360), rng.uniform(15_000, 150_000)))
    if rng.random() < 0.6:
        places.append(home)
    kept = [_place(rng, place, hostile, i) for i, place in enumerate(places)]
    if places[-1] is home:
        kept[-1] = kept[0]
    middle = Role.AREA if kind is TaskType.ASSIGNED_AREA else Role.TURN
    roles = [Role.START, *[middle] * (len(kept) - 2), Role.FINISH]
    chosen = [Chosen(place, _zone(rng, role)) for place, role in zip(kept, roles, strict=True)]
    ends = [_place(rng, home, hostile, 90) if rng.random() < 0.3 else None for _ in range(2)]
    return Task(
        name=f"{_name(rng, hostile)}{number}" if hostile else f"Task {number}",
        type=kind,
        points=assemble(chosen, kind, defaults_of(None)),
        set_name="region",
        set_revision=3,
        rules=Rules(rng.choice(list(Earth)), rng.choice(list(Deduction)), rng.choice(list(Deduction))),
        contest=_name(rng, hostile) or None,
        contest_revision=2,
        day=rng.choice((None, 1, 12)),
        class_name=_name(rng, hostile) or None,
        variant=rng.choice((None, "A", "<B>")),
        status=rng.choice(list(Status)),
        time_s=rng.choice((None, 10_800, 7_321)),
        speed_kmh=rng.choice((None, 95.0, 88.25)),
        free=_free(rng, hostile) if kind is TaskType.MODIFIED else None,
        take_off=ends[0],
        landing=ends[1],
        tags=tuple(sorted({_name(rng, hostile) or "x" for _ in range(rng.randint(0, 2))})),
    )


def _zone(rng: random.Random, role: Role) -> Zone | None:
    return None if rng.random() < 0.3 else parse_zone(rng.choice(ZONES[role]))


def _free(rng: random.Random, hostile: bool) -> FreeChoice:
    codes = ("001", "a&b") if rng.random() < 0.5 else ()
    most, chosen_from = rng.choice((None, 4)), None if codes else _name(rng, hostile) or None
    zone, origin = (parse_zone("keyhole 1km 60deg 8km"), ZoneFrom.CONTEST) if codes else (None, None)
    return FreeChoice(most, chosen_from, codes, rng.random() < 0.5, zone, origin)


def cleaned(exported: ExportedTask) -> ExportedTask:
    """Return a task with its texts as the store keeps them: trimmed, NFC, no control characters."""

    def place(value: Place) -> Place:
        return replace(value, name=clean_text(value.name), code=clean_text(value.code))

    task = exported.task
    free = task.free
    points = tuple(replace(point, place=place(point.place)) for point in task.points)
    mended = replace(
        task,
        name=clean_text(task.name),
        points=points,
        contest=clean_text(task.contest) or None if task.contest else None,
        class_name=clean_text(task.class_name) or None if task.class_name else None,
        free=replace(free, from_set=clean_text(free.from_set) or None if free.from_set else None) if free else None,
        take_off=None if task.take_off is None else place(task.take_off),
        landing=None if task.landing is None else place(task.landing),
        tags=tuple(tag for tag in (clean_text(tag) for tag in task.tags) if tag),
    )
    return ExportedTask(mended, exported.course, exported.revision, exported.fingerprint, exported.created_at)
