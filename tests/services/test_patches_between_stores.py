"""Patches between two librarians without a common server: what merges, what conflicts, and who decides."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace
from pathlib import Path

import pytest

from taskdb.core.history.changes import values_of
from taskdb.core.history.merge import Take
from taskdb.errors import InputError, NotFoundError, RefusedError
from taskdb.services.sets.history import copy_set, diff_sets
from taskdb.services.sets.importing import ImportRequest, Mode, import_set
from taskdb.services.sets.patches import ApplyRequest, ConflictError, apply_patch, load_patch, write_patch
from taskdb.services.sets.set import set_log, show_set
from taskdb.services.store.store import read_journal
from taskdb.services.store.undo import undo
from taskdb.services.tasks.task import NewTask, PointRequest, new_task
from taskdb.services.waypoints.editing import add_waypoint, edit_waypoint, retire_waypoint
from taskdb.services.waypoints.typed_values import WaypointTexts
from tests.services.conftest import REGION


@pytest.fixture
def here(desk, write, csv_file):
    """The desk whose set is written: five waypoints as region@1."""
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    return desk


@pytest.fixture
def there(desk, write, csv_file, tmp_path):
    """Another librarian's desk: the same list in a store of its own, under other identities."""
    numbers = itertools.count(1)
    other = replace(
        desk,
        store_url=str(tmp_path / "there.sqlite"),
        author="deputy",
        new_identity=lambda: f"there{next(numbers):027x}",
    )
    import_set(other, ImportRequest(csv_file(REGION), "region"), write())
    return other


@pytest.fixture
def edit(write):
    def change(desk, reference, **texts):
        return edit_waypoint(desk, reference, WaypointTexts(**texts), write("waypoint edit", confirmed=True))

    return change


@pytest.fixture
def patch(tmp_path):
    """Write all that changed since region@1 there into a file, and return its path."""

    def make(desk, old="region@1", new="region"):
        path = str(tmp_path / "region.patch.json")
        write_patch(desk, old, new, path, overwrite=True)
        return path

    return make


def standing(desk, reference="region"):
    return {w.code: w for w in show_set(desk, reference).waypoints}


def by_code(desk, reference="region"):
    return {code: values_of(w) for code, w in standing(desk, reference).items()}


def test_a_patch_makes_the_other_store_equal_and_a_second_time_changes_nothing(here, there, edit, patch, write):
    edit(there, "001", elevation="391m", runways="09/27 094deg 1050m grass")
    edit(there, "002", code="902", name="Kelmried West")
    add_waypoint(there, "region", WaypointTexts(code="006", name="Neu", position="48.1,12.0"), write())
    retire_waypoint(there, "005", write())
    path = patch(there)
    done = apply_patch(here, ApplyRequest(path, "region"), write("set apply"))
    assert (done.revision, len(done.difference.added), len(done.difference.retired), len(done.facts)) == (2, 1, 1, 2)
    assert by_code(here) == by_code(there)
    again = apply_patch(here, ApplyRequest(path, "region"), write("set apply"))
    assert (again.revision, again.already) == (2, 4)
    assert read_journal(here).total == 2


def test_identities_here_stay_and_an_addition_brings_its_own(here, there, edit, patch, write):
    mine = standing(here)["001"].identity
    edit(there, "001", elevation="391m")
    add_waypoint(there, "region", WaypointTexts(code="006", name="Neu", position="48.1,12.0"), write())
    apply_patch(here, ApplyRequest(patch(there), "region"), write())
    assert standing(here)["001"].identity == mine
    assert standing(here)["006"].identity == standing(there)["006"].identity


def test_changes_of_different_fields_merge(here, there, edit, patch, write):
    edit(here, "001", name="Ormsau Süd", radio="122.480")
    edit(there, "001", elevation="391m", description="grass")
    apply_patch(here, ApplyRequest(patch(there), "region"), write())
    both = standing(here)["001"]
    assert (both.name, both.elevation_m, both.description) == ("Ormsau Süd", 391, "grass")
    assert both.radio[0].channel == "122.480"


def test_a_runway_is_a_unit_of_its_own(here, there, edit, patch, write):
    for desk in (here, there):
        edit(desk, "001", runways="09/27 094deg 1050m grass; 16/34 160deg 600m grass")
    edit(here, "001", runways="09/27 094deg 1100m grass; 16/34 160deg 600m grass")
    edit(there, "001", runways="09/27 094deg 1050m grass; 16/34 160deg 650m asphalt")
    apply_patch(here, ApplyRequest(patch(there, "region@2"), "region"), write())
    assert [(r.designator, r.length_m, r.surface) for r in standing(here)["001"].runways] == [
        ("09/27", 1100, "grass"),
        ("16/34", 650, "asphalt"),
    ]


