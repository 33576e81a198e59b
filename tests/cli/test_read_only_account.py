"""Accounts on a server: one that may only read does all that keeps nothing, one that may write need not own it."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import create_engine, make_url
from sqlalchemy.pool import NullPool

from taskdb.cli.commands_table import COMMANDS
from taskdb.errors import ExitCode
from tests.conftest import SERVER, new_database

pytestmark = pytest.mark.skipif(not SERVER, reason="needs a PostgreSQL server")
DEMO = Path(__file__).parents[2] / "demo"

# One line for each command that keeps nothing; a test holds the list to the table of commands.
READING: dict[str, list[str]] = {
    "set list": [],
    "set show": ["region"],
    "set log": ["region"],
    "set export": ["region", "--format", "csv", "--to", "OUT/region.csv"],
    "set diff": ["region@1", "region@2"],
    "set notice": ["region@1", "region@2", "--to", "OUT/notice.html"],
    "set patch": ["region@1", "region@2", "--to", "OUT/region.patch.json"],
    "waypoint find": ["quarn"],
    "waypoint show": ["region:001"],
    "check run": ["region"],
    "check rules": [],
    "check explain": ["same-place"],
    "check list": ["region"],
    "airspace list": [],
    "airspace show": ["varn"],
    "airspace log": ["varn"],
    "airspace diff": ["varn@1", "varn@2"],
    "airspace export": ["varn", "--to", "OUT/varn.kml"],
    "contest log": ["Cup"],
    "contest presets": [],
    "contest show": ["Cup"],
    "contest list": [],
    "task show": ["A"],
    "task list": [],
    "task log": ["A"],
    "task compare": ["A", "B"],
    "task review": ["A"],
    "task fingerprint": ["A"],
    "task find": [],
    "task cover": ["B", "--glide", "25", "--working-altitude", "1500m MSL"],
    "task path": ["B", "--distance", "MIDDLE"],
    "task check": ["A", "OUT/a.geojson"],
    "flight places": ["DEMO/flights", "--set", "region"],
    "export task": ["A", "--format", "gpx", "--to", "OUT/tasks"],
    "export set": ["region", "--format", "csv", "--to", "OUT/sets"],
    "export verify": ["OUT/tasks"],
    "publish": ["region", "--to", "OUT/site"],
    "sheet": ["A", "--to", "OUT/a.html"],
    "store info": [],
    "store verify": [],
    "log": [],
    "completion": ["bash"],
}
# What commands that may write show where there is nothing to write into the store.
SHOWING: dict[str, list[str]] = {
    "contest day": ["Cup", "1"],
    "task flown": ["A"],
    "task fit": ["B", "--slowest", "70km/h", "--fastest", "90km/h", "--time", "2:45"],
    "task propose": ["--from", "001", "--shape", "out-and-return", "--distance", "80km..120km", "--set", "region"],
    "flight read": ["DEMO/flights", "--task", "A"],
    "store upgrade": [],
    "store dump": ["OUT/store.dump"],
}

# What an account that may only read can see of every command that writes. FINDING, MEND: of a check of the set.
PREVIEWED: dict[str, list[str]] = {
    "set import": ["DEMO/mends.csv", "--into", "another"],
    "set apply": ["OUT/region.patch.json", "--into", "old"],
    "set restore": ["region@1"],
    "set label": ["region", "2027 edition"],
    "set copy": ["region", "copied"],
    "waypoint add": ["region", "900", "--at", "48.9,12.1", "--name", "Neu"],
    "waypoint edit": ["region:001", "--name", "x"],
    "waypoint retire": ["region:002"],
    "waypoint restore": ["region:005"],
    "check accept": ["region", "FINDING", "--why", "seen"],
    "check fix": ["old", "MEND"],
    "check merge": ["region", "003", "004"],
    "airspace import": ["DEMO/airspace.geojson", "--into", "air"],
    "airspace add": ["air", "South", "--round", "001", "--radius", "3km", "--set", "region"],
    "airspace retire": ["varn", "North"],
    "contest new": ["Next", "--set", "region"],
    "contest zones": ["Cup", "--turn", "cylinder 2km"],
    "contest pin": ["Cup", "region@1"],
    "contest day": ["Cup", "2", "--date", "2027-05-15"],
    "contest briefing": ["Cup", "--briefing-at", "10:00"],
    "contest procedure": ["Cup", "--start-height", "1500m MSL"],
    "contest limits": ["Cup", "--shortest-leg", "10km"],
    "contest classes": ["Cup", "--class", "Club=60km/h..110km/h"],
    "contest edit": ["Cup", "--timezone", "Europe/Berlin"],
    "contest copy": ["Cup", "Cup 2"],
    "task new": ["C", "001", "003", "004", "001", "--contest", "Cup"],
    "task import": ["OUT/a.geojson", "--set", "region"],
    "task edit": ["A", "--drop", "1"],
    "task copy": ["A", "A2"],
    "task retire": ["A"],
    "task restore": ["A@1"],
    "task propose": [
        "--from",
        "001",
        "--shape",
        "out-and-return",
        "--distance",
        "80km..120km",
        "--set",
        "region",
        "--save",
        "P",
    ],
    "task choose": ["A"],
    "task cancel": ["A"],
    "task flown": ["A", "--on", "2027-05-15"],
    "task fit": ["B", "--slowest", "70km/h", "--fastest", "90km/h", "--time", "2:30", "--save", "B"],
    "flight read": ["DEMO/flights", "--task", "A", "--save"],
    "task carry": ["B", "--to", "region"],
    "task refresh": ["A"],
    "task update": ["--contest", "Cup"],
    "handout": ["--contest", "Cup", "--day", "1", "--to", "OUT/day"],
    "store dump": ["OUT/preview.dump"],
    "undo": [],
}
LIKE_THE_OWNER = {"set import", "set apply", "check fix", "task new", "task carry", "undo"}
NOT_PREVIEWED = {"store upgrade", "store backup", "store load"}
"""Of the store's owner: a server is backed up by its own tools, and loaded into when it is empty."""


