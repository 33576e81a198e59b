"""Contests with zone defaults, and tasks that take them: what is saved, what goes stale, what is refused."""

from __future__ import annotations

import pytest

from taskdb.core.course.assembly import ZoneChoice
from taskdb.core.course.compare import PointChange
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Earth, Role, Status, TaskType, ZoneFrom
from taskdb.errors import NotFoundError, RefusedError, UsageError
from taskdb.services.contests.contest import (
    NewContest,
    list_contests,
    new_contest,
    pin_contest,
    set_contest_zones,
    show_contest,
)
from taskdb.services.sets.importing import ImportRequest, Mode, import_set
from taskdb.services.tasks.task import (
    NewTask,
    PointRequest,
    TaskEdit,
    compare_tasks,
    copy_task,
    edit_task,
    list_tasks,
    new_task,
    restore_task,
    retire_task,
    show_task,
    task_log,
)
from tests.services.conftest import REGION


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())


@pytest.fixture
def region(built, write, csv_file):
    return built(filled, write, csv_file)


def points(*references, **zones):
    return tuple(PointRequest(r, zones.get(r)) for r in references)


def triangle(desk, write, name="A", **given):
    return new_task(desk, NewTask(name, points("001", "003", "004", "001"), **given), write("task new"))


def cup(desk, write, **zones):
    given = {Role(role): parse_zone(text) for role, text in zones.items()}
    return new_contest(desk, NewContest("Cup", set_reference="region", zones=given), write("contest new"))


def test_a_task_takes_the_contests_defaults_and_says_where_zones_came_from(region, write):
    cup(region, write, turn="cylinder 2km", start="line 8km")
    made = triangle(region, write, contest="Cup", zones=(ZoneChoice(2, parse_zone("cylinder 5km")),))
    assert [(p.role, p.zone.text, p.zone_from) for p in made.task.points] == [
        (Role.START, "line 8km", ZoneFrom.CONTEST),
        (Role.TURN, "cylinder 2km", ZoneFrom.CONTEST),
        (Role.TURN, "cylinder 5km", ZoneFrom.OWN),
        (Role.FINISH, "line 1km", ZoneFrom.BUILT_IN),
    ]
    assert (made.task.set_name, made.task.set_revision, made.task.contest_revision) == ("region", 1, 1)


def test_a_task_is_shown_as_it_was_saved(region, write):
    made = triangle(region, write, time_s=10800)
    shown = show_task(region, "A")
    assert shown.task == made.task
    assert shown.course == made.course
    assert shown.fingerprint == made.fingerprint
    assert shown.course.time.kind == "expected"


def test_a_moved_point_makes_a_task_stale_and_leaves_it_as_it_was(region, write, csv_file):
    made = triangle(region, write)
    import_set(region, ImportRequest(csv_file("003,Tannwöhr,49.0610000,12.4730000,497\n"), "region"), write())
    shown = show_task(region, "A")
    assert shown.task == made.task
    (reason,) = shown.stale
    assert "Tannwöhr" in reason and "moved 1.1 km towards 000°" in reason and "region@2" in reason


def test_in_a_contest_the_pinned_revision_counts_until_it_is_moved(region, write, csv_file):
    cup(region, write)
    triangle(region, write, contest="Cup")
    import_set(region, ImportRequest(csv_file("003,Tannwöhr,49.0610000,12.4730000,497\n"), "region"), write())
    shown = show_task(region, "A")
    assert shown.stale == ()
    assert shown.beside == ("the contest stands on region@1; the set has moved on to region@2",)
    pinned = pin_contest(region, "Cup", "region@2", write("contest pin"))
    assert pinned.stale_tasks == ("A",)
    assert show_task(region, "A").stale != ()


def test_changing_a_default_changes_no_task_and_makes_those_stale_that_took_it(region, write):
    cup(region, write, turn="cylinder 2km")
    triangle(region, write, contest="Cup")
    own = tuple(ZoneChoice(n, parse_zone("cylinder 1km")) for n in (1, 2))
    triangle(region, write, "B", contest="Cup", zones=own)
    changed = set_contest_zones(region, "Cup", {Role.TURN: parse_zone("cylinder 3km")}, write("contest zones"))
    assert (changed.revision, changed.stale_tasks) == (2, ("A",))
    assert show_task(region, "A").task.points[1].zone.text == "cylinder 2km"
    same = set_contest_zones(region, "Cup", {Role.TURN: parse_zone("cylinder 3000m")}, write("contest zones"))
    assert same.revision == 2


def test_an_area_zone_makes_an_area_task_and_short_names_find_points(region, write):
    made = new_task(
        region,
        NewTask("B", points("Ormsau", "tannwoehr", "1", tannwoehr=parse_zone("area 15km")), time_s=9000),
        write(),
    )
    assert made.task.type is TaskType.ASSIGNED_AREA
    assert [p.place.code for p in made.task.points] == ["001", "003", "001"]
    assert made.course.time.kind == "minimum"


def test_a_position_is_a_point_of_the_tasks_own(region, write):
    made = new_task(region, NewTask("B", points("001", "48.7,12.0", "001")), write())
    own = made.task.points[1].place
    assert (own.identity, own.position.latitude_deg, own.position.longitude_deg) == (None, 48.7, 12.0)
    assert show_task(region, "B").stale == ()


