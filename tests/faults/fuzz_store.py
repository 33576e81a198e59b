"""Readers that need a store or a file on the disk, for the fuzzer: files for a store, and what is typed to find things.

One small store and a folder for each process; every write is a preview, so that each case finds the store as it was.
"""

from __future__ import annotations

import atexit
import contextlib
import datetime
import io
import itertools
import json
import os
import random
import shutil
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from taskdb.core.filters.tasks import TaskFilter
from taskdb.core.history.decisions import read_decisions
from taskdb.core.model import FlownRecord
from taskdb.errors import TaskdbError
from taskdb.files.pack import MANIFEST, PackedFile, verify_pack, write_pack
from taskdb.services.airspace.drawing import Drawn, add_volume
from taskdb.services.checks.check import CheckRequest, check_set
from taskdb.services.checks.fixing import plan_fixes, read_plan
from taskdb.services.contests.contest import NewContest, new_contest, show_contest
from taskdb.services.contests.settings import ContestEdit, edit_contest
from taskdb.services.desk import Desk, Write
from taskdb.services.flights.places import flight_places
from taskdb.services.flights.reading import FlightsRequest, read_flights, save_days
from taskdb.services.logs import read_stands
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.sets.patches import ApplyRequest, apply_patch, write_patch
from taskdb.services.store.copies import back_up_store, dump_store, load_store
from taskdb.services.store.verify import damage_behind, verify_store
from taskdb.services.tasks.checking import check_task
from taskdb.services.tasks.finding import TaskFindRequest, find_tasks
from taskdb.services.tasks.flown import export_flown, import_flown, record_flown
from taskdb.services.tasks.importing import TaskImportRequest, import_tasks
from taskdb.services.tasks.task import NewTask, PointRequest, new_task, show_task
from taskdb.services.waypoints.editing import add_waypoint, edit_waypoint
from taskdb.services.waypoints.typed_values import WaypointTexts
from taskdb.services.waypoints.waypoint import FindRequest, find_waypoints, place_position, show_waypoint
from tests.logbook import flight, zipped

ROWS = (
    "code,name,latitude_deg,longitude_deg,elevation_m,radio,runways\n"
    "001,Ormsau,48.872,11.8105,389,123.505 launch,07/25 071deg 850m grass\n002,Kelmried,48.561,11.522,467,123.505,\n"
    "003,Tannwöhr,49.051,12.473,497,,12/30 071deg\n004,Ormsau,48.8721,11.8106,390,,\n"
)
PREVIEW = Write("fuzz", preview=True, confirmed=True)


class Ground:
    """A folder with a small store in it, one without anything, and what the store hands out."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
        # A forked process inherits the ground and leaves it to the one that made it.
        atexit.register(lambda pid: os.getpid() == pid and shutil.rmtree(self.folder), os.getpid())
        numbers = itertools.count(1)
        at = datetime.datetime(2027, 5, 1, 8, 0, tzinfo=datetime.UTC)

        def desk(name: str) -> Desk:
            return Desk(str(self.folder / name), "Ann", lambda: at, lambda: f"{next(numbers):032x}")

        self.desk, self.bare = desk("store.db"), desk("bare.db")
        self.case = self.folder / "case"
        write = Write("fill", confirmed=True)
        self.case.write_text(ROWS, encoding="utf-8")
        import_set(self.desk, ImportRequest(str(self.case), "region"), write)
        new_contest(self.desk, NewContest("Cup", "region"), write)
        course = tuple(map(PointRequest, ("001", "003", "002", "001")))
        self.print = new_task(self.desk, NewTask("A", course, contest="Cup", tags=("x",)), write).fingerprint
        record_flown(self.desk, "A", FlownRecord("2027-05-14", 240.0, 27.8, starters=3, remarks="=x"), write)
        add_volume(self.desk, Drawn("air", "Ring", round="003", radius_m=5000.0), write)
        edit_contest(self.desk, "Cup", ContestEdit(airspace=("air",)), write)
        edit_waypoint(self.desk, "001", WaypointTexts(name="Ormsau West"), write)

    def made(self, make: Callable[[str], object]) -> bytes:
        """Return what a service writes into a file."""
        path = self.folder / "made"
        make(str(path))
        return path.read_bytes()

    def through_file(self, read: Callable[[str], Any], suffix: str = "") -> Callable[[bytes], Any]:
        """Return a reader of bytes that reads them from a file."""
        path = self.case.with_suffix(suffix)

        def reading(content: bytes) -> Any:
            path.write_bytes(content)
            return read(str(path))

        return reading


@cache
def ground() -> Ground:
    """Return this process's store."""
    return Ground()


