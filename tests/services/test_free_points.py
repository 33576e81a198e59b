"""A modified task whole: free points from where, how many, again or not, their zone, on this set and the next."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from taskdb.core.course.free import free_words
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Role, TaskType, ZoneFrom
from taskdb.errors import NotFoundError, RefusedError, UsageError
from taskdb.services.contests.contest import NewContest, new_contest, set_contest_zones
from taskdb.services.handing_out.exporting import TaskChoice, export_tasks
from taskdb.services.sets.importing import ImportRequest, Mode, import_set
from taskdb.services.tasks.carrying import CarryRequest, carry_tasks, refresh_tasks
from taskdb.services.tasks.checking import Verdict, check_task
from taskdb.services.tasks.free_points import FreeRequest
from taskdb.services.tasks.importing import TaskImportRequest, import_tasks
from taskdb.services.tasks.task import NewTask, PointRequest, TaskEdit, edit_task, new_task, show_task, task_log
from taskdb.services.waypoints.editing import retire_waypoint
from tests.services.conftest import REGION


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())


@pytest.fixture
def region(built, write, csv_file):
    return built(filled, write, csv_file)


def modified(desk, write, free=None, name="M", **given):
    points = tuple(PointRequest(code) for code in ("001", "003", "001"))
    return new_task(desk, NewTask(name, points, type=TaskType.MODIFIED, time_s=10_800, free=free, **given), write())


def test_without_a_word_they_are_any_number_of_the_tasks_set_with_the_zone_of_a_turn_point(region, write):
    new_contest(region, NewContest("Cup", "region", zones={Role.TURN: parse_zone("cylinder 1km")}), write())
    free = modified(region, write, contest="Cup").task.free
    assert (free.most_points, free.from_set, free.from_codes, free.no_repeat) == (None, "region@1", (), False)
    assert (free.zone.text, free.zone_from) == ("cylinder 1km", ZoneFrom.CONTEST)
    assert free_words(free) == (
        "After the last assigned point the pilot chooses any number of further points from the set region@1; a point "
        "may come again, also twice in a row. At each: cylinder, radius 1 km."
    )


def test_codes_are_looked_up_in_the_tasks_set_and_a_single_one_is_no_set(region, write):
    free = modified(region, write, FreeRequest(4, "Kelmried, 4", True, parse_zone("cylinder 2km"))).task.free
    assert (free.most_points, free.from_set, free.from_codes, free.no_repeat) == (4, None, ("002", "004"), True)
    assert (free.zone.text, free.zone_from) == ("cylinder 2km", ZoneFrom.OWN)
    assert modified(region, write, FreeRequest(chosen_from="004"), name="N").task.free.from_codes == ("004",)
    assert modified(region, write, FreeRequest(chosen_from="region"), name="O").task.free.from_set == "region@1"
    with pytest.raises(NotFoundError) as missing:
        modified(region, write, FreeRequest(chosen_from="004,999,888"), name="P")
    assert len(missing.value.details["lines"]) == 2
    with pytest.raises(UsageError):
        new_task(
            region, NewTask("Q", tuple(map(PointRequest, ("001", "003"))), free=FreeRequest(no_repeat=True)), write()
        )


def test_a_line_is_no_zone_of_a_free_point(region, write):
    with pytest.raises(RefusedError, match="line"):
        modified(region, write, FreeRequest(zone=parse_zone("line 1km 040")))


def test_editing_changes_what_is_named_and_the_log_says_old_and_new(region, write):
    before = modified(region, write, FreeRequest(4, "002,004"))
    after = edit_task(region, "M", TaskEdit(free=FreeRequest(0, zone=parse_zone("cylinder 3km"))), write())
    assert (after.task.free.most_points, after.task.free.from_codes) == (None, ("002", "004"))
    assert after.fingerprint != before.fingerprint
    (newest, _) = task_log(region, "M")[1]
    assert newest.changes == (
        "free points up to 4 → any number",
        "zone of free points cylinder, radius 500 m → cylinder, radius 3 km",
    )
    plain = edit_task(region, "M", TaskEdit(values={"type": TaskType.RACING}), write())
    assert plain.task.free is None


def test_a_free_point_that_is_retired_or_a_default_that_moved_on_makes_the_task_stale(region, write):
    new_contest(region, NewContest("Cup", "region"), write())
    modified(region, write, FreeRequest(chosen_from="002,004"))
    modified(region, write, FreeRequest(chosen_from="002,004"), name="C", contest="Cup")
    assert show_task(region, "M").stale == ()
    retire_waypoint(region, "region:004", write())
    assert any(
        "free point (004 Greifenlohe) is retired in region@2" in reason for reason in show_task(region, "M").stale
    )
    set_contest_zones(region, "Cup", {Role.TURN: parse_zone("cylinder 2km")}, write())
    assert any("free points took the default 'cylinder 500m'" in reason for reason in show_task(region, "C").stale)
    (outcome,) = refresh_tasks(region, ["C"], None, write())
    assert outcome.revision == 2
    assert show_task(region, "C").task.free.zone.text == "cylinder 2km"


def test_the_free_points_go_to_the_next_set_by_the_matching_and_a_lost_one_is_left_to_a_person(region, write, csv_file):
    modified(region, write, FreeRequest(chosen_from="002,004", zone=parse_zone("cylinder 2km")), name="codes")
    modified(region, write, FreeRequest(chosen_from="region"), name="whole")
    # The next list: one row inserted, so that every code behind it names another place; 005 alone is gone.
    names = [row.split(",", 1)[1] for row in REGION.splitlines()]
    rows = [names[0], "Neudorf,48.1000000,11.1000000,400", *names[1:4]]
    text = "".join(f"{number:03d},{row}\n" for number, row in enumerate(rows, start=1))
    import_set(region, ImportRequest(csv_file(text), "next"), write())
    (outcome,) = carry_tasks(region, CarryRequest(("codes",), to="next"), write())
    moved = [(p.label, p.code, p.new_code) for p in outcome.points if p.number is None]
    assert moved == [("free point", "002", "003"), ("free point", "004", "005")]
    free = show_task(region, "codes").task.free
    assert (free.from_codes, free.zone.text, free.zone_from) == (("003", "005"), "cylinder 2km", ZoneFrom.OWN)
    carry_tasks(region, CarryRequest(("whole",), to="next"), write())
    assert show_task(region, "whole").task.free.from_set == "next@1"
    modified(region, write, FreeRequest(chosen_from="004,005"), name="lost", set_reference="region")
    (left,) = carry_tasks(region, CarryRequest(("lost",), to="next"), write())
    assert left.revision is None
    assert [(doubt.label, doubt.code) for doubt in left.unresolved] == [("free point", "005")]
    (done,) = carry_tasks(region, CarryRequest(("lost",), to="next", mapping={"005": "002"}), write())
    assert show_task(region, "lost").task.free.from_codes == ("005", "002") and done.revision == 2


def test_the_points_that_may_be_chosen_go_out_with_the_task(region, write, tmp_path):
    modified(region, write, FreeRequest(chosen_from="002,004"))
    export_tasks(region, TaskChoice(("M",)), formats=["csv"], to=str(tmp_path / "codes"), with_points=True)
    codes = [line[:3] for line in (tmp_path / "codes/points.csv").read_text().splitlines()[1:]]
    assert codes == ["001", "002", "003", "004"]
    modified(region, write, name="W")
    export_tasks(region, TaskChoice(("W",)), formats=["csv"], to=str(tmp_path / "whole"), with_points=True)
    assert len((tmp_path / "whole/points.csv").read_text().splitlines()) == 6


@pytest.mark.parametrize("format", ["gpx", "kml", "geojson"])
def test_a_file_brings_them_back_whole_and_is_held_against_the_task(region, write, tmp_path: Path, format):
    made = modified(region, write, FreeRequest(4, "002,004", True, parse_zone("cylinder 2km")))
    pack = export_tasks(region, TaskChoice(("M",)), formats=[format], to=str(tmp_path))
    path = str(tmp_path / f"M.{format}")
    assert any("left to the pilot" in lost for lost in pack.files[0].lost)
    assert check_task(region, "M", path).verdict is Verdict.SAME
    imported = import_tasks(region, TaskImportRequest(path, None, "region", "{name} again"), write())
    assert show_task(region, imported.tasks[0].task).task.free == made.task.free
    edit_task(region, "M", TaskEdit(free=FreeRequest(zone=parse_zone("cylinder 3km"))), write())
    checked = check_task(region, "M", path)
    assert checked.verdict is Verdict.REPLACED
    assert checked.differences[0].message == (
        "its zone of free points: cylinder, radius 2 km; the task's: cylinder, radius 3 km"
    )


def test_what_a_format_cannot_hold_of_them_is_told(region, write, tmp_path):
    modified(region, write)
    pack = export_tasks(region, TaskChoice(("M",)), formats=["csv", "igc"], to=str(tmp_path))
    assert all(any("how many points from where, and their zone" in lost for lost in f.lost) for f in pack.files)
    told = json.loads((tmp_path / "MANIFEST.json").read_text())
    assert all(any("their zone" in lost for lost in f["lost"]) for f in told["files"])


def test_a_replaced_list_keeps_the_revision_that_the_free_points_are_of(region, write, csv_file):
    modified(region, write)
    import_set(region, ImportRequest(csv_file(REGION[:200]), "region", mode=Mode.REPLACE), write(confirmed=True))
    assert show_task(region, "M").task.free.from_set == "region@1"