def test_a_latitude_and_a_longitude_changed_on_two_sides_conflict(here, there, edit, patch, write):
    edit(here, "001", position="48.8730000,11.8105000")
    edit(there, "001", position="48.8720000,11.8115000")
    with pytest.raises(ConflictError) as refused:
        apply_patch(here, ApplyRequest(patch(there), "region"), write())
    (conflict,) = refused.value.details["conflicts"]
    assert (conflict["code"], conflict["field"]) == ("001", "position")
    assert conflict["expected"] == {"latitude_deg": 48.872, "longitude_deg": 11.8105}
    assert conflict["found"] == {"latitude_deg": 48.873, "longitude_deg": 11.8105}
    assert conflict["wanted"] == {"latitude_deg": 48.872, "longitude_deg": 11.8115}


def test_every_conflict_is_listed_and_nothing_is_applied(here, there, edit, patch, write):
    edit(here, "001", elevation="380m")
    edit(here, "002", name="Kelmried Ost")
    retire_waypoint(here, "003", write())
    edit(here, "004", elevation="420m")
    add_waypoint(here, "region", WaypointTexts(code="006", name="Neu", position="48.1,12.0"), write())
    add_waypoint(here, "region", WaypointTexts(code="007", name="Anderswo", position="48.2,12.2"), write())
    edit(there, "001", elevation="391m", description="merges")
    edit(there, "002", name="Kelmried West")
    edit(there, "003", name="Tannwöhr Berg")
    retire_waypoint(there, "004", write())
    add_waypoint(there, "region", WaypointTexts(code="006", name="Neu", position="48.1001,12.0"), write())
    add_waypoint(there, "region", WaypointTexts(code="007", name="Weit weg", position="47.2,11.2"), write())
    before = by_code(here)
    with pytest.raises(ConflictError) as refused:
        apply_patch(here, ApplyRequest(patch(there), "region"), write())
    found = {(c["code"], c["field"], c["kind"]) for c in refused.value.details["conflicts"]}
    assert found == {
        ("001", "elevation_m", "field"),
        ("002", "name", "field"),
        ("003", "waypoint", "gone"),
        ("004", "waypoint", "changed"),
        ("006", "waypoint", "added"),
        ("007", "code", "code"),
    }
    assert refused.value.exit_code == 5
    assert "001 Ormsau, elevation: both changed it" in refused.value.details["lines"]
    assert "  expected: 389 m" in refused.value.details["lines"]
    assert by_code(here) == before


def test_equal_values_on_both_sides_do_not_conflict(here, there, edit, patch, write):
    for desk in (here, there):
        edit(desk, "001", elevation="391m")
        retire_waypoint(desk, "005", write())
        add_waypoint(desk, "region", WaypointTexts(code="006", name="Neu", position="48.1,12.0"), write())
    done = apply_patch(here, ApplyRequest(patch(there), "region"), write())
    assert (done.already, done.difference.is_empty) == (3, True)


@pytest.mark.parametrize(
    ("take", "elevation", "codes"),
    [(Take.OURS, 380, ["001", "002", "004", "005"]), (Take.THEIRS, 391, ["001", "002", "003", "004"])],
)
def test_a_side_decides_every_conflict(here, there, edit, patch, write, take, elevation, codes):
    edit(here, "001", elevation="380m")
    retire_waypoint(here, "003", write())
    edit(here, "005", elevation="471m")
    edit(there, "001", elevation="391m")
    edit(there, "003", elevation="498m")
    retire_waypoint(there, "005", write())
    done = apply_patch(here, ApplyRequest(patch(there), "region", take=take), write())
    assert [side for _, side in done.decided] == [take] * 3
    assert standing(here)["001"].elevation_m == elevation
    assert sorted(standing(here)) == codes