def fill(taskdb, url: str, folder: Path) -> None:
    """Fill an empty store with something of every noun; what the commands need beside it goes to folder/out."""
    points = ("001", "003", "004", "001")
    for words in (
        ("set", "import", DEMO / "region.csv", "--into", "region"),
        ("set", "import", DEMO / "mends.csv", "--into", "region"),
        ("airspace", "import", DEMO / "airspace.geojson", "--into", "varn"),
        ("airspace", "add", "varn", "North", "--through", "001", "003", "004"),
        ("contest", "new", "Cup", "--set", "region"),
        ("task", "new", "A", *points, "--contest", "Cup"),
        ("task", "new", "B", "001", "003", "area 20km", "004", "area 20km", "001", "--set", "region"),
        ("contest", "day", "Cup", "1", "--date", "2027-05-14"),
        ("task", "flown", "A", "--on", "2027-05-14", "--best", "101km/h"),
        ("export", "task", "A", "--format", "geojson", "--to", folder / "before"),
    ):
        assert taskdb(*words, "--store", url).exit_code is ExitCode.DONE
    (folder / "out").mkdir()
    (exported,) = (folder / "before").glob("*.geojson")
    exported.rename(folder / "out" / "a.geojson")


def reading_lines(taskdb, url: str, folder: Path) -> dict[str, list[str]]:
    """Return the words of every command that keeps nothing, for a store that `fill` filled."""
    distance = taskdb("task", "show", "B", "--store", url, "--json").result()["distance"]
    middle = f"{(distance['minimum_m'] + distance['maximum_m']) / 2000:.0f}km"
    places = {"OUT": str(folder / "out"), "DEMO": str(DEMO), "MIDDLE": middle}
    lines = {}
    for name, words in {**READING, **SHOWING}.items():
        line = list(words)
        for sign, place in places.items():
            line = [word.replace(sign, place) for word in line]
        lines[name] = [*name.split(), *line]
    return lines


@pytest.fixture
def filled(taskdb, tmp_path) -> Iterator[str]:
    """Return the URL of a filled store for its owner."""
    url, drop = new_database()
    fill(taskdb, url, tmp_path)
    yield url
    drop()


@contextmanager
def account(url: str, *grants: str) -> Iterator[str]:
    """Yield a store's URL for an account that has these rights in it and no others."""
    name = f"account_{uuid.uuid4().hex[:12]}"
    engine = create_engine(url, isolation_level="AUTOCOMMIT", poolclass=NullPool)
    with engine.connect() as c:
        c.exec_driver_sql(f"CREATE ROLE {name} LOGIN")
        for grant in grants:
            c.exec_driver_sql(f"GRANT {grant} IN SCHEMA public TO {name}")
    yield make_url(url).set(username=name).render_as_string(hide_password=False)
    with engine.connect() as c:
        c.exec_driver_sql(f"DROP OWNED BY {name}")
        c.exec_driver_sql(f"DROP ROLE {name}")


@pytest.fixture
def reader(filled) -> Iterator[str]:
    with account(filled, "SELECT ON ALL TABLES") as url:
        yield url


