"""What an import leaves as it stands: finer values said more coarsely, and places that only share a name."""

from __future__ import annotations

import pytest

from taskdb.core.matching.match import MatchRound
from taskdb.core.model import Position
from taskdb.core.notation import Axis, Notation, format_angle
from taskdb.errors import InputError, UsageError
from taskdb.services.desk import NeedsConfirmation
from taskdb.services.sets.history import diff_sets
from taskdb.services.sets.importing import ImportRequest, Mode, import_set
from taskdb.services.sets.set import set_log, show_set
from taskdb.services.store.verify import verify_store
from tests.services.conftest import HEADER, REGION

PLACES = [
    ("001", "Ormsau", 48.8720123, 11.8105678, 389.2),
    ("002", "Kelmried", 48.5614321, 11.5228765, 467.1),
    ("003", "Süd", -33.4567891, -70.1234567, 1204.4),
    ("004", "Datumsgrenze", -17.0000004, 179.9999996, 12.0),
]


def written(kind: str, decimals: int, unit: str = "m", places=PLACES) -> str:
    """Return the places in another notation, rounded."""
    rows = ""
    for code, name, latitude, longitude, elevation in places:
        if kind == "degrees":
            pair = [f"{latitude:.{decimals}f}", f"{longitude:.{decimals}f}"]
        else:
            position = Position.at(latitude, longitude)
            notation = Notation.MINUTES if kind == "minutes" else Notation.SECONDS
            halves = ((position.latitude_e7, Axis.LATITUDE), (position.longitude_e7, Axis.LONGITUDE))
            pair = [format_angle(value, axis, notation, decimals) for value, axis in halves]
        height = {"m1": f"{elevation:.1f}", "m": f"{elevation:.0f}", "ft": f"{elevation / 0.3048:.0f}"}[unit]
        rows += ",".join([code, name, *pair, height]) + "\n"
    return rows


def header(unit: str) -> str:
    return f"code,name,latitude,longitude,elevation_{unit.removesuffix('1')}"


@pytest.fixture
def take(desk, write, csv_file):
    def take(rows, head=HEADER, *, confirmed=False, **options):
        return import_set(desk, ImportRequest(csv_file(rows, head), "region", **options), write(confirmed=confirmed))

    return take


def values(desk, reference="region"):
    return {w.name: (w.position, w.elevation_m) for w in show_set(desk, reference).waypoints}


COARSER = [
    ("minutes", 3, "m"), ("minutes", 2, "ft"), ("minutes", 1, "m"), ("seconds", 0, "ft"), ("degrees", 4, "m"),
    ("degrees", 1, "m"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "decimals", "unit"), COARSER)
def test_a_coarser_list_over_a_finer_one_is_no_change_however_often(take, desk, kind, decimals, unit):
    fine, coarse = written("degrees", 7, "m1"), written(kind, decimals, unit)
    take(fine, header("m1"))
    before = values(desk)
    for rows, head in ((coarse, header(unit)), (fine, header("m1")), (coarse, header(unit))):
        done = take(rows, head)
        assert (done.revision, done.changed, done.unchanged) == (1, 0, 4)
    assert done.fineness.kept == 4 and done.fineness.kept_fields["position"] >= 3
    assert values(desk) == before


@pytest.mark.parametrize(("kind", "decimals", "unit"), COARSER)
def test_a_finer_list_over_a_coarser_one_refines_it_once_and_moves_nothing(take, desk, kind, decimals, unit):
    fine, coarse = written("degrees", 7, "m1"), written(kind, decimals, unit)
    take(coarse, header(unit))
    refined = take(fine, header("m1"))
    assert (refined.revision, refined.fineness.refined, refined.fineness.kept) == (2, refined.changed, 0)
    # One that became finer by more than 1 km is told, and as that.
    assert all(match.is_refined and match.is_far_move for match in refined.matches) and refined.changed >= 3
    differed = diff_sets(desk, "region@1", "region@2")
    assert (differed.counts.moved, differed.counts.refined) == (0, refined.fineness.refined_fields["position"])
    assert values(desk)["Ormsau"] == (Position.at(48.8720123, 11.8105678), 389.2)
    for rows, head in ((coarse, header(unit)), (fine, header("m1"))):
        assert take(rows, head).revision == 2
    assert verify_store(desk).problems == ()