def test_what_is_ambiguous_or_missing_is_refused_with_choices(region, write, csv_file):
    import_set(region, ImportRequest(csv_file("901,Ormsau,48.1,12.9,400\n"), "region"), write())
    with pytest.raises(RefusedError) as ambiguous:
        new_task(region, NewTask("B", points("Ormsau", "003")), write())
    assert ambiguous.value.details["choices"] == ["001", "901"]
    with pytest.raises(NotFoundError) as missing:
        new_task(region, NewTask("B", points("001", "Kelmrid")), write())
    assert any("Kelmried" in near for near in missing.value.details["nearest"])
    with pytest.raises(UsageError):
        new_task(region, NewTask("B", points("001")), write())
    assert list_tasks(region) == ()


def test_a_name_is_free_once_in_a_contest_and_once_without(region, write):
    cup(region, write)
    triangle(region, write)
    triangle(region, write, contest="Cup")
    with pytest.raises(RefusedError):
        triangle(region, write, contest="Cup")
    with pytest.raises(RefusedError) as ambiguous:
        show_task(region, "A")
    assert set(ambiguous.value.details["choices"]) == {"A", "Cup:A"}
    assert show_task(region, "Cup:A").task.contest == "Cup"
    assert show_task(region, "A", "Cup").task.contest == "Cup"


def test_an_edit_is_a_new_revision_and_the_old_one_stays(region, write):
    triangle(region, write)
    edited = edit_task(region, "A", TaskEdit(insert=(2, PointRequest("002"))), write("task edit"))
    assert (edited.revision, [p.place.code for p in edited.task.points]) == (2, ["001", "003", "002", "004", "001"])
    assert [p.place.code for p in show_task(region, "A@1").task.points] == ["001", "003", "004", "001"]
    assert edit_task(region, "A", TaskEdit(values={"time_s": None}), write()).revision == 2
    renamed = edit_task(region, "A", TaskEdit(values={"name": "Long one"}), write())
    assert (renamed.task.name, renamed.revision) == ("Long one", 3)
    assert [r.info.number for r in task_log(region, "Long one")[1]] == [3, 2, 1]
    with pytest.raises(UsageError):
        edit_task(region, "Long one", TaskEdit(drop=1, move=(1, 2)), write())


def test_an_edit_keeps_the_defaults_that_the_task_was_saved_with(region, write):
    cup(region, write, turn="cylinder 2km")
    triangle(region, write, contest="Cup")
    set_contest_zones(region, "Cup", {Role.TURN: parse_zone("cylinder 3km")}, write())
    edited = edit_task(region, "A", TaskEdit(insert=(2, PointRequest("002"))), write())
    assert {p.zone.text for p in edited.task.points[1:-1]} == {"cylinder 2km"}


def test_retiring_and_restoring_lose_nothing(region, write):
    triangle(region, write)
    retire_task(region, "A", write("task retire"))
    assert list_tasks(region) == ()
    assert show_task(region, "A@1").task.name == "A"
    back = restore_task(region, "A", write("task restore"))
    assert (back.revision, [row.task for row in list_tasks(region)]) == (3, ["A"])


def test_a_copy_is_a_task_of_its_own(region, write):
    triangle(region, write, time_s=9000)
    copied = copy_task(region, "A", "B", write())
    assert (copied.task.name, copied.revision, copied.task.status) == ("B", 1, Status.PROPOSED)
    assert copied.fingerprint == show_task(region, "A").fingerprint


def test_variants_are_compared_over_points(region, write):
    triangle(region, write)
    new_task(region, NewTask("B", points("001", "002", "003", "004", "001")), write())
    compared = compare_tasks(region, ["A", "B"])
    assert [d.change for d in compared.differences[0]] == [
        PointChange.SAME,
        PointChange.ADDED,
        PointChange.SAME,
        PointChange.SAME,
        PointChange.SAME,
    ]
    with pytest.raises(UsageError):
        compare_tasks(region, ["A"])


def test_a_contest_on_the_fai_sphere_measures_on_it(region, write):
    new_contest(region, NewContest("Sphere", set_reference="region", earth=Earth.FAI_SPHERE), write())
    on_sphere = triangle(region, write, "S", contest="Sphere").course.distances.centres_m
    on_ellipsoid = triangle(region, write).course.distances.centres_m
    assert 0.0003 < abs(on_sphere / on_ellipsoid - 1) < 0.005


def test_contests_are_listed_with_their_tasks(region, write):
    cup(region, write)
    triangle(region, write, contest="Cup")
    (row,) = list_contests(region)
    assert (row.summary.name, row.summary.revision, row.tasks) == ("Cup", 1, 1)
    assert show_contest(region, "Cup").tasks == 1
    with pytest.raises(RefusedError):
        cup(region, write)
    with pytest.raises(NotFoundError):
        show_contest(region, "Cap")


def test_mode_replace_that_retires_a_used_point_leaves_the_task_and_says_so(region, write, csv_file):
    triangle(region, write)
    rows = "".join(line for line in REGION.splitlines(keepends=True) if not line.startswith("003"))
    import_set(region, ImportRequest(csv_file(rows), "region", mode=Mode.REPLACE), write())
    (reason,) = show_task(region, "A").stale
    assert "retired in region@2" in reason
