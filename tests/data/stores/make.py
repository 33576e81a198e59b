"""Makes the small store of the newest schema that later upgrades are tried on: as SQL text, and as a dump.

    python -m tests.data.stores.make        writes tests/data/stores/SCHEMA.sql and SCHEMA.dump

Run it while a schema is still being built, and never again for one that has been released.
"""

from __future__ import annotations

import contextlib
import sqlite3
import tempfile
from pathlib import Path

from taskdb.core.contests.days import DayChange
from taskdb.core.model import FlownRecord
from taskdb.services.contests.contest import NewContest, new_contest
from taskdb.services.contests.day import set_day
from taskdb.services.desk import Desk, Write
from taskdb.services.handing_out.handout import HandoutRequest, hand_out
from taskdb.services.sets.history import label_set
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.store.copies import dump_store
from taskdb.services.store.undo import undo
from taskdb.services.tasks.flown import record_flown
from taskdb.services.tasks.task import NewTask, PointRequest, TaskEdit, edit_task, new_task
from taskdb.store.version import APPLICATION_ID, NEWEST
from tests import building

HERE = Path(__file__).resolve().parent
HEADER = "code,name,latitude_deg,longitude_deg,elevation_m,radio\n"
FIRST = """\
001,Ormsau,48.8720000,11.8105000,389,123.505 launch
002,Kelmried,48.5610000,11.5220000,467,
003,Tannwöhr,49.0510000,12.4730000,497,
004,Große Linde,48.6310000,12.3260000,423,
"""
SECOND = "002,Kelmried Süd,48.5611000,11.5220000,467,\n005,Brüxfeld,49.0350000,11.5790000,470,\n"


def work(desk: Desk, folder: Path) -> None:
    """Work a short season into a store: revisions, a retired task, a day handed out, something undone."""
    folder.mkdir(exist_ok=True)
    for number, rows in enumerate((FIRST, SECOND), start=1):
        (folder / f"{number}.csv").write_text(HEADER + rows, encoding="utf-8")
    import_set(desk, ImportRequest(str(folder / "1.csv"), "region"), Write("set import", note="the club's list"))
    new_contest(desk, NewContest("Cup", "region", site="001", timezone="Europe/Berlin"), Write("contest new"))
    set_day(desk, "Cup", 1, DayChange(date="2027-05-14"), Write("contest day"))
    points = tuple(PointRequest(code) for code in ("001", "003", "004", "001"))
    new_task(desk, NewTask("A", points, contest="Cup", day=1, time_s=7200), Write("task new"))
    new_task(desk, NewTask("B", points, set_reference="region", speed_kmh=95.5), Write("task new"))
    hand_out(desk, HandoutRequest("Cup", 1, str(folder / "day")), Write("handout", confirmed=True))
    import_set(desk, ImportRequest(str(folder / "2.csv"), "region"), Write("set import"))
    edit_task(desk, "A", TaskEdit(points=((1, "002"),)), Write("task edit"))
    record_flown(desk, "B", FlownRecord("2027-05-14", best_kmh=101.5), Write("task flown"))
    label_set(desk, "region", "2027 edition", "2027-05-01", Write("set label"))
    undo(desk, 8, Write("undo", confirmed=True))
    # What a schema adds comes last: the season of the older stores is the beginning of this one.
    record_flown(desk, "B", FlownRecord("2027-05-15", by_logs=building.flown_by_logs()), Write("flight read"))


def made(store: Path, folder: Path) -> Desk:
    """Return the desk of a store with that season, the same at every run."""
    desk = building.desk(str(store))
    work(desk, folder)
    return desk


def main() -> None:
    with tempfile.TemporaryDirectory() as name, contextlib.chdir(name):
        desk = made(Path("store.db"), Path("out"))
        dump_store(desk, str(HERE / f"{NEWEST}.dump"), Write("store dump", confirmed=True))
        with contextlib.closing(sqlite3.connect("store.db")) as raw:
            lines = [f"PRAGMA application_id = {APPLICATION_ID};", *raw.iterdump()]
    (HERE / f"{NEWEST}.sql").write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