@pytest.fixture
def writer(filled) -> Iterator[str]:
    with account(filled, "SELECT, INSERT, UPDATE, DELETE ON ALL TABLES", "USAGE ON ALL SEQUENCES") as url:
        yield url


def test_every_command_that_keeps_nothing_is_tried() -> None:
    assert {entry.name for entry in COMMANDS if not entry.writes} == set(READING)
    assert set(SHOWING) <= {entry.name for entry in COMMANDS if entry.writes}


def test_an_account_that_may_only_read_does_all_that_keeps_nothing(taskdb, reader, tmp_path):
    for name, words in reading_lines(taskdb, reader, tmp_path).items():
        done = taskdb(*words, "--store", reader)
        assert done.exit_code in (ExitCode.DONE, ExitCode.ACT), f"{name}: {done.stderr}"
        assert done.exit_code is ExitCode.DONE or name == "check run", name


def test_every_command_that_writes_is_previewed() -> None:
    assert {entry.name for entry in COMMANDS if entry.writes} == set(PREVIEWED) | NOT_PREVIEWED


def test_an_account_that_may_only_read_previews_all_that_writes(taskdb, filled, reader, tmp_path):
    for words in (
        ("set", "import", DEMO / "region.csv", "--into", "old"),
        ("set", "patch", "region@1", "region", "--to", tmp_path / "out" / "region.patch.json"),
        ("waypoint", "retire", "region:005", "--yes"),
        ("task", "new", "D", "001", "003", "004", "001", "--contest", "Cup", "--day", "1"),
    ):
        assert taskdb(*words, "--store", filled).exit_code is ExitCode.DONE
    findings = taskdb("check", "run", "region", "--json", "--store", filled).result()["findings"]
    of_old = taskdb("check", "run", "old", "--json", "--store", filled).result()["findings"]
    mend = next(f["id"] for f in of_old if f["suggestion"] is not None)
    before = taskdb("log", "--json", "--store", filled).result()
    for name, words in PREVIEWED.items():
        typed = [str(w).replace("OUT", str(tmp_path / "out")).replace("DEMO", str(DEMO)) for w in words]
        typed = [w.replace("FINDING", findings[0]["id"]).replace("MEND", mend) for w in typed]
        asked = (*name.split(), *typed, "--preview", "--json", "--store")
        as_reader = taskdb(*asked, reader)
        assert as_reader.exit_code is ExitCode.DONE, f"{name}: {as_reader.stdout}"
        assert as_reader.result()["preview"] is True
        if name in LIKE_THE_OWNER:
            assert _said(as_reader.stdout) == _said(taskdb(*asked, filled).stdout), name
    assert taskdb("log", "--json", "--store", filled).result() == before
    assert not (tmp_path / "out" / "day").exists()


def _said(stdout: str) -> object:
    """Return what a preview says, without what is drawn at random or numbered by the server."""
    return re.sub(r'"(identity|at|created_at|changed_at|operation|store)":("[^"]*"|\d+)', "", stdout)


def test_an_account_that_may_only_read_is_told_that_it_cannot_write(taskdb, reader):
    done = taskdb("waypoint", "edit", "region:001", "--name", "x", "--store", reader)
    assert done.exit_code is ExitCode.STORE_UNUSABLE
    assert "hint:" in done.stderr and "right" in done.stderr


def test_an_account_that_may_write_needs_not_to_be_the_owner(taskdb, writer, tmp_path):
    rows = [f"X{i:05d},Field {i},{45 + i / 9000:.7f},{10 + i / 9000:.7f},400\n" for i in range(3000)]
    many = tmp_path / "many.csv"
    many.write_text("code,name,latitude_deg,longitude_deg,elevation_m\n" + "".join(rows))
    for words in (
        ("set", "import", many, "--into", "fields"),
        ("set", "import", DEMO / "region.csv", "--into", "region", "--mode", "replace", "--yes"),
        ("waypoint", "edit", "region:001", "--name", "Moved on"),
        ("waypoint", "retire", "region:002", "--yes"),
        ("contest", "pin", "Cup", "region"),
        ("task", "refresh", "A"),
        ("task", "new", "C", "001", "003", "004", "001", "--contest", "Cup", "--day", "1"),
        ("task", "carry", "B", "--to", "region"),
        ("handout", "--contest", "Cup", "--day", "1", "--to", tmp_path / "day", "--yes"),
        ("task", "retire", "C"),
        ("undo",),
        ("store", "verify"),
    ):
        done = taskdb(*words, "--store", writer)
        assert done.exit_code in (ExitCode.DONE, ExitCode.ACT), f"{words}: {done.stderr}"