def test_what_is_outside_the_rounding_is_a_move(take, desk):
    take(written("degrees", 7))
    moved = [(code, name, latitude + 0.002, longitude, height) for code, name, latitude, longitude, height in PLACES]
    done = take(written("minutes", 1, places=moved[:1]), header("m"))
    assert (done.changed, done.fineness.kept_fields.get("position")) == (1, None)
    assert diff_sets(desk, "region@1", "region@2").counts.moved == 1


def test_a_change_of_another_field_keeps_the_finer_position_with_what_was_typed(take, desk):
    take(written("degrees", 7, "m1"), header("m1"))
    done = take(written("minutes", 1).replace("389", "512").replace("Ormsau", "ORMSAU"), header("m"))
    assert (done.changed, done.fineness.kept) == (1, 4)
    (ormsau, *_) = show_set(desk, "region").waypoints
    assert (ormsau.name, ormsau.elevation_m, ormsau.position) == ("ORMSAU", 512, Position.at(48.8720123, 11.8105678))
    assert (ormsau.typed.latitude, ormsau.typed.elevation) == ("48.8720123", "512")
    assert verify_store(desk).problems == ()


def test_a_coarser_value_is_taken_where_a_person_says_so(take, desk):
    take(written("degrees", 7))
    done = take(written("minutes", 1), header("m"), takes_coarser=True)
    assert (done.revision, done.changed, done.fineness.kept) == (2, 4, 0)


# -- another field's life ------------------------------------------------------------------------------------------

FULL = "code,name,latitude_deg,longitude_deg,elevation_m,radio,runways"
FIELD = "EDXV,Varnstadt,48.8720000,11.8105000,389,123.505,07/25 071deg 850m x 30m grass\n"
OTHER = "VAR,Varnstadt,48.8900000,11.8105000,395,122.480,15/33 148deg 500m x 20m grass\n"
FAR_OFF = "X1,Ormsau,49.1000000,12.1000000,400,,\n"


def refused(take, rows, **options):
    with pytest.raises(InputError) as error:
        take(rows, FULL, **options)
    assert error.value.code == "rows-rejected"
    return error.value


def test_a_row_that_shares_only_its_name_with_a_field_is_a_row_problem_that_shows_both(take, desk):
    take(FIELD + FAR_OFF, FULL)
    error = refused(take, FAR_OFF + OTHER)
    (problem,) = error.details["rejected"]
    assert (problem["line"], problem["code"], problem["value"]) == (3, "doubtful-match", "VAR")
    for word in ("EDXV", "VAR", "2.0 km off", "code, channel and runways differ", "123.505", "122.480", "48.89000"):
        assert word in problem["message"]
    assert "--map EDXV=VAR" in problem["suggestion"] and "--new VAR" in problem["suggestion"]
    assert "--new=VAR" in error.hint
    assert len(set_log(desk, "region")[1]) == 1


def test_the_doubtful_row_alone_is_left_out_where_bad_rows_are_skipped(take, desk):
    take(FIELD, FULL)
    done = take(OTHER + FAR_OFF, FULL, skip_bad_rows=True)
    assert (done.added, done.changed, len(done.rejected)) == (1, 0, 1)
    assert [w.code for w in show_set(desk, "region").waypoints] == ["EDXV", "X1"]


def test_a_person_decides_that_it_is_the_same_or_another(take, desk):
    take(FIELD, FULL)
    another = take(OTHER, FULL, own=("VAR",))
    assert (another.added, another.changed) == (1, 0)
    assert [(w.code, w.radio[0].channel) for w in show_set(desk, "region").waypoints] == [
        ("EDXV", "123.505"),
        ("VAR", "122.480"),
    ]


@pytest.mark.parametrize("how", [{"mapping": {"EDXV": "VAR"}}, {"confirmed": True}])
def test_one_that_is_the_same_keeps_its_identity_and_is_told(take, desk, how):
    take(FIELD, FULL)
    (before,) = show_set(desk, "region").waypoints
    done = take(OTHER, FULL, **how)
    (after,) = show_set(desk, "region").waypoints
    assert (after.code, after.identity) == ("VAR", before.identity)
    (match,) = done.matches
    assert match.is_renumbered and match.is_far_move and round(match.moved_m) == 2002
    assert match.round is (MatchRound.MAP if "mapping" in how else MatchRound.NAME)


def test_a_map_that_names_what_is_not_there_is_refused(take):
    take(FIELD, FULL)
    for mapping in ({"EDXX": "VAR"}, {"EDXV": "VARN"}):
        with pytest.raises(UsageError) as error:
            take(OTHER, FULL, mapping=mapping)
        assert error.value.code == "map-code-missing"


