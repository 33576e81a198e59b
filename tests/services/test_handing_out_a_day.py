"""A contest's day handed out in one command: everything in one pack, kept in the store, and told when it changes."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest

from taskdb.errors import ExitCode, NotFoundError
from taskdb.files.pack import verify_pack
from taskdb.services.contests import NewContest, new_contest
from taskdb.services.day import DayChange, set_day
from taskdb.services.desk import NeedsConfirmation
from taskdb.services.flown import cancel_task
from taskdb.services.handout_day import HandoutRequest, hand_out, handouts_of_task
from taskdb.services.set_import import ImportRequest, import_set
from taskdb.services.tasks import NewTask, PointRequest, TaskEdit, edit_task, new_task
from taskdb.services.undo import undo
from tests.services.conftest import REGION


@pytest.fixture
def cup(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    dates = {"from_date": "2027-05-14", "to_date": "2027-05-20"}
    new_contest(desk, NewContest("Cup", "region", site="001", timezone="Europe/Berlin", **dates), write())
    set_day(desk, "Cup", 1, DayChange(date="2027-05-14", start_opens="13:15", speed_kmh=90), write())
    new_task(desk, NewTask("A", points("001", "003", "004", "001"), contest="Cup", day=1, time_s=7200), write())
    new_task(desk, NewTask("B", points("001", "002", "005", "001"), contest="Cup", day=1, variant="B"), write())
    new_task(desk, NewTask("Other", points("001", "002", "001"), contest="Cup", day=2), write())
    return desk


def points(*codes):
    return tuple(PointRequest(code) for code in codes)


def out(cup, write, target, **given):
    return hand_out(cup, HandoutRequest("Cup", 1, str(target), **given), write("handout", confirmed=True))


def test_a_day_is_handed_out_whole(cup, write, tmp_path):
    done = out(cup, write, tmp_path / "day", to_whom="the pilots")
    assert done.tasks == ("A@1", "B@1") and done.number == 1
    files = {path.name for path in (tmp_path / "day").iterdir()}
    for task in ("Cup A", "Cup B"):
        assert {f"{task}.{suffix}" for suffix in ("gpx", "kml", "geojson", "csv", "igc", "svg")} <= files
    assert {"task-sheet.html", "points.gpx", "points.csv", "CHANGES.txt", "MANIFEST.json"} <= files
    assert verify_pack(tmp_path / "day") == []
    entries = {e["path"]: e for e in json.loads((tmp_path / "day/MANIFEST.json").read_text(encoding="utf-8"))["files"]}
    assert entries["Cup A.gpx"]["on_set"] == "region@1" and len(entries["Cup A.gpx"]["fingerprint"]) == 9
    used = (tmp_path / "day/points.csv").read_text(encoding="utf-8").splitlines()
    assert [row.split(",")[0] for row in used[1:]] == ["001", "002", "003", "004", "005"]
    # The flight date of a declaration is the day's.
    assert "HFDTE140527" in (tmp_path / "day/Cup A.igc").read_text(encoding="ascii")


def test_a_later_look_says_what_differs_from_what_was_handed_out(cup, write, tmp_path):
    out(cup, write, tmp_path / "first", to_whom="the pilots")
    edit_task(cup, "A", TaskEdit(points=((1, "002"), (2, "005"))), write())
    (handed,) = handouts_of_task(cup, "A")
    assert handed.entry.to_whom == "the pilots" and handed.entry.revision == 1
    assert handed.since.startswith("2 points differ (")
    assert handed.since.endswith(f"from what was handed out at {handed.entry.at}")
    again = out(cup, write, tmp_path / "second.zip")
    assert "A@2: 2 points differ" in again.changes[0] and "B@1: unchanged" in again.changes[1]
    with zipfile.ZipFile(tmp_path / "second.zip") as archive:
        assert "2 points differ" in archive.read("CHANGES.txt").decode()
    assert [h.since.split()[0] for h in handouts_of_task(cup, "A")] == ["unchanged", "2"]


def test_the_same_day_makes_the_same_bytes(cup, write, tmp_path):
    out(cup, write, tmp_path / "a.zip")
    out(cup, write, tmp_path / "b.zip")
    changed = {"CHANGES.txt", "MANIFEST.json"}
    with zipfile.ZipFile(tmp_path / "a.zip") as a, zipfile.ZipFile(tmp_path / "b.zip") as b:
        assert a.namelist() == b.namelist()
        assert {n for n in a.namelist() if a.read(n) != b.read(n)} <= changed


def test_a_stale_task_is_refused_with_the_list_unless_confirmed(cup, write, tmp_path, csv_file):
    from taskdb.services.contests import pin_contest

    import_set(cup, ImportRequest(csv_file("003,Tannwöhr,49.0511000,12.4730000,497\n"), "region"), write())
    pin_contest(cup, "Cup", "region@2", write())
    with pytest.raises(NeedsConfirmation) as refused:
        hand_out(cup, HandoutRequest("Cup", 1, str(tmp_path / "x")), write())
    assert refused.value.exit_code is ExitCode.REFUSED
    assert any("A is stale" in fault for fault in refused.value.details["faults"])
    assert not (tmp_path / "x").exists() and handouts_of_task(cup, "A") == ()
    assert out(cup, write, tmp_path / "x").number == 1


def test_cancelled_tasks_stay_behind_and_a_day_without_tasks_is_not_found(cup, write, tmp_path):
    cancel_task(cup, "B", write())
    assert out(cup, write, tmp_path / "x").tasks == ("A@1",)
    with pytest.raises(NotFoundError):
        hand_out(cup, HandoutRequest("Cup", 7, str(tmp_path / "y")), write())


def test_a_preview_writes_nothing_and_keeps_nothing(cup, write, tmp_path):
    done = hand_out(cup, HandoutRequest("Cup", 1, str(tmp_path / "x")), write(preview=True, confirmed=True))
    assert done.number is None and len(done.pack.files) > 10
    assert not (tmp_path / "x").exists() and handouts_of_task(cup, "A") == ()


def test_a_folder_that_cannot_be_written_keeps_nothing_in_the_store(cup, write, tmp_path):
    from taskdb.errors import RefusedError

    Path(tmp_path / "x").write_text("a file")
    with pytest.raises(RefusedError):
        out(cup, write, tmp_path / "x")
    assert handouts_of_task(cup, "A") == ()


def test_what_was_handed_out_is_no_work_to_undo(cup, write, tmp_path):
    out(cup, write, tmp_path / "x")
    undo(cup, None, write("undo", confirmed=True))
    assert len(handouts_of_task(cup, "A")) == 1


def test_points_round_the_site_come_along_where_asked_for(cup, write, tmp_path):
    cancel_task(cup, "B", write())
    # From 001 it is about 25 km to 005 and 40 km to 002 (computed).
    out(cup, write, tmp_path / "x", within_m=30_000.0)
    rows = (tmp_path / "x/points.csv").read_text(encoding="utf-8").splitlines()
    assert [row.split(",")[0] for row in rows[1:]] == ["001", "003", "004", "005"]
