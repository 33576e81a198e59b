"""The quick look for completion: right names in order, nothing heavy imported, and never an error."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from taskdb.core.course.zones import parse_zone
from taskdb.core.history.changes import SetChanges
from taskdb.core.model import (
    Contest,
    Place,
    Position,
    Role,
    ShapeKind,
    Task,
    TaskPoint,
    TaskType,
    Waypoint,
    ZoneFrom,
)
from taskdb.store import contests, sets, tasks
from taskdb.store.engine import NewOperation, open_store
from taskdb.store.peek import peek_names

SUMMARY = tasks.TaskSummary("ABCD", 1.0, 1.0, 1.0, 1.0, ShapeKind.GOAL, False, None)


@pytest.fixture
def path(tmp_path: Path, sample: tuple[Waypoint, ...]) -> Path:
    file = tmp_path / "store.db"
    with open_store(str(file)).writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")) as w:
        for name in ("Wold", "Wolds", "vale", "Übung"):
            sets.write_revision(w, sets.create_set(w, name), SetChanges(added=sample))
        more = [Waypoint("A0", "x", Position.at(1, 1), identity="a0")]
        sets.write_revision(w, sets.set_head(w.connection, 1), SetChanges(added=more, retired=sample[:1]))
        for number in (2, 3, 4):
            sets.write_revision(w, sets.set_head(w.connection, number), SetChanges(retired=sample[1:]))
        cup = contests.write_contest(w, None, Contest("Vale Cup", "Wold", 1))
        old = contests.write_contest(w, None, Contest("Vale Cup 2026", "Wold", 1))
        contests.write_contest(w, old, Contest("Vale Cup 2026", "Wold", 1), retired=True)
        place = Place("001", "Ormsau", Position.at(48, 11))
        points = [
            TaskPoint(place, role, parse_zone("cylinder 5km"), ZoneFrom.OWN) for role in (Role.START, Role.FINISH)
        ]
        task = Task("A 1", TaskType.RACING, tuple(points), "Wold", 1)
        tasks.write_task(w, None, cup.id, task, SUMMARY)
        tasks.write_task(w, None, None, task, SUMMARY)
        tasks.write_task(w, None, cup.id, Task("C", TaskType.RACING, task.points, "Wold", 1), SUMMARY)
        gone = tasks.write_task(w, None, None, Task("A 2", TaskType.RACING, task.points, "Wold", 1), SUMMARY)
        tasks.write_task(w, gone, None, Task("A 2", TaskType.RACING, task.points, "Wold", 1), SUMMARY, retired=True)
    return file


@pytest.mark.parametrize(
    ("kind", "prefix", "names"),
    [
        ("set", "", ("Wold", "Wolds", "vale", "Übung")),
        ("set", "W", ("Wold", "Wolds")),
        ("set", "w", ()),
        ("set", "Ü", ("Übung",)),
        ("waypoint", "", ("001", "002", "003", "004", "A0", "A1")),
        ("waypoint", "A", ("A0", "A1")),
        ("waypoint", "00%", ()),
        ("contest", "V", ("Vale Cup",)),
        ("task", "A", ("A 1", "Vale Cup:A 1")),
        ("task", "Vale Cup:", ("Vale Cup:A 1", "Vale Cup:C")),
        ("task", "Vale Cup:C", ("Vale Cup:C",)),
        ("task", "C", ("C",)),
        ("task", "'; DROP", ()),
        ("unheard-of", "", ()),
    ],
)
def test_names_that_begin_so_in_order(path: Path, kind: str, prefix: str, names: tuple[str, ...]) -> None:
    assert peek_names(str(path), kind, prefix) == names
    assert peek_names(f"sqlite:///{path}", kind, prefix, 2) == names[:2]


def test_a_store_that_cannot_be_looked_into_answers_nothing(tmp_path: Path, path: Path) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("no store" * 1000)
    damaged = tmp_path / "damaged.db"
    damaged.write_bytes(path.read_bytes()[:5000])
    empty = tmp_path / "empty.db"
    empty.touch()
    urls = [text, damaged, empty, tmp_path, tmp_path / "none.db", "postgresql://nobody@localhost:1/x", "", "mysql://x"]
    assert [peek_names(str(url), "set", "") for url in urls] == [()] * len(urls)
    assert not (tmp_path / "none.db").exists()


def test_looking_imports_nothing_heavy(path: Path) -> None:
    program = (
        "import sys; from taskdb.store.peek import peek_names\n"
        "print(peek_names(sys.argv[1], 'set', 'W'))\n"
        "print([n for n in ('sqlalchemy', 'alembic', 'numpy', 'pyproj', 'click', 'rich') if n in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program, path], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == ["('Wold', 'Wolds')", "[]"]
