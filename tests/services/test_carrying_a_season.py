"""A season carried over in a store against the known truth: written with the true points, or left to a person."""

from __future__ import annotations

import random

import pytest

from taskdb.core.course.assembly import ZoneChoice
from taskdb.core.course.measure import measure_course
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Role, Status, ZoneFrom
from taskdb.errors import UsageError
from taskdb.services.contests.contest import NewContest, new_contest, pin_contest, set_contest_zones
from taskdb.services.sets.importing import ImportRequest, Mode, import_set
from taskdb.services.tasks.carrying import CarryRequest, carry_tasks, refresh_tasks
from taskdb.services.tasks.flown import choose_task
from taskdb.services.tasks.task import NewTask, PointRequest, list_tasks, new_task, show_task, task_log
from taskdb.store import sets as set_rows, tasks as task_rows
from tests.conftest import ENGINES
from tests.services.conftest import REGION
from tests.unit.test_carry_season import season

TASKS = 20
SEASONS = [("sqlite", 0), ("sqlite", 1), ("sqlite", 2), *(("postgresql", 0) for _ in ENGINES[1:])]
"""Engine and seed: what is matched to what knows no engine."""


def rows(waypoints):
    return "".join(
        f'{w.code},"{w.name}",{w.position.latitude_deg:.7f},{w.position.longitude_deg:.7f},400\n' for w in waypoints
    )


def identities(desk, name):
    """Return the identities of a set's newest revision by code."""
    with desk.store.reading() as c:
        head = set_rows.find_set(c, name)
        return {w.code: w.identity for w in set_rows.waypoints_at(c, head.id, head.newest)}


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())


@pytest.fixture
def region(built, write, csv_file):
    return built(filled, write, csv_file)


def triangle(desk, write, name="A", points=("001", "003", "004", "001"), **given):
    return new_task(desk, NewTask(name, tuple(PointRequest(p) for p in points), **given), write("task new"))


@pytest.mark.parametrize(("store_url", "seed"), SEASONS, indirect=["store_url"])
def test_a_season_is_carried_to_the_true_points_or_told(desk, write, csv_file, seed):
    # Each seed renumbers in another way: by one inserted row, by swapped codes, by codes dealt out anew.
    given, random_ = season(seed), random.Random(seed)
    import_set(desk, ImportRequest(csv_file(rows(given.old)), "old"), write())
    import_set(desk, ImportRequest(csv_file(rows(given.new)), "new"), write())
    new_contest(desk, NewContest("Old Cup", "old"), write())
    new_contest(desk, NewContest("New Cup", "new"), write())
    courses = {f"T{i}": random_.sample(range(len(given.old)), 4) for i in range(TASKS)}
    for name, indexes in courses.items():
        triangle(desk, write, name, [given.old[i].code for i in indexes], contest="Old Cup")
    outcomes = {o.task: o for o in carry_tasks(desk, CarryRequest(from_contest="Old Cup", contest="New Cup"), write())}
    is_now = identities(desk, "new")
    left = [name for name, outcome in outcomes.items() if outcome.revision is None]
    for name, indexes in courses.items():
        true = [None if given.truth[i] is None else is_now[given.new[given.truth[i]].code] for i in indexes]
        outcome = outcomes[name]
        if name in left:
            # What is left is told point by point; a clear point is never among them because of another.
            assert outcome.unresolved and all(u.reason for u in outcome.unresolved)
            assert {p.number for p in outcome.points}.isdisjoint(u.number for u in outcome.unresolved)
        else:
            carried = show_task(desk, f"New Cup:{name}").task
            assert [point.place.identity for point in carried.points] == true
            assert outcome.distance_after_m is not None and outcome.shape_after is not None
    clear = [n for n, indexes in courses.items() if all(given.truth[i] is not None for i in indexes)]
    # A start point moved hundreds of metres among others a few hundred metres away is rightly left to a person.
    assert len(clear) > TASKS / 2 and len(set(clear) & set(left)) <= TASKS / 20
    assert len(list_tasks(desk, "Old Cup")) == TASKS


def test_the_old_season_stays_as_it_was_and_the_new_one_is_proposed(region, write, csv_file):
    new_contest(region, NewContest("Cup", "region"), write())
    made = triangle(region, write, contest="Cup", day=2)
    choose_task(region, "A", None, write())
    import_set(region, ImportRequest(csv_file("003,Tannwöhr,49.0512000,12.4730000,497\n"), "region"), write())
    zones = {Role.TURN: parse_zone("cylinder 2km")}
    new_contest(region, NewContest("Next", "region", zones=zones), write())
    request = CarryRequest(from_contest="Cup", contest="Next", name_pattern="{name} again")
    (outcome,) = carry_tasks(region, request, write())
    assert (outcome.name_after, outcome.from_set, outcome.to_set) == ("A again", "region@1", "region@2")
    after = show_task(region, "Next:A again").task
    assert (after.status, after.day, after.contest) == (Status.PROPOSED, None, "Next")
    assert [p.zone.text for p in after.points][1:3] == ["cylinder 2km", "cylinder 2km"]
    assert after.points[1].place.position.latitude_deg == 49.0512
    # 0.0002 degrees of latitude are 22 m.
    assert [round(p.moved_m) for p in outcome.points] == [0, 22, 0, 0]
    before = show_task(region, "Cup:A").task
    assert (before.points, before.status, before.day) == (made.task.points, Status.ISSUED, 2)


