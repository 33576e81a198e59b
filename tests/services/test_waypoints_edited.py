"""Single waypoints: added, edited, retired, brought back; each a revision with author and note, nothing deleted."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.model import Feature, Landable, Typed
from taskdb.errors import NotFoundError, RefusedError, UsageError
from taskdb.services.desk import NeedsConfirmation, Write
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.sets.set import set_log, show_set
from taskdb.services.store.undo import undo
from taskdb.services.tasks.task import NewTask, PointRequest, new_task, show_task
from taskdb.services.waypoints.editing import add_waypoint, edit_waypoint, restore_waypoint, retire_waypoint
from taskdb.services.waypoints.typed_values import WaypointTexts
from taskdb.services.waypoints.waypoint import show_waypoint, waypoint_history
from tests.services.conftest import REGION


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    points = tuple(PointRequest(code) for code in ("001", "002", "003", "001"))
    new_task(desk, NewTask("A", points), write())


@pytest.fixture
def region(built, write, csv_file):
    return built(filled, write, csv_file)


def one(desk, code):
    return show_waypoint(desk, code).waypoint


def test_a_waypoint_is_added_with_typed_values(region, write):
    texts = WaypointTexts(
        code="401",
        name="  Stausee   Varn ",
        position="48°45.200'N 011°50.100'E",
        elevation="1296ft",
        landable=Landable.NO,
        feature=Feature.WATER,
        radio="123.505 launch",
        runways="07/25 071deg 850m x 30m grass",
        inspected_on="2027-05-14",
    )
    done = add_waypoint(region, "region", texts, write())
    assert (done.done, done.revision, done.told) == ("added", 2, ())
    added = one(region, "401")
    assert (added.position.latitude_e7, added.position.longitude_e7) == (487533333, 118350000)
    assert added.elevation_m == 395.0  # 1296 × 0.3048 m (ICAO Annex 5), to 0.1 m
    assert added.typed == Typed("48°45.200'N", "011°50.100'E", "degrees-minutes", 1, "1296ft", "ft")
    assert added.runways[0].width_m == 30 and added.radio[0].purpose == "launch"
    assert added.identity not in {w.identity for w in show_set(region, "region@1").waypoints}


@pytest.mark.parametrize(
    ("texts", "code"),
    [
        (WaypointTexts(code="401", name="Ohne Ort"), "missing-value"),
        (WaypointTexts(code="401", position="48.1,12.0"), "missing-value"),
        (WaypointTexts(code="4 01", name="x", position="48.1,12.0"), "bad-code"),
        (WaypointTexts(code="401", name="x", position="98.1,12.0"), "bad-position"),
        (WaypointTexts(code="401", name="x", position="48.1,12.0", elevation="395"), "missing-unit"),
        (WaypointTexts(code="401", name="x", position="48.1,12.0", elevation="39500m"), "out-of-range"),
        (WaypointTexts(code="401", name="x", position="48.1,12.0", radio="123.670"), "no-such-channel"),
        (WaypointTexts(code="401", name="x", position="48.1,12.0", inspected_on="14.5.2027"), "bad-date"),
    ],
)
def test_what_cannot_be_read_is_refused_and_nothing_is_kept(region, write, texts, code):
    with pytest.raises(UsageError) as refused:
        add_waypoint(region, "region", texts, write())
    assert refused.value.code == code and refused.value.hint
    assert show_set(region, "region").info.number == 1


def test_a_code_that_stands_is_refused(region, write):
    with pytest.raises(RefusedError, match="'Ormsau'") as refused:
        add_waypoint(region, "region", WaypointTexts(code="001", name="x", position="48.1,12.0"), write())
    assert refused.value.code == "code-in-use"


def test_a_set_that_is_not_there_is_not_made_by_a_slip(region, write):
    with pytest.raises(NotFoundError, match="no set 'regoin'"):
        add_waypoint(region, "regoin", WaypointTexts(code="9", name="x", position="48.1,12.0"), write())


def test_places_nearby_are_told(region, write):
    done = add_waypoint(region, "region", WaypointTexts(code="401", name="Halle", position="48.8721,11.8105"), write())
    assert done.told == ("001 Ormsau lies 11 m away",)  # 0.0001° of a meridian


def test_a_retired_code_that_comes_back_for_another_place_is_told(region, write):
    retire_waypoint(region, "005", write())
    done = add_waypoint(region, "region", WaypointTexts(code="005", name="Neu", position="48.035,11.579"), write())
    # One degree of the meridian at 48.5° is 111.2 km long (WGS84).
    assert done.told == ("the code 005 stood for another place until region@1: 'Brüxfeld', 111 km away",)


def test_a_retired_waypoint_of_this_very_place_is_to_be_restored_instead(region, write):
    retire_waypoint(region, "005", write())
    texts = WaypointTexts(code="005", name="Brüxfeld", position="49.0350000,11.5790000")
    with pytest.raises(NeedsConfirmation, match="taskdb waypoint restore region:005"):
        add_waypoint(region, "region", texts, write())
    assert add_waypoint(region, "region", texts, write(confirmed=True)).done == "added"


def test_only_what_is_given_changes_and_tasks_are_told(region, write):
    before = one(region, "002")
    done = edit_waypoint(region, "Kelmried", WaypointTexts(position="48.5620000,11.5220000"), write())
    assert done.facts is not None and done.facts.moved_m == pytest.approx(111.2, abs=0.1)
    assert done.facts.bearing_deg == pytest.approx(0.0, abs=1e-6)
    assert [(use.head.name, use.codes) for use in done.tasks] == [("A", ("002",))]
    after = one(region, "002")
    assert replace(after, position=before.position) == before
    assert show_task(region, "A").stale


def test_an_edit_without_a_difference_makes_no_revision(region, write):
    done = edit_waypoint(region, "001", WaypointTexts(name="Ormsau", elevation="389m"), write())
    assert (done.done, done.revision) == ("unchanged", 1)
    with pytest.raises(UsageError, match="Nothing to change"):
        edit_waypoint(region, "001", WaypointTexts(), write())


def test_a_value_is_cleared_by_name(region, write):
    edit_waypoint(region, "001", WaypointTexts(clear=("elevation",)), write())
    cleared = one(region, "001")
    assert cleared.elevation_m is None
    assert cleared.typed is not None and cleared.typed.elevation is None and cleared.typed.latitude is not None
    for clear, texts in (("name", {}), ("elevation", {"elevation": "389m"})):
        with pytest.raises(UsageError):
            edit_waypoint(region, "001", WaypointTexts(clear=(clear,), **texts), write())


def test_a_new_code_must_be_free(region, write):
    with pytest.raises(RefusedError, match="002"):
        edit_waypoint(region, "001", WaypointTexts(code="002"), write())
    identity = one(region, "001").identity
    edit_waypoint(region, "001", WaypointTexts(code="701"), write())
    assert one(region, "701").identity == identity


def test_an_old_revision_is_not_edited(region, write):
    edit_waypoint(region, "001", WaypointTexts(name="x"), write())
    for act in (
        lambda: edit_waypoint(region, "region@1:001", WaypointTexts(name="y"), write()),
        lambda: retire_waypoint(region, "004", write(), "region@1"),
    ):
        with pytest.raises(RefusedError, match="not the newest"):
            act()


def test_retiring_a_used_point_lists_the_tasks_and_asks(region, write):
    with pytest.raises(NeedsConfirmation) as asked:
        retire_waypoint(region, "002", write())
    assert asked.value.details["tasks"] == ["A"]
    done = retire_waypoint(region, "002", write(confirmed=True))
    assert done.done == "retired" and [use.head.name for use in done.tasks] == ["A"]
    assert "002" not in [w.code for w in show_set(region, "region").waypoints]
    assert show_waypoint(region, "region@1:002").waypoint.name == "Kelmried"
    assert any("retired" in reason for reason in show_task(region, "A").stale)


def test_a_retired_waypoint_comes_back_as_the_same_one(region, write):
    before = one(region, "005")
    retire_waypoint(region, "005", write())
    done = restore_waypoint(region, "Brüxfeld", write())
    assert (done.done, done.waypoint, done.revision) == ("brought back", before, 3)
    _, states = waypoint_history(region, "005")
    assert [(s.began.number, s.ended and s.ended.number, s.is_retirement) for s in states] == [
        (1, 2, True),
        (3, None, False),
    ]


def test_a_waypoint_whose_code_was_taken_comes_back_under_another(region, write):
    retire_waypoint(region, "005", write())
    add_waypoint(region, "region", WaypointTexts(code="005", name="Neu", position="48.1,12.0"), write())
    with pytest.raises(RefusedError, match="'Neu'") as refused:
        restore_waypoint(region, "region:Brüxfeld", write())
    assert "--code" in refused.value.hint
    assert restore_waypoint(region, "Brüxfeld", write(), code="905").waypoint.code == "905"


def test_a_waypoint_is_set_back_to_how_it_stood_in_a_revision(region, write):
    before = one(region, "001")
    edit_waypoint(region, "001", WaypointTexts(name="Ormsau Süd", code="701"), write())
    with pytest.raises(RefusedError, match="not retired"):
        restore_waypoint(region, "701", write())
    done = restore_waypoint(region, "region@1:001", write())
    assert (done.done, one(region, "001")) == ("changed", before)
    assert restore_waypoint(region, "region@1:001", write()).done == "unchanged"


def test_two_retired_waypoints_of_one_code_are_not_guessed_between(region, write):
    retire_waypoint(region, "005", write())
    add_waypoint(region, "region", WaypointTexts(code="005", name="Neu", position="48.1,12.0"), write())
    retire_waypoint(region, "005", write())
    with pytest.raises(RefusedError) as refused:
        restore_waypoint(region, "005", write())
    assert refused.value.details["choices"] == ["region@3:005 Neu", "region@1:005 Brüxfeld"]
    assert restore_waypoint(region, "region@1:005", write()).waypoint.name == "Brüxfeld"
    with pytest.raises(NotFoundError):
        restore_waypoint(region, "006", write())


def test_the_history_of_a_retired_waypoint_is_shown(region, write):
    edit_waypoint(region, "005", WaypointTexts(name="Brüxfeld Süd"), write())
    retire_waypoint(region, "005", write())
    _, states = waypoint_history(region, "005")
    assert [s.waypoint.name for s in states] == ["Brüxfeld", "Brüxfeld Süd"]
    assert [s.is_retirement for s in states] == [False, True]


def test_every_change_is_a_revision_with_its_author_and_note(region):
    by_deputy = replace(region, author="deputy")
    edit_waypoint(by_deputy, "001", WaypointTexts(name="x"), Write("waypoint edit", note="as the sign says"))
    newest = set_log(region, "region")[1][0]
    assert (newest.author, newest.note, newest.changed) == ("deputy", "as the sign says", 1)


def test_each_is_undone_as_it_was_done(region, write):
    states = [show_set(region, "region").waypoints]
    for act in (
        lambda: edit_waypoint(region, "001", WaypointTexts(name="x", clear=("elevation",)), write()),
        lambda: retire_waypoint(region, "005", write()),
        lambda: restore_waypoint(region, "005", write()),
        lambda: add_waypoint(region, "region", WaypointTexts(code="9", name="x", position="48.1,12.0"), write()),
    ):
        act()
        states.append(show_set(region, "region").waypoints)
    for state in reversed(states[:-1]):
        undo(region, None, write("undo"))
        assert show_set(region, "region").waypoints == state
