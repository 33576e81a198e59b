"""Pages to be measured: sheets of every kind of task and a notice, with names and sentences that need room."""

from __future__ import annotations

from dataclasses import replace

from taskdb.core.course.day import DaySheet, Declination, SunTimes
from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.measure import measure_course
from taskdb.core.course.zones import parse_zone
from taskdb.core.history.changes import SetDiff
from taskdb.core.history.facts import count_facts, facts_of
from taskdb.core.kinds import LegalEnd
from taskdb.core.model import (
    Contest,
    ContestDay,
    Finding,
    FreeChoice,
    Landable,
    Position,
    Radio,
    Runway,
    Severity,
    Task,
    TaskType,
    Waypoint,
    ZoneFrom,
)
from taskdb.report.notice import Notice, NoticeRevision, render_notice
from taskdb.report.sheet import render_sheet
from taskdb.report.sheet_page import SheetPage
from tests import building

LONG = "Segelflugplatz Unterschleißheim-Oberschleißheim am Großen Staffelberg Nord"
NAMES = ("Ormsau", "Großer Zirbel", LONG, "Lohnerberg", "W" * 120)
SPOTS = ((48.872, 11.8105), (49.113, 12.701), (48.425, 12.508), (48.933, 11.428), (48.70, 12.0), (48.872, 11.8105))
FAR = ((48.872, 11.8105), (50.25, 10.55), (50.1, 13.2), (48.872, 11.8105))
CUP = Contest(
    "Varn Cup 2027, Bezirksmeisterschaft der Klubklasse und der Offenen Klasse",
    "region",
    3,
    timezone="Europe/Berlin",
    days=(ContestDay(1, "2027-05-14", "13:15"),),
    settings={
        "start_closes": "15:30",
        "start_height": {"m": 1500.0, "reference": "MSL", "text": "1500m MSL"},
        "event_start": True,
        "finish_height": {"m": 701.04, "reference": "MSL", "text": "2300ft MSL"},
        "frequencies": {"start and finish": "122.480", "outlanding desk": "123.505"},
    },
)
RUNWAYS = (Runway("08/26", 83.0, 1480.0, 30.0, "asphalt"), Runway("08/26", 83.0, 900.0, 40.0, "grass"))
FINDINGS = tuple(
    Finding(str(n), "rule", Severity.WARNING, ("000",), text, {})
    for n, text in enumerate(
        (
            "497.2 km are 2.8 km short of 500.0 km; with sectors at its turn points it would have 499.2 km.",
            f"Point 2 ({LONG}) may be mistyped: its position lies 12.4 km from the place of that name in the list of "
            "airfields, and one transposed digit in its longitude (exchanged 34 for 43) would put it on that place; "
            "the last surveyed position was taken from a paper list of 2011 and has never been looked at since then "
            "(ends here).",
            "The last are expected at 20:48, 11 minutes after the legal end of the day at 20:37 (sunset).",
        )
    )
)


def task_of(kind: TaskType, spots: tuple[tuple[float, float], ...], zones: tuple[str, ...], names=NAMES) -> Task:
    last = len(spots) - 1
    start, *turns = zones
    between = [turns[n % len(turns)] for n in range(last - 1)]
    places = [
        building.place(spot, f"{n % last:03d}", names[n % last % len(names)], elevation_m=389.0 + 100 * n)
        for n, spot in enumerate(spots)
    ]
    stops = zip(places, (start, *between, "cylinder 3km"), strict=True)
    return building.task(
        *stops, type=kind, zone_from=ZoneFrom.CONTEST, name="Runde A", on=("region", 3), time_s=10_800,
        contest=CUP.name, day=1,
    )  # fmt: skip