def test_what_a_review_finds_is_told_before_and_after(region, write, csv_file):
    triangle(region, write)
    # A second point beside Tannwöhr, 100 m away under the same name: the checks of the new list speak of it.
    doubled = REGION + "006,Tannwöhr Süd,49.0501000,12.4730000,497\n007,Tannwöhr,49.0519000,12.4730000,497\n"
    import_set(region, ImportRequest(csv_file(doubled), "next"), write())
    (outcome,) = carry_tasks(region, CarryRequest(("A",), to="next"), write(confirmed=True))
    if outcome.revision is None:
        (doubt,) = outcome.unresolved
        mapped = CarryRequest(("A",), to="next", mapping={doubt.code: "003"})
        (outcome,) = carry_tasks(region, mapped, write())
    assert "point-with-finding" not in {f.rule for f in outcome.findings_before}
    assert "point-with-finding" in {f.rule for f in outcome.new_findings}
    shown = show_task(region, "A")
    told = {f.id for f in shown.review.open}
    assert {f.id for f in outcome.new_findings} <= told


def test_a_renamed_code_makes_no_new_finding(region, write, csv_file):
    # A short leg is found before and after, under another code.
    near = "008,Ormsau Nord,48.8900000,11.8105000,389\n"
    import_set(region, ImportRequest(csv_file(near), "region"), write())
    triangle(region, write, points=("001", "008", "004", "001"))
    import_set(region, ImportRequest(csv_file(REGION + near.replace("008", "009")), "next"), write())
    (outcome,) = carry_tasks(region, CarryRequest(("A",), to="next"), write())
    assert outcome.revision == 2
    assert [f.rule for f in outcome.findings_before] == [f.rule for f in outcome.findings_after] == ["short-leg"]
    assert outcome.new_findings == ()


def test_a_point_of_its_own_is_carried_as_it_is(region, write, csv_file):
    made = triangle(region, write, points=("001", "48.9,12.0", "004", "001"))
    import_set(region, ImportRequest(csv_file(REGION), "next"), write())
    (outcome,) = carry_tasks(region, CarryRequest(("A",), to="next"), write())
    assert outcome.points[1].matched_by is None
    assert show_task(region, "A").task.points[1].place == made.task.points[1].place


def test_a_point_that_would_move_over_a_kilometre_waits_for_a_yes(region, write, csv_file):
    triangle(region, write)
    import_set(region, ImportRequest(csv_file("003,Tannwöhr,49.0710000,12.4730000,497\n"), "region"), write())
    (outcome,) = carry_tasks(region, CarryRequest(("A",), to="region"), write())
    assert (outcome.revision, outcome.unresolved[0].number) == (None, 1)
    assert len(task_log(region, "A")[1]) == 1
    (outcome,) = carry_tasks(region, CarryRequest(("A",), to="region"), write(confirmed=True))
    assert outcome.revision == 2


def test_a_name_that_is_taken_in_the_new_contest_is_left_and_told(region, write):
    new_contest(region, NewContest("Cup", "region"), write())
    new_contest(region, NewContest("Next", "region"), write())
    for contest in ("Cup", "Next"):
        triangle(region, write, contest=contest)
    (outcome,) = carry_tasks(region, CarryRequest(("Cup:A",), contest="Next"), write())
    assert outcome.revision is None and "already" in outcome.refused
    assert len(task_log(region, "Next:A")[1]) == 1


def test_what_to_carry_and_where_to_has_to_be_said(region, write):
    triangle(region, write)
    for request in (
        CarryRequest(),
        CarryRequest(("A",)),
        CarryRequest(("A",), from_contest="Cup", to="region"),
        CarryRequest(("A",), to="region", mapping={"001": "999"}),
    ):
        with pytest.raises(UsageError):
            carry_tasks(region, request, write())