def _text(read: Callable[[str], Any]) -> Callable[[bytes], Any]:
    return lambda content: read(content.decode("utf-8", "replace"))


def _find(text: str) -> None:
    desk = ground().desk
    find_waypoints(desk, FindRequest(text))
    find_tasks(desk, TaskFindRequest(TaskFilter(text=text, tags=(text,))))
    for avoid in (text, f"air:{text}"):
        with contextlib.suppress(TaskdbError):
            find_tasks(desk, TaskFindRequest(avoid=(avoid,)))
    for look in (lambda: show_task(desk, text), lambda: check_task(desk, "A", text), lambda: _place(desk, text)):
        with contextlib.suppress(TaskdbError):
            look()
    show_waypoint(desk, text)


FIELDS = ("code", "name", "position", "elevation", "country", "radio", "runways", "description", "inspected_on")


def _typed(text: str) -> None:
    """Let a text be every value of a waypoint, a point of a task, and the name and a point of a volume."""
    desk = ground().desk
    new = WaypointTexts(code="N", name="New", position="48.5,11.5")
    for name in FIELDS:
        with contextlib.suppress(TaskdbError):
            add_waypoint(desk, "region", replace(new, **{name: text}), PREVIEW)
    for drawn in (Drawn("air", text, through=("001", "002", text)), Drawn(text, "New", round=text, radius_m=900.0)):
        with contextlib.suppress(TaskdbError):
            add_volume(desk, drawn, PREVIEW)
    new_task(desk, NewTask("B", (PointRequest("001"), PointRequest(text)), contest="Cup"), PREVIEW)


def _place(desk: Desk, text: str) -> None:
    with desk.store.reading() as c:
        place_position(c, text, [])


def _manifest(content: bytes) -> None:
    folder = ground().folder / "pack"
    folder.mkdir(exist_ok=True)
    (folder / MANIFEST).write_bytes(content)
    (folder / "a.gpx").write_bytes(b"x")
    with contextlib.suppress(TaskdbError):
        write_pack(folder, [PackedFile("a.gpx", b"x", "gpx")])
    (folder / MANIFEST).write_bytes(content)
    verify_pack(folder)


def _decisions(content: bytes) -> None:
    try:
        document = json.loads(content)
    except (ValueError, RecursionError):
        return
    read_decisions(document)


def _zip(manifest: bytes) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(MANIFEST, manifest)
        archive.writestr("a.gpx", b"x")
    return packed.getvalue()


def _flips(file: bytes, count: int = 60) -> tuple[bytes, ...]:
    """Return changes of a few bytes of a file, where it holds something: four bytes where, and one what."""
    source = random.Random(7)
    held = [at for at, byte in enumerate(file) if byte]
    return tuple(
        b"".join(source.choice(held).to_bytes(4, "big") + source.randbytes(1) for _ in range(source.choice((1, 2, 8))))
        for _ in range(count)
    )