def test_a_file_decides_each_conflict_and_only_as_long_as_it_is_the_same_one(here, there, edit, patch, write, tmp_path):
    edit(here, "001", elevation="380m")
    edit(here, "002", name="Kelmried Ost")
    edit(there, "001", elevation="391m")
    edit(there, "002", name="Kelmried West")
    path, decide = patch(there), tmp_path / "decide.json"
    with pytest.raises(ConflictError, match="2 conflicts") as refused:
        apply_patch(here, ApplyRequest(path, "region", conflicts_path=str(decide)), write())
    assert str(decide) in refused.value.hint
    document = json.loads(decide.read_text(encoding="utf-8"))
    document["conflicts"][0]["take"] = "theirs"
    decide.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(ConflictError, match="1 conflict\\."):
        apply_patch(here, ApplyRequest(path, "region", decisions=str(decide)), write())
    document["conflicts"][1]["take"] = "ours"
    decide.write_text(json.dumps(document), encoding="utf-8")
    edit(here, "001", elevation="381m")
    with pytest.raises(ConflictError, match="1 conflict\\."):
        apply_patch(here, ApplyRequest(path, "region", decisions=str(decide)), write())
    edit(here, "001", elevation="380m")
    apply_patch(here, ApplyRequest(path, "region", decisions=str(decide)), write())
    assert (standing(here)["001"].elevation_m, standing(here)["002"].name) == (391, "Kelmried Ost")


def test_a_code_that_two_places_would_have_is_given_back_and_never_taken(here, there, edit, patch, write):
    add_waypoint(here, "region", WaypointTexts(code="777", name="Hier", position="48.2,12.2"), write())
    edit(there, "001", code="777", elevation="391m")
    path = patch(there)
    for take in (None, Take.THEIRS):
        with pytest.raises(ConflictError) as refused:
            apply_patch(here, ApplyRequest(path, "region", take=take), write())
        (conflict,) = refused.value.details["conflicts"]
        assert (conflict["kind"], conflict["wanted"], conflict["here"]) == ("code", "777", "777 Hier")
    apply_patch(here, ApplyRequest(path, "region", take=Take.OURS), write())
    assert standing(here)["001"].elevation_m == 391
    assert standing(here)["777"].name == "Hier"


def test_swapped_codes_are_applied_as_a_whole(here, there, patch, write, csv_file):
    swapped = REGION.replace("001,", "x,").replace("002,", "001,").replace("x,", "002,")
    import_set(there, ImportRequest(csv_file(swapped), "region", mode=Mode.REPLACE), write())
    apply_patch(here, ApplyRequest(patch(there), "region"), write())
    assert by_code(here) == by_code(there)


def test_a_copy_takes_the_corrections_of_the_set_that_it_was_made_from(here, edit, patch, write):
    copy_set(here, "region", "cup points", write())
    edit(here, "cup points:001", code="A1", name="Flugplatz")
    edit(here, "region:001", position="48.8730000,11.8105000")
    retire_waypoint(here, "region:005", write())
    done = apply_patch(here, ApplyRequest(patch(here), "cup points"), write())
    assert done.located == ()  # by identity, though code and name are others by now
    one = standing(here, "cup points")["A1"]
    assert (one.name, one.position.latitude_deg) == ("Flugplatz", 48.873)
    assert "005" not in standing(here, "cup points")


def test_what_was_retired_in_a_copy_is_not_taken_for_its_neighbour(here, edit, patch, write):
    add_waypoint(here, "region", WaypointTexts(code="008", name="Ormsau", position="48.8725,11.8105"), write())
    copy_set(here, "region", "cup points", write())
    retire_waypoint(here, "cup points:001", write())
    edit(here, "region:001", description="the old one")
    with pytest.raises(ConflictError) as refused:
        apply_patch(here, ApplyRequest(patch(here, "region@2"), "cup points"), write())
    assert refused.value.details["conflicts"][0]["kind"] == "gone"
    assert standing(here, "cup points")["008"].description is None


def test_a_match_by_less_than_code_and_name_is_told(here, there, edit, patch, write):
    edit(here, "001", name="Ormsau Süd")
    edit(there, "001", elevation="391m")
    done = apply_patch(here, ApplyRequest(patch(there), "region"), write())
    assert [(one.base.name, one.ours.name, one.round) for one in done.located] == [("Ormsau", "Ormsau Süd", "position")]


def test_a_code_that_means_another_place_here_is_no_match(here, there, edit, patch, write):
    retire_waypoint(here, "001", write())
    add_waypoint(here, "region", WaypointTexts(code="001", name="Ganz woanders", position="47.1,12.0"), write())
    edit(there, "001", description="runway closed")
    with pytest.raises(ConflictError) as refused:
        apply_patch(here, ApplyRequest(patch(there), "region"), write())
    assert refused.value.details["conflicts"][0]["kind"] == "gone"


