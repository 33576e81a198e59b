"""A contest's day handed out in one command: what was chosen, nothing else, and every value that changed since."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest

from taskdb.core.contests.days import DayChange
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import ContestClass, Role
from taskdb.errors import ExitCode, NotFoundError, RefusedError
from taskdb.files.pack import verify_pack
from taskdb.services.contests.contest import NewContest, new_contest, pin_contest, set_contest_zones
from taskdb.services.contests.day import set_day
from taskdb.services.contests.settings import set_classes
from taskdb.services.desk import NeedsConfirmation
from taskdb.services.handing_out.handout import HandoutRequest, hand_out, handouts_of_task
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.store.undo import undo
from taskdb.services.tasks.flown import cancel_task, choose_task
from taskdb.services.tasks.task import NewTask, PointRequest, TaskEdit, edit_task, new_task, retire_task
from tests.services.conftest import REGION


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    dates = {"from_date": "2027-05-14", "to_date": "2027-05-20"}
    new_contest(desk, NewContest("Cup", "region", site="001", timezone="Europe/Berlin", **dates), write())
    set_classes(desk, "Cup", (ContestClass("Club"), ContestClass("Open")), (), write())
    set_day(desk, "Cup", 1, DayChange(date="2027-05-14", start_opens="13:15", speed_kmh=90), write())
    make(desk, write, "A", "001", "003", "004", "001", class_name="Club", time_s=7200)
    make(desk, write, "B", "001", "002", "005", "001", class_name="Open")
    make(desk, write, "Other", "001", "002", "001", day=2)


@pytest.fixture
def cup(built, write, csv_file):
    return built(filled, write, csv_file)


def points(*codes):
    return tuple(PointRequest(code) for code in codes)


def make(desk, write, name, *codes, day=1, **values):
    new_task(desk, NewTask(name, points(*codes), contest="Cup", day=day, **values), write())


def out(cup, write, target, **given):
    return hand_out(cup, HandoutRequest("Cup", 1, str(target), **given), write("handout", confirmed=True))


def note(folder: Path) -> str:
    return (folder / "CHANGES.txt").read_bytes().decode()


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
    assert "First hand-out of this day." in note(tmp_path / "day")


def test_a_second_hand_out_tells_each_value_old_and_new(cup, write, tmp_path):
    out(cup, write, tmp_path / "first", to_whom="the pilots")
    edit_task(cup, "A", TaskEdit(points=((1, "002"), (2, "005"))), write())
    (handed,) = handouts_of_task(cup, "A")
    assert handed.entry.to_whom == "the pilots" and handed.entry.revision == 1
    told = {(value.label): (value.old, value.new) for value in handed.values}
    assert told["points"] == ("001 – 003 – 004 – 001", "001 – 002 – 005 – 001")
    again = out(cup, write, tmp_path / "second.zip")
    a, b = again.sheets
    assert (a.changes[0].old.revision, a.changes[0].new.revision) == (1, 2)
    assert a.changes[0].old.fingerprint != a.changes[0].new.fingerprint
    # Of the other class only what it has to do with this one: A no longer comes home against it.
    assert {value.label for change in b.changes for value in change.values} == {"other classes"} and not b.is_new
    with zipfile.ZipFile(tmp_path / "second.zip") as archive:
        told = archive.read("CHANGES.txt").decode()
        sheet = archive.read("task-sheet.html").decode()
    assert "points: 001 – 003 – 004 – 001 → 001 – 002 – 005 – 001" in told
    assert sheet.count('<b class="mark">Changed</b>') == 2
    assert a.changes[0].old.fingerprint in sheet.partition('class="note changed"')[2]
    assert [bool(h.values) for h in handouts_of_task(cup, "A")] == [False, True]


def test_what_the_contest_changed_is_told_although_no_task_was_touched(cup, write, tmp_path):
    out(cup, write, tmp_path / "day")
    set_day(cup, "Cup", 1, DayChange(start_opens="14:00"), write())
    done = out(cup, write, tmp_path / "day")
    assert done.tasks == ("A@1", "B@1")
    for sheet in done.sheets:
        assert any("13:15" in str(v.old) and "14:00" in str(v.new) and not v.follows for v in sheet.changes[0].values)
    assert "13:15" in note(tmp_path / "day") and "unchanged" not in note(tmp_path / "day")


def test_a_default_that_moved_on_under_a_task_is_told_as_out_of_date(cup, write, tmp_path):
    out(cup, write, tmp_path / "day")
    set_contest_zones(cup, "Cup", {Role.TURN: parse_zone("cylinder 3km")}, write())
    with pytest.raises(NeedsConfirmation):
        hand_out(cup, HandoutRequest("Cup", 1, str(tmp_path / "day")), write("handout"))
    done = out(cup, write, tmp_path / "day")
    told = [v for v in done.sheets[0].changes[0].values if v.what == "out of date"]
    assert told and all(v.old is None and "'cylinder 3km'" in v.new for v in told)


def test_who_holds_the_first_of_three_sheets_reads_all_that_changed_since(cup, write, tmp_path):
    out(cup, write, tmp_path / "day")
    set_day(cup, "Cup", 1, DayChange(start_opens="14:00"), write())
    out(cup, write, tmp_path / "day")
    edit_task(cup, "A", TaskEdit(values={"time_s": 9000}), write())
    done = out(cup, write, tmp_path / "day")
    newest, first = done.sheets[0].changes
    assert not any("13:15" in str(v.old) for v in newest.values)
    assert any("13:15" in str(v.old) for v in first.values) and any(v.new == "2:30" for v in first.values)
    # The other class has no news since the second sheet; that of the first is told to whoever still holds it.
    (since_first,) = done.sheets[1].changes
    assert any("13:15" in str(v.old) for v in since_first.values)


def test_the_same_day_makes_the_same_bytes(cup, write, tmp_path):
    out(cup, write, tmp_path / "a.zip")
    out(cup, write, tmp_path / "b.zip")
    changed = {"CHANGES.txt", "MANIFEST.json"}
    with zipfile.ZipFile(tmp_path / "a.zip") as a, zipfile.ZipFile(tmp_path / "b.zip") as b:
        assert a.namelist() == b.namelist()
        assert {n for n in a.namelist() if a.read(n) != b.read(n)} <= changed


# -- only what was chosen ----------------------------------------------------------------------------------------


def test_what_is_issued_goes_out_and_its_variants_stay_at_home(cup, write, tmp_path):
    make(cup, write, "A2", "001", "004", "001", class_name="Club", variant="B")
    with pytest.raises(RefusedError) as refused:
        out(cup, write, tmp_path / "day")
    assert refused.value.code == "none-issued" and refused.value.details["choices"] == [["A", "A2"]]
    assert not (tmp_path / "day").exists()
    choose_task(cup, "A2", None, write())
    done = out(cup, write, tmp_path / "day")
    assert done.tasks == ("A2@2", "B@1") and done.unissued == ("B",)
    assert not list((tmp_path / "day").glob("Cup A.*"))


def test_proposals_go_out_marked_on_page_file_name_and_description(cup, write, tmp_path):
    make(cup, write, "A2", "001", "004", "001", class_name="Club", variant="B")
    choose_task(cup, "B", None, write())
    done = out(cup, write, tmp_path / "day", proposed=True)
    assert done.tasks == ("A@1", "A2@1", "B@2")
    names = {path.name for path in (tmp_path / "day").iterdir()}
    assert {"Cup A (proposed, not issued).gpx", "Cup A2 (proposed, not issued).svg", "Cup B.gpx"} <= names
    for suffix in ("gpx", "kml", "geojson", "igc", "svg"):
        text = (tmp_path / f"day/Cup A (proposed, not issued).{suffix}").read_text(encoding="utf-8")
        assert "proposed, not issued" in text.lower(), suffix
        assert "proposed" not in (tmp_path / f"day/Cup B.{suffix}").read_text(encoding="utf-8").lower()
    sheet = (tmp_path / "day/task-sheet.html").read_text(encoding="utf-8")
    # The page of the class's two variants, and their own two.
    assert sheet.count("proposed, not issued") == 4


def test_the_page_of_variants_is_that_of_one_class(cup, write, tmp_path):
    make(cup, write, "A2", "001", "004", "001", class_name="Club", variant="B")
    make(cup, write, "B2", "001", "005", "001", class_name="Open", variant="B")
    out(cup, write, tmp_path / "day", proposed=True)
    sheet = (tmp_path / "day/task-sheet.html").read_text(encoding="utf-8")
    pages = sheet.split("<h1>Variants")[1:]
    assert [page.partition("</section>")[0].count('class="variant"') for page in pages] == [2, 2]


def test_no_proposal_takes_the_place_of_a_cancelled_task_unseen(cup, write, tmp_path):
    make(cup, write, "A2", "001", "004", "001", class_name="Club", variant="B")
    choose_task(cup, "A", None, write())
    out(cup, write, tmp_path / "day")
    cancel_task(cup, "A", write())
    done = out(cup, write, tmp_path / "day")
    assert done.tasks == ("B@1",) and done.at_home == ("A2",)
    assert [(w.task, w.why) for w in done.withdrawn] == [("A", "cancelled")]


# -- nothing dead ------------------------------------------------------------------------------------------------


def test_a_cancelled_task_leaves_one_page_that_says_so_and_no_file(cup, write, tmp_path):
    folder = tmp_path / "day"
    out(cup, write, folder)
    cancel_task(cup, "A", write())
    done = out(cup, write, folder)
    assert done.tasks == ("B@1",) and not list(folder.glob("Cup A.*"))
    assert verify_pack(folder) == []
    assert "A: NO LONGER VALID: cancelled." in note(folder)
    sheet = (folder / "task-sheet.html").read_text(encoding="utf-8")
    first_page = sheet.partition("</section>")[0]
    assert "No longer valid" in first_page and "<bdi>A</bdi>" in first_page and "cancelled" in first_page
    # It is told again to whoever looks later.
    assert [w.task for w in out(cup, write, folder).withdrawn] == ["A"]


def test_a_day_of_which_all_is_cancelled_says_so(cup, write, tmp_path):
    out(cup, write, tmp_path / "day")
    cancel_task(cup, "A", write())
    retire_task(cup, "B", write())
    done = out(cup, write, tmp_path / "day")
    assert done.tasks == () and [(w.task, w.why) for w in done.withdrawn] == [("A", "cancelled"), ("B", "retired")]
    assert sorted(p.name for p in (tmp_path / "day").iterdir()) == ["CHANGES.txt", "MANIFEST.json", "task-sheet.html"]


def test_a_replaced_task_names_what_is_flown_instead(cup, write, tmp_path):
    choose_task(cup, "A", None, write())
    out(cup, write, tmp_path / "day")
    make(cup, write, "A2", "001", "004", "001", class_name="Club", variant="B")
    choose_task(cup, "A2", None, write())
    done = out(cup, write, tmp_path / "day")
    assert [(w.task, w.why) for w in done.withdrawn] == [("A", "replaced; A2 is flown instead")]


def test_another_contest_in_the_same_folder_leaves_nothing_of_the_first(cup, write, tmp_path):
    folder = tmp_path / "day"
    out(cup, write, folder)
    new_contest(cup, NewContest("Fly-in", "region", site="001"), write())
    new_task(cup, NewTask("F", points("001", "002", "001"), contest="Fly-in", day=1), write())
    hand_out(cup, HandoutRequest("Fly-in", 1, str(folder)), write("handout", confirmed=True))
    assert not list(folder.glob("Cup *")) and list(folder.glob("Fly-in F.*"))
    assert verify_pack(folder) == []


def test_a_zip_is_written_whole(cup, write, tmp_path):
    out(cup, write, tmp_path / "day.zip")
    cancel_task(cup, "A", write())
    out(cup, write, tmp_path / "day.zip")
    with zipfile.ZipFile(tmp_path / "day.zip") as archive:
        assert not [name for name in archive.namelist() if name.startswith("Cup A.")]
    assert verify_pack(tmp_path / "day.zip") == []


def test_a_file_that_somebody_changed_is_not_taken_away_unasked(cup, write, tmp_path):
    folder = tmp_path / "day"
    out(cup, write, folder)
    (folder / "Cup A.gpx").write_text("mended by hand")
    cancel_task(cup, "A", write())
    with pytest.raises(RefusedError) as refused:
        hand_out(cup, HandoutRequest("Cup", 1, str(folder)), write("handout"))
    assert refused.value.details["files"] == ["Cup A.gpx"]
    assert len(handouts_of_task(cup, "A")) == 1


# -- as before ---------------------------------------------------------------------------------------------------


def test_a_stale_task_is_refused_with_the_list_unless_confirmed(cup, write, tmp_path, csv_file):
    import_set(cup, ImportRequest(csv_file("003,Tannwöhr,49.0511000,12.4730000,497\n"), "region"), write())
    pin_contest(cup, "Cup", "region@2", write())
    with pytest.raises(NeedsConfirmation) as refused:
        hand_out(cup, HandoutRequest("Cup", 1, str(tmp_path / "x")), write())
    assert refused.value.exit_code is ExitCode.REFUSED
    assert any("A is stale" in fault for fault in refused.value.details["faults"])
    assert not (tmp_path / "x").exists() and handouts_of_task(cup, "A") == ()
    assert out(cup, write, tmp_path / "x").number == 1


def test_a_day_without_tasks_is_not_found(cup, write, tmp_path):
    with pytest.raises(NotFoundError):
        hand_out(cup, HandoutRequest("Cup", 7, str(tmp_path / "y")), write())


def test_a_preview_writes_nothing_and_keeps_nothing(cup, write, tmp_path):
    done = hand_out(cup, HandoutRequest("Cup", 1, str(tmp_path / "x")), write(preview=True, confirmed=True))
    assert done.number is None and len(done.pack.files) > 10
    assert not (tmp_path / "x").exists() and handouts_of_task(cup, "A") == ()


def test_a_folder_that_cannot_be_written_keeps_nothing_in_the_store(cup, write, tmp_path):
    Path(tmp_path / "x").write_text("a file")
    with pytest.raises(RefusedError):
        out(cup, write, tmp_path / "x")
    assert handouts_of_task(cup, "A") == ()


def test_what_was_handed_out_is_no_work_to_undo(cup, write, tmp_path):
    out(cup, write, tmp_path / "x")
    undo(cup, None, write("undo", confirmed=True))
    assert len(handouts_of_task(cup, "B")) == 1


def test_points_round_the_site_come_along_where_asked_for(cup, write, tmp_path):
    retire_task(cup, "B", write())
    # From 001 it is about 25 km to 005 and 40 km to 002 (computed).
    out(cup, write, tmp_path / "x", within_m=30_000.0)
    rows = (tmp_path / "x/points.csv").read_text(encoding="utf-8").splitlines()
    assert [row.split(",")[0] for row in rows[1:]] == ["001", "003", "004", "005"]