def _damaged_store(file: bytes) -> Callable[[bytes], None]:
    """A store some of whose bytes are changed: whatever goes wrong is told as damage, by who reads and who verifies."""
    path = ground().folder / "damaged.db"

    def read(content: bytes) -> None:
        changed = bytearray(file)
        for at in range(0, min(len(content), 200) - 4, 5):
            changed[int.from_bytes(content[at : at + 4], "big") % len(file)] = content[at + 4]
        for name in ("damaged.db-wal", "damaged.db-shm"):
            path.with_name(name).unlink(missing_ok=True)
        path.write_bytes(changed)
        desk = replace(ground().desk, store_url=str(path))
        looks: tuple[Callable[[], Any], ...] = (
            lambda: show_task(desk, "A"), lambda: find_waypoints(desk, FindRequest("001")),
            lambda: show_contest(desk, "Cup"), lambda: find_tasks(desk, TaskFindRequest()),
        )  # fmt: skip
        for look in looks:
            try:
                look()
            except TaskdbError:
                pass
            except Exception as error:
                if damage_behind(error, desk) is None:
                    raise
        verify_store(desk)

    return read


DECISIONS = {
    "schema": "taskdb.decisions/1",
    "conflicts": [{"code": "001", "field": "name", "expected": "a", "found": "b", "wanted": "c", "take": "theirs"}],
}


def _flights(path: str) -> None:
    """A log or a zip of logs, held against the contest's tasks, kept, and asked for where gliders stood."""
    desk = ground().desk
    save_days(desk, read_flights(desk, FlightsRequest((path,), "Cup", with_tracks=True)), PREVIEW)
    flight_places(desk, (path,), "region")
    read_stands((path,))


def store_readers(task_files: tuple[bytes, ...], texts: tuple[bytes, ...]) -> list[tuple[Any, ...]]:
    """Return name, seeds, reader and weight of each; seeds of kinds that have them elsewhere are given."""
    here = ground()
    desk = here.desk
    dump = here.made(lambda path: dump_store(desk, path, Write("dump", confirmed=True)))
    plan = here.made(lambda path: plan_fixes(desk, CheckRequest("region"), path, overwrite=True))
    taken = plan.replace(b'"take": null', b'"take": 0')
    flown = here.made(lambda path: export_flown(desk, path, overwrite=True))
    listed = here.made(
        lambda path: (
            write_pack(f"{path}.d", [PackedFile("a.gpx", b"x", "gpx")]) and shutil.copy(f"{path}.d/{MANIFEST}", path)
        )
    )
    patch = here.made(lambda path: write_patch(desk, "region@1", "region@2", path, overwrite=True))
    typed = (*texts, b"001", b"region:001", b"Ormsau", b"Cup:A", b"A@1", b"region@1:001", here.print.encode())
    rows = (ROWS.encode(), ROWS.replace("467", "468").replace("Tann", "Dann").encode())
    file = here.through_file
    store = here.made(lambda path: back_up_store(desk, path, Write("backup", confirmed=True)))
    logs = {"a.igc": flight(interval_s=40.0), "b.igc": flight(legs=1, interval_s=55.0)}
    zipped(here.folder / "logs.zip", logs)
    return [
        ("dump", (dump,), file(lambda path: load_store(here.bare, path, PREVIEW)), 1),
        ("plan", (plan, taken), file(read_plan), 8),
        ("decisions", (json.dumps(DECISIONS).encode(),), _decisions, 8),
        ("flown", (flown,), file(lambda path: import_flown(desk, path, PREVIEW)), 2),
        ("import", rows, file(lambda path: import_set(desk, ImportRequest(path, "region"), PREVIEW)), 1),
        ("import tasks", task_files, file(lambda p: import_tasks(desk, TaskImportRequest(p, "Cup"), PREVIEW)), 1),
        ("apply", (patch,), file(lambda path: apply_patch(desk, ApplyRequest(path, "region"), PREVIEW)), 1),
        ("against", rows, file(lambda path: check_set(desk, CheckRequest("region", against=(path,))), ".csv"), 1),
        ("manifest", (listed,), _manifest, 2),
        ("pack", (_zip(listed),), file(verify_pack, ".zip"), 6),
        ("flights", tuple(logs.values()), file(_flights, ".igc"), 1),
        ("flights in a zip", ((here.folder / "logs.zip").read_bytes(),), file(_flights, ".zip"), 1),
        ("damaged store", _flips(store), _damaged_store(store), 2),
        ("search", typed, _text(_find), 1),
        ("typed", typed, _text(_typed), 1),
    ]