def test_a_patch_brings_what_was_typed(here, there, edit, patch, write):
    edit(there, "001", position="48°52.330'N 011°48.630'E")
    apply_patch(here, ApplyRequest(patch(there), "region"), write())
    typed = standing(here)["001"].typed
    assert typed == standing(there)["001"].typed
    assert (typed.notation, typed.decimals) == ("degrees-minutes", 2)


def test_tasks_that_use_what_changes_are_told_and_the_patch_is_undone_as_a_whole(here, there, edit, patch, write):
    points = tuple(PointRequest(code) for code in ("001", "002", "003", "001"))
    new_task(here, NewTask("A", points, set_reference="region"), write())
    before = by_code(here)
    edit(there, "002", position="48.5620000,11.5220000")
    retire_waypoint(there, "005", write())
    done = apply_patch(here, ApplyRequest(patch(there), "region"), write("set apply"))
    assert [(use.head.name, use.codes) for use in done.tasks] == [("A", ("002",))]
    undo(here, None, write("undo"))
    assert by_code(here) == before


def test_a_preview_of_a_patch_keeps_nothing(here, there, edit, patch, write, tmp_path):
    edit(there, "001", elevation="391m")
    done = apply_patch(here, ApplyRequest(patch(there), "region"), write(preview=True))
    assert done.revision == 2 and show_set(here, "region").info.number == 1
    edit(here, "001", elevation="380m")
    decide = tmp_path / "decide.json"
    with pytest.raises(ConflictError):
        apply_patch(here, ApplyRequest(patch(there), "region", conflicts_path=str(decide)), write(preview=True))
    assert not decide.exists()


def test_a_patch_says_who_changed_what_and_why(there, edit, patch, desk, write):
    edit(there, "001", elevation="391m")
    path = patch(there)
    loaded = load_patch(path)
    assert (loaded.base, loaded.goal) == ("region@1", "region@2")
    assert [(r.revision, r.author) for r in loaded.reasons] == [(2, "deputy")]
    text = json.loads(Path(path).read_text(encoding="utf-8"))
    assert text["change"][0]["fields"] == {"elevation_m": {"from": 389.0, "to": 391.0}}
    assert text["change"][0]["waypoint"]["code"] == "001"


def test_a_patch_without_a_difference_and_over_a_file_is_refused(here, write, tmp_path):
    with pytest.raises(RefusedError, match="do not differ"):
        write_patch(here, "region@1", "region@1", str(tmp_path / "p.json"))
    retire_waypoint(here, "005", write())
    (tmp_path / "p.json").write_text("mine")
    with pytest.raises(RefusedError, match="exists already"):
        write_patch(here, "region@1", "region", str(tmp_path / "p.json"))
    assert (tmp_path / "p.json").read_text() == "mine"


def test_a_file_that_is_no_patch_is_refused_with_every_problem(here, there, edit, patch, write, tmp_path):
    edit(there, "001", elevation="391m", name="Ormsau Süd")
    path = patch(there)
    document = json.loads(Path(path).read_text(encoding="utf-8"))
    change = document["change"][0]
    change["fields"]["elevation_m"]["to"] = "391"
    change["fields"]["name"]["from"] = "Anders"
    change["waypoint"]["landable"] = "perhaps"
    change["colour"] = "blue"
    bad = tmp_path / "bad.json"
    bad.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(InputError) as refused:
        apply_patch(here, ApplyRequest(str(bad), "region"), write())
    assert {p["place"] for p in refused.value.details["problems"]} == {
        "change[0].fields.elevation_m.to",
        "change[0].waypoint.landable",
        "change[0].colour",
    } | {"change[0].fields.name.from"}
    for text in ('{"schema": "other"}', "[1, 2", "{\x00}", '{"a": NaN}', "[" * 100_000):
        bad.write_text(text, encoding="utf-8")
        with pytest.raises(InputError):
            load_patch(str(bad))
    with pytest.raises(NotFoundError):
        load_patch(str(tmp_path / "none.json"))
    assert len(set_log(here, "region")[1]) == 1


def test_the_difference_of_two_stores_is_empty_after_patches_went_both_ways(here, there, edit, patch, write):
    edit(here, "001", name="Ormsau Süd")
    edit(here, "004", elevation="424m")
    edit(there, "001", elevation="391m")
    retire_waypoint(there, "005", write())
    mine = patch(here)
    apply_patch(there, ApplyRequest(mine, "region"), write())
    apply_patch(here, ApplyRequest(patch(there), "region"), write())
    assert by_code(here) == by_code(there)
    assert diff_sets(here, "region@1", "region").counts.changed == 2
