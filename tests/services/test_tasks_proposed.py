"""Tasks proposed, on each engine: turn points from a set or a contest's, a task's basis, and what is refused whole."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.kinds import HomeAt, ProposedShape
from taskdb.core.model import Earth, FlownRecord
from taskdb.errors import RefusedError
from taskdb.services.contests.contest import NewContest, new_contest
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks import proposal_grounds
from taskdb.services.tasks.flown import record_flown
from taskdb.services.tasks.proposal_values import ProposalRequest
from taskdb.services.tasks.proposing import propose_tasks
from taskdb.services.tasks.task import NewTask, PointRequest, list_tasks, new_task, retire_task, show_task
from tests.services.conftest import REGION

TRIANGLES = ProposalRequest("001", ProposedShape.TRIANGLE, 80e3, 300e3, set_reference="region")


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())


@pytest.fixture
def region(built, write, csv_file):
    return built(filled, write, csv_file)


def codes(found):
    return [proposal.codes for proposal in found.proposals]


def test_every_triangle_of_four_turn_points_is_found(region, write) -> None:
    found = propose_tasks(region, replace(TRIANGLES, show_all=True), write())
    assert (found.total, found.candidates, found.set_at) == (6, 4, "region@1")
    assert codes(found) == [
        ("001", a, b, "001") for a, b in (("002", "003"), ("002", "004"), ("002", "005"), ("003", "004"),
                                          ("003", "005"), ("004", "005"))
    ]  # fmt: skip


def test_a_position_may_be_home_and_saved_tasks_keep_it(region, write) -> None:
    request = replace(TRIANGLES, home="48.872,11.8105", limit=1, save="P")
    found = propose_tasks(region, request, write())
    assert found.saved == ("P 1",)
    points = show_task(region, "P 1").task.points
    assert points[0].place.identity is None
    assert [point.place.code for point in points[1:-1]] == list(found.proposals[0].codes[1:-1])
    # The waypoint at that very place is no turn point.
    assert all("001" not in one for one in codes(propose_tasks(region, replace(request, save=None), write())))


def test_a_name_that_is_taken_keeps_nothing_at_all(region, write) -> None:
    new_task(region, NewTask("P 2", tuple(map(PointRequest, ("001", "003", "001"))), set_reference="region"), write())
    with pytest.raises(RefusedError, match="P 2"):
        propose_tasks(region, replace(TRIANGLES, limit=3, apart_m=0.0, save="P"), write())
    assert [row.task for row in list_tasks(region)] == ["P 2"]


def test_what_is_like_a_proposal_are_tasks_that_stand(region, write) -> None:
    for name in ("A", "B"):
        points = tuple(map(PointRequest, ("001", "003", "004", "001")))
        new_task(region, NewTask(name, points, set_reference="region"), write())
    retire_task(region, "B", write())
    like = {one.codes: one.like for one in propose_tasks(region, TRIANGLES, write()).proposals}
    assert like[("001", "003", "004", "001")] == ("A",)
    assert like[("001", "002", "005", "001")] == ()


def test_what_was_flown_after_the_day_counts_for_nothing(region, write) -> None:
    points = tuple(map(PointRequest, ("001", "003", "004", "001")))
    new_task(region, NewTask("A", points, set_reference="region"), write())
    record_flown(region, "A", FlownRecord("2030-05-14", starters=10, finishers=5), write())
    assert "last-flown" in propose_tasks(region, TRIANGLES, write()).left_out
    record_flown(region, "A", FlownRecord("2027-04-14", starters=10, finishers=5), write())
    found = propose_tasks(region, TRIANGLES, write())
    flown = {one.codes: one.figures["last-flown"] for one in found.proposals}
    # The desk's clock stands at 2027-05-01: 17 days are 0.56 months.
    assert flown[("001", "003", "004", "001")] == pytest.approx(17 / 30.436875)


def test_a_contests_rules_count_and_its_earth_stays(region, write) -> None:
    new_contest(region, NewContest("Cup", "region", earth=Earth.FAI_SPHERE), write())
    request = replace(TRIANGLES, set_reference=None, contest="Cup", limit=1)
    on_sphere = propose_tasks(region, request, write())
    assert on_sphere.earth is Earth.FAI_SPHERE
    on_wgs84 = propose_tasks(region, replace(request, earth=Earth.WGS84), write())
    assert on_wgs84.proposals[0].distance_m != on_sphere.proposals[0].distance_m
    with pytest.raises(RefusedError, match="measures"):
        propose_tasks(region, replace(request, earth=Earth.WGS84, save="P"), write())
    propose_tasks(region, replace(request, save="P"), write())
    shown = show_task(region, "Cup:P 1")
    assert shown.course.distances.centres_m == pytest.approx(on_sphere.proposals[0].distance_m, abs=1e-3)


def test_more_turn_points_than_can_be_weighed_are_refused_and_still_listed(region, write, monkeypatch) -> None:
    monkeypatch.setattr(proposal_grounds, "MOST_TURN_POINTS", 3)
    with pytest.raises(RefusedError, match="4 waypoints"):
        propose_tasks(region, TRIANGLES, write())
    assert propose_tasks(region, replace(TRIANGLES, show_all=True), write()).total == 6
    assert propose_tasks(region, replace(TRIANGLES, farthest_m=50e3), write()).total > 0


def test_home_far_off_the_side_is_told(region, write) -> None:
    side = replace(TRIANGLES, start=HomeAt.SIDE, shape=ProposedShape.FAI_TRIANGLE)
    assert any("off the side" in note for note in propose_tasks(region, side, write()).notes)
    assert not any(
        "off the side" in note for note in propose_tasks(region, replace(side, within_m=400.0), write()).notes
    )