def test_a_mapped_code_is_followed_although_another_row_bears_the_old_one(take, desk):
    take(FIELD, FULL)
    swapped = OTHER + "EDXV,Varnstadt,48.8720000,11.8105000,389,123.505,\n"
    done = take(swapped, FULL, mapping={"EDXV": "VAR"})
    assert (done.changed, done.added) == (1, 1)


def test_a_row_that_bears_the_old_code_at_the_old_place_is_the_field_whatever_it_is_called(take, desk):
    take(FIELD, FULL)
    (before,) = show_set(desk, "region").waypoints
    renamed = FIELD.replace("Varnstadt", "Varnstadt Airfield")
    done = take(OTHER + renamed, FULL)
    assert (done.added, done.changed, done.renumbered) == (1, 1, 0)
    field, other = show_set(desk, "region").waypoints
    assert (field.code, field.name, field.identity) == ("EDXV", "Varnstadt Airfield", before.identity)
    assert (other.code, other.radio[0].channel) == ("VAR", "122.480")


def test_a_row_that_bears_the_old_code_close_by_leaves_it_to_a_person(take):
    take(FIELD, FULL)
    error = refused(take, OTHER + "EDXV,Tower,48.8760000,11.8105000,389,,\n")
    problem = next(p for p in error.details["rejected"] if p["code"] == "doubtful-match")
    assert "line 3 bears its code, 445 m from it" in problem["message"]


def test_a_list_whose_codes_moved_on_is_renumbered_and_moved_without_a_question(take, desk):
    take(FIELD + FAR_OFF, FULL)
    rows = "EDXW,Varnstadt,48.8730000,11.8105000,389,123.505,\nEDXV,Ormsau,49.1000000,12.1000000,400,,\n"
    done = take(rows, FULL)
    assert (done.changed, done.renumbered) == (2, 2)
    inserted = "EDXV,Varnstadt,48.8740000,11.8105000,389,,\nEDXW,Neuort,47.1000000,12.1000000,400,,\n"
    done = take(inserted + "EDXU,Ormsau,49.1000000,12.1000000,400,,\n", FULL)
    assert (done.added, done.changed, done.renumbered) == (1, 2, 2)


def test_within_thirty_metres_a_name_is_enough(take):
    take(FIELD, FULL)
    done = take("VAR,Varnstadt,48.8721000,11.8105000,389,122.480,\n", FULL)
    assert (done.changed, done.renumbered) == (1, 1)


def test_in_replace_mode_a_person_is_asked_about_all_of_them(take, desk):
    take(FIELD + FAR_OFF, FULL)
    with pytest.raises(NeedsConfirmation) as asked:
        take(OTHER + FAR_OFF, FULL, mode=Mode.REPLACE)
    assert [p["value"] for p in asked.value.details["doubtful"]] == ["VAR"]
    assert "line 2 VAR" in asked.value.message
    assert show_set(desk, "region").info.number == 1
    done = take(OTHER + FAR_OFF, FULL, mode=Mode.REPLACE, confirmed=True)
    assert (done.changed, done.retired, done.added) == (1, 0, 0)


# -- renumbered, renamed, and near where it stood ------------------------------------------------------------------


def test_a_renumbered_and_renamed_point_near_where_it_stood_is_the_same_when_replacing(take, desk):
    take(REGION)
    identity = {w.name: w.identity for w in show_set(desk, "region").waypoints}["Kelmried"]
    rows = REGION.replace("002,Kelmried,48.5610000", "K02,Kelm an der Varn,48.5623500")
    done = take(rows, mode=Mode.REPLACE)
    assert (done.added, done.changed, done.retired) == (0, 1, 0)
    (match,) = done.matches
    assert (match.round, round(match.distance_m), match.is_renumbered) == (MatchRound.NEARBY, 150, True)
    assert identity in {w.identity for w in show_set(desk, "region").waypoints if w.code == "K02"}


def test_when_merging_it_is_a_new_point_and_the_old_one_stays(take):
    take(REGION)
    done = take("K02,Kelm an der Varn,48.5623500,11.5220000,467\n")
    assert (done.added, done.changed, done.count) == (1, 0, 6)


def test_between_two_sets_it_is_a_change_and_no_retirement(take, desk, write, csv_file):
    take(REGION)
    rows = REGION.replace("002,Kelmried,48.5610000", "K02,Kelm an der Varn,48.5623500")
    import_set(desk, ImportRequest(csv_file(rows), "next"), write())
    differed = diff_sets(desk, "region", "next")
    assert (differed.counts.added, differed.counts.retired, differed.counts.changed) == (0, 0, 1)
