"""One value changed in any column of any table is told by `store verify`: every column of a worked season is tried.

What changes is what a disk or a hand changes: a digit, a letter, a yes that becomes a no, a value that goes or comes.

    python -m tests.services.test_verify_tells_every_change     tries every row, and prints the share by table
"""

from __future__ import annotations

import sqlite3
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from taskdb.core.course.assembly import ZoneChoice
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import ContestClass, FlownRecord, Role
from taskdb.services.airspace.importing import AirspaceImport, import_airspace
from taskdb.services.checks.accepting import Which, accept_findings
from taskdb.services.checks.check import CheckRequest, check_set
from taskdb.services.checks.fixing import merge_duplicates
from taskdb.services.contests.contest import NewContest, new_contest
from taskdb.services.contests.day import DayChange, set_day
from taskdb.services.contests.settings import ContestEdit, edit_contest, set_classes
from taskdb.services.desk import Desk, Write
from taskdb.services.handing_out.handout import HandoutRequest, hand_out
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.store.verify import verify_store
from taskdb.services.tasks.flown import record_flown
from taskdb.services.tasks.task import NewTask, PointRequest, new_task
from taskdb.store.dump import TABLES
from tests import building
from tests.data.stores.make import made

ROWS = (
    "code,name,latitude,longitude,elevation_m,landable,feature,country,radio,runways,description,source,inspected_on\n"
    "006,Hohenried,48 52.320N,011 48.630E,389,aerodrome,,DE,123.505 launch,07/25 071deg 850m grass,A field,survey,"
    "2026-04-01\n007,Hohenried,48 52.321N,011 48.631E,389,,tower,DE,,,,survey,\n"
)


AIR = """{"type": "FeatureCollection", "features": [{"type": "Feature",
 "properties": {"name": "Moor", "kind": "restricted", "floor": "GND", "ceiling": "FL95", "times": "Mon-Fri",
  "frequency": "123.505"},
 "geometry": {"type": "Polygon", "coordinates": [[[11.6, 48.6], [11.9, 48.6], [11.9, 48.8], [11.6, 48.6]]]}}]}"""


def season(folder: Path) -> Desk:
    """Return the desk of a store with something in every column that a command fills."""
    desk = made(folder / "store.db", folder)
    rows = folder / "more.csv"
    rows.write_text(ROWS, encoding="utf-8")
    import_set(desk, ImportRequest(str(rows), "region"), Write("set import"))
    found = check_set(desk, CheckRequest("region")).findings
    accept_findings(desk, CheckRequest("region"), Which((found[0].id,)), "known", Write("check accept"))
    merge_duplicates(desk, "region", "006", "007", Write("check merge", confirmed=True))
    zones = {Role.TURN: parse_zone("cylinder 2km")}
    new_contest(
        desk,
        NewContest("Trophy", "region", "001", "2027-05-14", "2027-05-16", "Europe/Berlin", zones=zones),
        Write("contest new"),
    )
    (folder / "air.geojson").write_text(AIR, encoding="utf-8")
    import_airspace(desk, AirspaceImport(str(folder / "air.geojson"), "air"), Write("airspace import"))
    edit_contest(desk, "Trophy", ContestEdit(airspace=("air",)), Write("contest edit"))
    set_classes(desk, "Trophy", [ContestClass("Club", 60, 120)], (), Write("contest class"))
    day = DayChange(date="2027-05-14", start_opens="13:15", speed_kmh=90.0)
    set_day(desk, "Trophy", 1, day, Write("contest day"))
    areas = (ZoneChoice("areas", parse_zone("area 5km")),)
    points = tuple(PointRequest(code) for code in ("001", "003", "001"))
    new_task(
        desk,
        NewTask("C", points, contest="Trophy", day=1, class_name="Club", zones=areas, tags=("hills",), time_s=7200),
        Write("task new"),
    )
    new_task(
        desk,
        NewTask("D", points, contest="Trophy", day=1, variant="B", take_off="001", landing="003", speed_kmh=88.5),
        Write("task new"),
    )
    record_flown(
        desk,
        "D",
        FlownRecord("2027-05-14", 240.0, 27.8, 1500.0, 20, 12, 101.5, 80.0, "late start", building.flown_by_logs()),
        Write("task flown"),
    )
    hand_out(desk, HandoutRequest("Trophy", 1, str(folder / "out"), to_whom="pilots"), Write("handout", confirmed=True))
    return desk


def changes(path: Path, every: bool) -> Iterator[tuple[str, str, int, Any, Any]]:
    """Yield table, column, rowid, value and what it becomes; of one row for each column, or of every row."""
    with closing(sqlite3.connect(path)) as raw:
        for table in TABLES:
            raw.row_factory = sqlite3.Row
            rows = raw.execute(f"SELECT rowid AS at, * FROM {table} ORDER BY rowid DESC").fetchall()
            for column in rows[0].keys()[1:]:
                filled = [row for row in rows if row[column] is not None] or rows
                for row in rows if every else filled[:1]:
                    for changed in changed_values(row[column]):
                        yield table, column, row["at"], row[column], changed


def changed_values(value: Any) -> list[Any]:
    """What a value may become: its kind is kept, so that it looks as well as before."""
    if value is None:
        return [1]
    if isinstance(value, str):
        middle = len(value) // 2
        sign = value[middle]
        other = "5" if sign == "4" else "4" if sign.isdigit() else "b" if sign == "a" else "a"
        return [value[:middle] + other + value[middle + 1 :], None]
    return [1 - value if value in (0, 1) else value + 1, None]


def is_told(path: Path, desk: Desk, table: str, column: str, row: int, changed: Any) -> bool | None:
    """Say whether verify tells the change; None where the database itself does not let it happen."""
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("PRAGMA foreign_keys = OFF")
        before = raw.execute(f'SELECT "{column}" FROM {table} WHERE rowid = ?', (row,)).fetchone()[0]
        try:
            raw.execute(f'UPDATE {table} SET "{column}" = ? WHERE rowid = ?', (changed, row))
        except sqlite3.IntegrityError:
            return None
        raw.commit()
        at = changed if column == "id" else row
        told = bool(verify_store(desk).total)
        raw.execute(f'UPDATE {table} SET "{column}" = ? WHERE rowid = ?', (before, at))
        raw.commit()
        return told


def untold(desk: Desk, every: bool) -> tuple[list[str], Counter[str], Counter[str]]:
    """Return the changes that verify does not tell, and by table how many there were and how many are told."""
    path = Path(desk.store_url)
    missed, tried, told = [], Counter[str](), Counter[str]()
    for table, column, row, value, changed in changes(path, every):
        answer = is_told(path, desk, table, column, row, changed)
        if answer is not None:
            tried[table] += 1
            told[table] += answer
            if not answer:
                missed.append(f"{table}.{column} of row {row}: {value!r} became {changed!r}")
    return missed, tried, told


@pytest.mark.slow
def test_one_change_in_any_column_is_told(tmp_path: Path) -> None:
    desk = season(tmp_path)
    assert verify_store(desk).problems == ()
    missed, tried, _ = untold(desk, every=False)
    assert missed == []
    assert tried.keys() == set(TABLES)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made_folder:
        missed, tried, told = untold(season(Path(made_folder)), every=True)
        print("\n".join(missed))
        for table in tried:
            print(f"{table:20}{told[table]:5} of {tried[table]:5}")
        print(f"{'all':20}{told.total():5} of {tried.total():5}")