RACING = task_of(TaskType.RACING, SPOTS, ("line 8km", "cylinder 1km", "keyhole 500m 90deg 10km", "sector 90deg 200"))
AREAS = task_of(
    TaskType.ASSIGNED_AREA, SPOTS, ("cylinder 5km", "area 5km..30km 040..110", "area 20km", "area 10km..25km 200..300")
)
DECLARED = task_of(TaskType.DECLARED, FAR, ("line 1km", "cylinder 500m", "cylinder 500m"))
MODIFIED = replace(
    task_of(TaskType.MODIFIED, SPOTS[:3] + SPOTS[-1:], ("cylinder 5km", "cylinder 1km", "cylinder 1km")),
    free=FreeChoice(6, None, tuple(f"{n:03d}" for n in range(12)), True, parse_zone("cylinder 1km"), ZoneFrom.OWN),
)
MANY = task_of(
    TaskType.RACING,
    (*SPOTS[:5], *SPOTS[:5], *SPOTS[:1]),
    ("line 1km", "cylinder 500m", "keyhole 500m 90deg 10km 10"),
)


def catalogue() -> list[Waypoint]:
    return [
        Waypoint(
            f"{n:03d}", NAMES[n % len(NAMES)] if n < 4 else f"Feld {n}",
            Position.at(48.3 + 0.09 * (n % 10), 11.5 + 0.13 * (n // 10)), 400.0,
            Landable.AERODROME if n % 5 == 0 else Landable.FIELD, radio=(Radio("123.505", "tower"),), runways=RUNWAYS,
        )
        for n in range(60)
    ]  # fmt: skip


def own(task: Task) -> dict[str, Waypoint]:
    return {
        p.place.code: Waypoint(
            p.place.code, p.place.name, p.place.position, p.place.elevation_m, Landable.AERODROME,
            radio=(Radio("119.865", "tower"), Radio("122.555", "gliders")), runways=RUNWAYS,
        )
        for p in task.points
    }  # fmt: skip


def day_of(task: Task) -> DaySheet:
    legs = len(task.points) - 1
    sun = SunTimes("2027-05-14", None, None, None)
    told = Declination("WMM2025", 4.3)
    return DaySheet(
        "2027-05-14", "Europe/Berlin", "13:15", None, None, (), None, sun, LegalEnd.SUNSET, False, (told,) * legs,
        (90.0,) * legs, (),
    )  # fmt: skip


def page(task: Task, *, full: bool = True) -> SheetPage:
    course = measure_course(task)
    plain = SheetPage(task, 2, course, fingerprint(task), catalogue(), own(task), CUP)
    return replace(plain, findings=FINDINGS, stale=(FINDINGS[1].message,), day=day_of(task)) if full else plain


SHEETS = {"racing": RACING, "areas": AREAS, "declared": DECLARED, "modified": MODIFIED, "many": MANY}


def sheet(name: str) -> str:
    return render_sheet([page(SHEETS[name])])


def variants() -> str:
    pages = [page(task, full=False) for task in (RACING, AREAS, MODIFIED, MANY)]
    return render_sheet(pages, variants_of=[pages])


def notice() -> str:
    """Return a notice in which every kind of row stands, with long names and a day from which the edition counts."""
    old = [replace(waypoint, identity=waypoint.code) for waypoint in catalogue()]
    moved = [(w, replace(w, position=Position.at(w.position.latitude_deg + 0.02, 179.9999))) for w in old[:4]]
    renamed = [(w, replace(w, code=f"X{w.code}", name=LONG, radio=(), runways=RUNWAYS * 2)) for w in old[4:8]]
    found = SetDiff(tuple(old[20:24]), tuple(old[10:14]), tuple(moved + renamed))
    facts = tuple(facts_of(change) for change in found.changed)
    return render_notice(
        Notice(
            "region of the federation", NoticeRevision(1, "2026-03-01"),
            NoticeRevision(2, "2027-03-01", "2027 edition", None, "2027-05-01"), count_facts(found, facts), facts,
            found.added, found.retired, {w.identity or "": [FINDINGS[1].message] for w in old},
            [("Varn Cup:A", tuple(w.code for w in old))],
        )
    )  # fmt: skip