def test_refreshing_takes_new_defaults_and_leaves_what_was_set_by_hand(region, write):
    new_contest(region, NewContest("Cup", "region", zones={Role.TURN: parse_zone("cylinder 1km")}), write())
    new = NewTask(
        "A",
        (
            PointRequest("001"),
            PointRequest("003", parse_zone("cylinder 7km")),
            PointRequest("004"),
            PointRequest("001"),
        ),
        contest="Cup",
    )
    new_task(region, new, write())
    triangle(region, write, "B", ("001", "002", "005", "001"), contest="Cup")
    set_contest_zones(region, "Cup", {Role.TURN: parse_zone("cylinder 3km")}, write())
    outcomes = refresh_tasks(region, (), "Cup", write())
    assert [(o.task, o.revision) for o in outcomes] == [("A", 2), ("B", 2)]
    points = show_task(region, "Cup:A").task.points
    assert [(p.zone.text, p.zone_from) for p in points[1:3]] == [
        ("cylinder 7km", ZoneFrom.OWN),
        ("cylinder 3km", ZoneFrom.CONTEST),
    ]
    assert refresh_tasks(region, (), "Cup", write()) == ()


def test_refreshing_follows_the_pin_and_ends_the_finding_of_moved_points(region, write, csv_file):
    new_contest(region, NewContest("Cup", "region"), write())
    triangle(region, write, contest="Cup")
    triangle(region, write, "B", ("001", "002", "005", "001"), contest="Cup")
    import_set(region, ImportRequest(csv_file("003,Tannwöhr,49.0512000,12.4730000,497\n"), "region"), write())
    assert refresh_tasks(region, ("A",), "Cup", write()) == ()
    pin_contest(region, "Cup", "region@2", write())
    (outcome,) = refresh_tasks(region, (), "Cup", write())
    assert (outcome.task, outcome.to_set) == ("A", "region@2")
    assert "points-changed" in {f.rule for f in outcome.findings_before}
    assert outcome.findings_after == ()
    assert show_task(region, "Cup:A").stale == ()


def test_refreshing_nothing_in_particular_is_refused(region, write):
    with pytest.raises(UsageError):
        refresh_tasks(region, (), None, write())


def test_a_point_that_is_gone_is_left_to_a_person(region, write, csv_file):
    triangle(region, write)
    without = "".join(line for line in REGION.splitlines(keepends=True) if not line.startswith("003"))
    import_set(region, ImportRequest(csv_file(without), "region", mode=Mode.REPLACE), write(confirmed=True))
    (outcome,) = refresh_tasks(region, ("A",), None, write())
    assert outcome.revision is None and [u.code for u in outcome.unresolved] == ["003"]
    assert show_task(region, "A").stale


def test_a_mapped_code_that_no_point_has_is_refused_with_those_that_there_are(region, write, csv_file):
    triangle(region, write)
    import_set(region, ImportRequest(csv_file(REGION), "next"), write())
    with pytest.raises(UsageError) as refused:
        carry_tasks(region, CarryRequest(("A",), to="next", mapping={"3": "004"}), write())
    assert refused.value.code == "map-source-missing" and "001 003 004" in refused.value.hint
    assert len(task_log(region, "A")[1]) == 1, "nothing is kept"
    # One of a whole season's list that this task has no use for is no mistake.
    (outcome,) = carry_tasks(region, CarryRequest(("A",), to="next", mapping={"005": "004"}), write())
    assert outcome.revision == 2


def test_a_task_on_another_set_than_its_contest_is_stale_for_that_alone(region, write, csv_file):
    import_set(region, ImportRequest(csv_file(REGION), "next"), write())
    new_contest(region, NewContest("Cup", "region"), write())
    triangle(region, write, contest="Cup")
    carry_tasks(region, CarryRequest(("A",), to="next"), write())
    assert show_task(region, "A").stale == ("it stands on next@1, its contest on region@1",)
    refresh_tasks(region, ["A"], None, write())
    assert (show_task(region, "A").task.set_name, show_task(region, "A").stale) == ("region", ())


@pytest.mark.parametrize("moved", [0.0, 0.002])
def test_what_is_kept_of_a_carried_course_is_what_measuring_it_anew_gives(region, write, csv_file, moved):
    zones = {"zones": (ZoneChoice("areas", parse_zone("area 15km")),), "time_s": 10_800}
    triangle(region, write, points=("001", "003", "004", "001"), **zones)
    nearby = REGION.replace("49.0510000", f"{49.051 + moved:.7f}").replace("003,", "010,")
    import_set(region, ImportRequest(csv_file(nearby), "next"), write())
    (outcome,) = carry_tasks(region, CarryRequest(("A",), to="next"), write())
    assert outcome.revision == 2
    with region.store.reading() as c:
        head = task_rows.find_task(c, "A", None)
        task = task_rows.task_at(c, head.id, 2)
        kept = task_rows.extremes_at(c, head.id, 2)
    anew = measure_course(task, touching=False).distances
    assert kept == (anew.minimum_at, anew.maximum_at)
    assert outcome.distance_after_m == anew.task_m
    assert (outcome.distance_after_m == outcome.distance_before_m) is (moved == 0.0)
