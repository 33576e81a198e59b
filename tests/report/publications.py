"""Publications to look at in a browser: sets written by the service itself, and names that hurt."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from taskdb.core.contests.days import DayChange
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import ContestClass, Feature, Landable, TaskType
from taskdb.core.quantities import Wind
from taskdb.services.airspace.importing import AirspaceImport, import_airspace
from taskdb.services.contests.contest import NewContest, new_contest
from taskdb.services.contests.day import set_day
from taskdb.services.contests.settings import ContestEdit, edit_contest, set_classes
from taskdb.services.desk import Desk, Write
from taskdb.services.handing_out.handout import HandoutRequest, hand_out
from taskdb.services.handing_out.publishing import Published, PublishRequest, publish
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks.flown import cancel_task, choose_task
from taskdb.services.tasks.task import NewTask, PointRequest, TaskEdit, edit_task, new_task
from tests import building

DEMO = Path(__file__).parents[2] / "demo"
OWN = "document.documentElement.setAttribute('data-owned','1')"
HOSTILE = (
    f"<script>{OWN}</script>",
    f"</script><script>{OWN}</script>",
    f"</title><script>{OWN}</script>",
    f'"><img src=x onerror="{OWN}">',
    f"'><svg/onload={OWN}>",
    f"<a href='javascript:{OWN}' autofocus onfocus={OWN}>x</a>",
    f"javascript:{OWN}",
    f"<iframe srcdoc='<script>parent.{OWN}</script>'></iframe>",
    "`${" + OWN + "}`",
    "{{ 7*7 }}{% raw %}",
    "<!--",
    "</style><b>",
    "\u202egnal si eman siht\u202c",
    "مطار الوادي الكبير",
    "W" * 200,
    "e\u0301toile & <b>Étoile</b>",
    "\u2028line\u2029ends",
    "\\u003c\\",
    "Straße am Großen Weiher",
    "STRASSE",
    "İstanbul ılgaz",
    "ΟΔΟΣ Σίσυφος",
    "ﬁne ǅungla ½ ² Ⅷ",
    "Ångström Øre Æsir Łódź Þing",
    "क्षितिज ทุ่งนา 東京 ٣",
    "10 10a a10 010",
)
HEADER = (
    "code", "name", "latitude_deg", "longitude_deg", "elevation_m", "landable", "feature", "country", "radio",
    "runways", "description", "source", "inspected_on",
)  # fmt: skip


def desk_with(folder: Path, rows: Sequence[Sequence[Any]] | Path, name: str = "region") -> Desk:
    """Return a desk at a new store with one set."""
    desk = building.desk(str(folder / "store.db"))
    path = rows if isinstance(rows, Path) else folder / "rows.csv"
    if not isinstance(rows, Path):
        with path.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows([HEADER, *rows])
    import_set(desk, ImportRequest(str(path), name), Write("test", confirmed=True))
    return desk


def hostile_rows() -> list[list[str]]:
    """Return waypoints that bear each hostile text in every field that takes one."""
    landables, features = [*Landable, ""], [*Feature, ""]
    rows = []
    for n, text in enumerate(HOSTILE):
        code = "".join(text.split())[:30].replace(":", ".").replace(",", ".").replace("=", ".").replace("@", ".")
        code = f"{n:02d}{code}" if n % 3 else f"X{n}"
        runway = f'09/27 09{n % 10}deg {600 + 20 * n}m x 30m "{text[:40].replace(chr(92), "").replace(chr(34), "")}"'
        rows.append(
            [
                code, text, f"{48 + n / 50:.7f}", f"{11 + n / 40:.7f}", str(300 + n), landables[n % len(landables)],
                features[n % len(features)], "DE", "123.505 launch", runway if n % 2 else "", text, text, "2027-04-01",
            ]
        )  # fmt: skip
    return rows


def published(desk: Desk, to: Path, reference: str | None = "region", **given: Any) -> Published:
    return publish(desk, PublishRequest(to=str(to), set_reference=reference, **given))


def contest_desk(folder: Path) -> Desk:
    """Return a desk at a store with a contest: a day with a replaced variant and an edited one, handed out thrice, a
    day of two classes with areas and a proposal, a day that was called off."""
    desk = desk_with(folder, DEMO / "region.csv")
    import_set(desk, ImportRequest(str(DEMO / "mends.csv"), "region"), WRITE)
    import_airspace(desk, AirspaceImport(str(DEMO / "airspace.geojson"), "air"), WRITE)
    dates = {"from_date": "2027-05-14", "to_date": "2027-05-22", "timezone": "Europe/Berlin"}
    new_contest(desk, NewContest(CUP, "region", site="001", **dates), WRITE)
    edit_contest(desk, CUP, ContestEdit(airspace=("air",)), WRITE)
    set_classes(desk, CUP, (ContestClass("Club", 60, 110), ContestClass("Open", 80, 160)), (), WRITE)
    set_day(desk, CUP, 1, DayChange(date="2027-05-14", start_opens="13:15", wind=Wind(240, 28)), WRITE)
    set_day(desk, CUP, 2, DayChange(date="2027-05-15", start_opens="12:45"), WRITE)
    task_of(desk, "Day 1 A", "043", "232", "010", "001", day=1, class_name="Club", time_s=9000)
    task_of(desk, "Day 1 B", "043", "003", "004", "001", day=1, class_name="Club", time_s=7200)
    for name in ("Day 1 A", "Day 1 B"):
        choose_task(desk, name, None, WRITE, CUP)
        hand_out(desk, HandoutRequest(CUP, 1, str(folder / "day1")), WRITE)
    set_day(desk, CUP, 1, DayChange(start_opens="13:45"), WRITE)
    edit_task(desk, "Day 1 B", TaskEdit(points=((1, "232"),)), WRITE, CUP)
    hand_out(desk, HandoutRequest(CUP, 1, str(folder / "day1")), WRITE)
    areas = {"type": TaskType.ASSIGNED_AREA, "class_name": "Club", "time_s": 10_800}
    task_of(desk, "Day 2 A", "045", ("232", "area 10km..25km 180..300"), ("004", "area 20km"), "001", day=2, **areas)
    task_of(desk, "Day 2 O", "045", ("232", "keyhole 500m 90deg 10km"), "010", "001", day=2, class_name="Open")
    task_of(desk, "Secret plan", "045", "009", "001", day=2, class_name="Open")
    task_of(desk, "Day 3", "043", "009", "001", day=3)
    for name in ("Day 2 A", "Day 2 O", "Day 3"):
        choose_task(desk, name, None, WRITE, CUP)
    cancel_task(desk, "Day 3", WRITE, CUP)
    return desk


CUP = "Varnpokal <b>2027</b>"
WRITE = Write("test", confirmed=True)


def task_of(desk: Desk, name: str, *points: str | tuple[str, str], day: int, **given: Any) -> None:
    asked = [PointRequest(p) if isinstance(p, str) else PointRequest(p[0], parse_zone(p[1])) for p in points]
    new_task(desk, NewTask(name, tuple(asked), contest=CUP, day=day, **given), WRITE)
