"""`taskdb publish` at the command line: what is said, the JSON, each exit code; the pages stand in tests/report."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from taskdb.errors import ExitCode
from taskdb.services.handing_out import publishing

REGION = """code,name,latitude_deg,longitude_deg,elevation_m,landable
001,Ormsau,48.8720000,11.8105000,389,aerodrome
002,Kelmried,48.5610000,11.5220000,467,
003,Tannwöhr,49.0510000,12.4730000,497,
"""


@pytest.fixture
def cup(taskdb, tmp_path: Path):
    path = tmp_path / "region.csv"
    path.write_text(REGION, encoding="utf-8")
    for words in (
        ("set", "import", path, "--into", "region"),
        ("contest", "new", "Cup", "--set", "region", "--site", "001"),
        ("task", "new", "A", "001", "003", "002", "001", "--contest", "Cup", "--day", "1"),
    ):
        assert taskdb(*words).exit_code == ExitCode.DONE
    return taskdb


def test_a_set_is_published_into_a_folder_and_a_zip_and_verified(cup, tmp_path: Path) -> None:
    done = cup("publish", "region", "--to", tmp_path / "site", "--json")
    assert done.exit_code == ExitCode.DONE and done.json()["schema"] == "taskdb.publish/1"
    result = done.result()
    assert (result["published"], result["count"], result["entry"]) == ("region@1", 3, "index.html")
    paths = {file["path"] for file in result["files"]}
    assert {"index.html", "waypoint.html", "list-001.html", "map.html", "files/region.gpx", "files/region.csv"} <= paths
    assert cup("export", "verify", tmp_path / "site").exit_code == ExitCode.DONE
    told = cup("publish", "region", "--to", tmp_path / "site.zip")
    assert told.exit_code == ExitCode.DONE and "region@1" in told.stdout and "index.html" in told.stdout
    assert cup("export", "verify", tmp_path / "site.zip").exit_code == ExitCode.DONE
    with zipfile.ZipFile(tmp_path / "site.zip") as archive:
        assert set(archive.namelist()) == paths | {"MANIFEST.json"}


def test_a_title_and_a_language_stand_on_every_page(cup, tmp_path: Path) -> None:
    cup("publish", "region", "--to", tmp_path / "site", "--language", "de", "--title", "Punkte um Ormsau")
    for path in (tmp_path / "site").glob("*.html"):
        page = path.read_text("utf-8")
        assert '<html lang="de">' in page and "Punkte um Ormsau" in page and "Eine Planungshilfe" in page


def test_a_contest_without_an_issued_task_says_so_and_names_none(cup, tmp_path: Path) -> None:
    done = cup("publish", "--contest", "Cup", "--to", tmp_path / "cup", "--json")
    assert done.result()["count"] == 0 and any("is issued" in warning for warning in done.json()["warnings"])
    cup("task", "choose", "A", "--contest", "Cup")
    done = cup("publish", "--to", tmp_path / "cup", env={"TASKDB_CONTEST": "Cup"})
    assert done.exit_code == ExitCode.DONE and "Cup@1" in done.stdout and "TASKDB_CONTEST" in done.stderr
    assert (tmp_path / "cup" / "task-Cup A.html").is_file()


def test_days_have_a_column_of_classes_where_a_task_has_one(cup, tmp_path: Path) -> None:
    cup("task", "choose", "A", "--contest", "Cup")
    cup("publish", "--contest", "Cup", "--to", tmp_path / "cup")
    days = tmp_path / "cup" / "index.html"
    assert days.read_text("utf-8").count('<th scope="col">') == 7 and ">class<" not in days.read_text("utf-8")
    cup("task", "new", "B", "001", "002", "003", "001", "--contest", "Cup", "--day", "2", "--class", "Club", "--yes")
    cup("task", "choose", "B", "--contest", "Cup")
    cup("publish", "--contest", "Cup", "--to", tmp_path / "cup")
    page = days.read_text("utf-8")
    assert page.count('<th scope="col">') == 2 * 8 and "<td><bdi>Club</bdi></td>" in page


def test_a_set_without_waypoints_and_one_of_a_single_waypoint_are_published(cup, tmp_path: Path) -> None:
    cup("waypoint", "retire", "002", "--set", "region", "--yes")
    cup("waypoint", "retire", "003", "--set", "region", "--yes")
    assert cup("publish", "region", "--to", tmp_path / "one", "--json").result()["count"] == 1
    cup("waypoint", "retire", "001", "--set", "region", "--yes")
    assert cup("publish", "region", "--to", tmp_path / "none", "--json").result()["count"] == 0
    assert "no longer" in (tmp_path / "none" / "changes.html").read_text("utf-8").lower()


def test_what_cannot_be_published_is_refused_with_the_way_out(cup, tmp_path: Path) -> None:
    to = str(tmp_path / "site")
    for words, code in (
        (("publish", "--to", to), "what-to-publish"),
        (("publish", "region", "--contest", "Cup", "--to", to), "what-to-publish"),
        (("publish", "region", "--to", to, "--attribution", "X"), "tiles-and-attribution"),
    ):
        refused = cup(*words, "--json")
        assert refused.exit_code == ExitCode.USAGE and refused.error()["code"] == code and refused.error()["hint"]
    assert cup("publish", "nowhere", "--to", to).exit_code == ExitCode.NOT_FOUND
    assert cup("publish", "region@7", "--to", to).exit_code == ExitCode.NOT_FOUND
    assert cup("publish", "--contest", "Nobody", "--to", to).exit_code == ExitCode.NOT_FOUND
    assert cup("publish", "region", "--to", to, "--language", "fr").exit_code == ExitCode.USAGE
    empty = tmp_path / "empty"
    empty.mkdir()
    none = cup("publish", "region", "--to", to, "--tiles", empty, "--attribution", "X")
    assert none.exit_code == ExitCode.INPUT_UNUSABLE
    assert not Path(to).exists()
    Path(to).mkdir()
    (Path(to) / "index.html").write_text("somebody's own", "utf-8")
    assert cup("publish", "region", "--to", to).exit_code == ExitCode.REFUSED
    assert (Path(to) / "index.html").read_text("utf-8") == "somebody's own"
    assert cup("publish", "region", "--to", to, "--yes").exit_code == ExitCode.DONE


def test_without_the_map_library_it_is_said_how_maps_move(cup, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(publishing, "load_leaflet", lambda: None)
    done = cup("publish", "region", "--to", tmp_path / "site")
    assert done.exit_code == ExitCode.DONE and "taskdb[map]" in done.stderr
    assert not (tmp_path / "site" / "leaflet.js").exists()
