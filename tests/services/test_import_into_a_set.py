"""Importing into a set: what makes a revision, what keeps its identity, what is refused, on both engines."""

from __future__ import annotations

import pytest
from geographiclib.geodesic import Geodesic

from taskdb.core.history import packed_changes, told
from taskdb.core.matching import sides
from taskdb.core.matching.match import MatchRound
from taskdb.errors import InputError, NotFoundError
from taskdb.services.desk import NeedsConfirmation
from taskdb.services.sets.importing import ImportRequest, Mode, OnEmpty, counts, import_set
from taskdb.services.sets.set import list_sets, set_log, show_set
from tests.services.conftest import HEADER, REGION


def region(csv_file, desk, write, rows=REGION, **options):
    header = options.pop("header", HEADER)
    return import_set(desk, ImportRequest(csv_file(rows, header), "region", **options), write("set import"))


def codes(desk, reference="region"):
    return [w.code for w in show_set(desk, reference).waypoints]


def identities(desk, reference="region"):
    return {w.name: w.identity for w in show_set(desk, reference).waypoints}


def test_a_first_import_makes_revision_one(desk, write, csv_file):
    done = region(csv_file, desk, write)
    assert (done.revision, done.added, done.read, done.count) == (1, 5, 5, 5)
    assert codes(desk) == ["001", "002", "003", "004", "005"]
    (summary,) = list_sets(desk)
    assert (summary.name, summary.revision, summary.count, summary.author) == ("region", 1, 5, "librarian")


def test_the_same_file_again_makes_no_revision(desk, write, csv_file):
    region(csv_file, desk, write)
    again = region(csv_file, desk, write)
    assert (again.revision, again.unchanged, again.added, again.changed) == (1, 5, 0, 0)
    assert len(set_log(desk, "region")[1]) == 1


def test_a_moved_point_is_a_change_and_keeps_its_identity(desk, write, csv_file):
    region(csv_file, desk, write)
    before = identities(desk)
    moved = region(csv_file, desk, write, REGION.replace("48.5610000", "48.5620000"))
    assert (moved.revision, moved.changed, moved.unchanged) == (2, 1, 4)
    assert identities(desk) == before
    assert show_set(desk, "region@1").waypoints[1].position.latitude_deg == 48.561
    assert show_set(desk, "region@2").waypoints[1].position.latitude_deg == 48.562


def test_a_list_renumbered_by_inserting_one_row_keeps_every_identity(desk, write, csv_file):
    region(csv_file, desk, write)
    before = identities(desk)
    rows = ["Ansberg,48.7,11.9,400"] + [line.partition(",")[2] for line in REGION.splitlines()]
    renumbered = "".join(f"{number:03d},{row}\n" for number, row in enumerate(rows, 1))
    done = region(csv_file, desk, write, renumbered, mode=Mode.REPLACE)
    assert (done.added, done.renumbered, done.retired) == (1, 5, 0)
    after = identities(desk)
    assert {name: after[name] for name in before} == before


def test_a_renumbered_list_does_the_same_however_few_rows_are_packed_at_once(desk, write, csv_file, monkeypatch):
    renumbered = "".join(f"X{line}" for line in REGION.splitlines(keepends=True))
    region(csv_file, desk, write)
    before = identities(desk)
    whole = region(csv_file, desk, write, renumbered)
    changed = show_set(desk, "region").waypoints
    region(csv_file, desk, write, REGION)
    for module in (packed_changes, told):
        monkeypatch.setattr(module, "_AT_ONCE", 2)
    monkeypatch.setattr(sides, "AT_ONCE", 1)
    parts = region(csv_file, desk, write, renumbered)
    assert (parts.changed, parts.renumbered, list(parts.matches)) == (5, 5, list(whole.matches))
    assert [match.line for match in parts.matches[:2]] == [2, 3]
    assert show_set(desk, "region").waypoints == changed and identities(desk) == before


def test_a_point_moved_and_recoded_is_told_with_the_round_that_matched_it(desk, write, csv_file):
    region(csv_file, desk, write)
    done = region(csv_file, desk, write, "777,Kelmried,48.5611000,11.5220000,467\n")
    (match,) = done.matches
    assert (match.line, match.code, match.old_code, match.round) == (2, "777", "002", MatchRound.NAME)


def test_merging_keeps_what_the_file_lacks_and_replacing_retires_it(desk, write, csv_file):
    region(csv_file, desk, write)
    one = "".join(REGION.splitlines(keepends=True)[:4])
    assert region(csv_file, desk, write, one).retired == 0
    done = region(csv_file, desk, write, one, mode=Mode.REPLACE)
    assert (done.retired, done.count, codes(desk)) == (1, 4, ["001", "002", "003", "004"])


def test_retiring_more_than_a_quarter_asks(desk, write, csv_file):
    region(csv_file, desk, write)
    path = csv_file("".join(REGION.splitlines(keepends=True)[:3]))
    request = ImportRequest(path, "region", mode=Mode.REPLACE)
    with pytest.raises(NeedsConfirmation) as asked:
        import_set(desk, request, write())
    assert asked.value.details["retired"] == 2
    assert show_set(desk, "region").info.number == 1
    assert import_set(desk, request, write(confirmed=True)).retired == 2


def test_a_column_that_the_file_lacks_keeps_the_old_values(desk, write, csv_file):
    region(csv_file, desk, write)
    done = region(csv_file, desk, write, "001,Ormsau,48.872,11.8105\n", header="code,name,latitude_deg,longitude_deg")
    assert (done.unchanged, done.changed) == (1, 0)
    assert show_set(desk, "region").waypoints[0].elevation_m == 389


def test_an_empty_cell_keeps_the_value_counted_and_clears_it_when_asked(desk, write, csv_file):
    region(csv_file, desk, write)
    kept = region(csv_file, desk, write, "001,Ormsau,48.872,11.8105,\n")
    assert (kept.kept_values, kept.changed) == (1, 0)
    cleared = region(csv_file, desk, write, "001,Ormsau,48.872,11.8105,\n", on_empty=OnEmpty.CLEARS)
    assert cleared.changed == 1
    assert show_set(desk, "region").waypoints[0].elevation_m is None


def test_every_bad_row_is_told_and_nothing_is_kept(desk, write, csv_file):
    rows = REGION + "006,Zu weit,98.0,11.0,400\n007,Ohne Zahl,abc,11.0,400\n001,Doppelt,48.1,11.1,300\n"
    with pytest.raises(InputError) as refused:
        region(csv_file, desk, write, rows)
    assert refused.value.code == "rows-rejected"
    assert {problem["line"] for problem in refused.value.details["rejected"]} == {7, 8, 9}
    assert refused.value.details["total"] == len(refused.value.details["rejected"])
    assert list_sets(desk) == ()


def test_skipping_bad_rows_takes_the_rest_and_the_counts_reconcile(desk, write, csv_file):
    rows = REGION + "006,Zu weit,98.0,11.0,400\n"
    done = region(csv_file, desk, write, rows, skip_bad_rows=True)
    assert done.count == 5
    reconciled = counts(done)
    assert reconciled["read"] == sum(reconciled[k] for k in ("added", "changed", "unchanged", "rejected"))


def test_a_code_that_a_standing_point_holds_is_a_row_problem_when_merging(desk, write, csv_file):
    region(csv_file, desk, write)
    with pytest.raises(InputError) as refused:
        region(csv_file, desk, write, "002,Neuer Ort,48.1,12.9,400\n")
    (problem,) = refused.value.details["rejected"]
    assert (problem["line"], problem["code"]) == (2, "code-in-use")


def test_a_reused_code_is_confirmed_when_replacing(desk, write, csv_file):
    region(csv_file, desk, write)
    rows = REGION.replace("005,Brüxfeld,49.0350000,11.5790000,470", "005,Neuer Ort,48.1,12.9,400")
    request = ImportRequest(csv_file(rows), "region", mode=Mode.REPLACE)
    with pytest.raises(NeedsConfirmation) as asked:
        import_set(desk, request, write())
    assert asked.value.details["reused"] == ["005"]
    done = import_set(desk, request, write(confirmed=True))
    assert (done.added, done.retired) == (1, 1)


@pytest.mark.parametrize(("metres", "reused"), [(999.0, None), (1_001.0, ["005"])])
def test_only_a_place_over_a_kilometre_away_is_another_one(desk, write, csv_file, metres, reused):
    # The first is nearer, so that the code alone makes the second no match.
    region(csv_file, desk, write)
    rows = [line for line in REGION.splitlines() if not line.startswith("005")]
    for code, name, away in (("006", "Näher", 700.0), ("005", "Neuer Ort", metres)):
        at = Geodesic.WGS84.Direct(49.035, 11.579, 0.0, away)
        rows.append(f"{code},{name},{at['lat2']:.7f},{at['lon2']:.7f},470")
    request = ImportRequest(csv_file("\n".join(rows) + "\n"), "region", mode=Mode.REPLACE)
    if reused is None:
        assert import_set(desk, request, write()).retired == 1
    else:
        with pytest.raises(NeedsConfirmation) as asked:
            import_set(desk, request, write())
        assert asked.value.details["reused"] == reused


@pytest.mark.parametrize(("metres", "is_told"), [(999.0, False), (1_001.0, True)])
def test_a_code_with_its_name_is_told_over_a_kilometre(desk, write, csv_file, metres, is_told):
    region(csv_file, desk, write)
    at = Geodesic.WGS84.Direct(49.035, 11.579, 0.0, metres)
    done = region(csv_file, desk, write, f"005,Brüxfeld,{at['lat2']:.7f},{at['lon2']:.7f},470\n")
    assert done.changed == 1
    assert [match.is_far_move for match in done.matches] == ([True] if is_told else [])


def test_a_list_renumbered_over_a_row_that_went_asks_about_that_rows_code(desk, write, csv_file):
    region(csv_file, desk, write)
    rows = REGION.splitlines()
    moved_on = [rows[0], *(f"{number:03d}{row[3:]}" for number, row in enumerate(rows[2:], start=2))]
    request = ImportRequest(csv_file("\n".join(moved_on) + "\n"), "region", mode=Mode.REPLACE)
    with pytest.raises(NeedsConfirmation) as asked:
        import_set(desk, request, write())
    assert asked.value.details["reused"] == ["002"]
    done = import_set(desk, request, write(confirmed=True))
    assert (done.renumbered, done.retired) == (3, 1)


def test_swapped_codes_are_a_renumbering(desk, write, csv_file):
    region(csv_file, desk, write)
    before = identities(desk)
    rows = REGION.replace("001,", "x,").replace("002,", "001,").replace("x,", "002,")
    done = region(csv_file, desk, write, rows)
    assert (done.changed, done.renumbered) == (2, 2)
    assert identities(desk) == before


def test_a_preview_reports_and_keeps_nothing(desk, write, csv_file):
    path = csv_file(REGION)
    done = import_set(desk, ImportRequest(path, "region"), write(preview=True))
    assert (done.added, done.revision) == (5, 1)
    assert list_sets(desk) == ()


def test_a_missing_file_is_not_found(desk, write):
    with pytest.raises(NotFoundError):
        import_set(desk, ImportRequest("no-such.csv", "region"), write())


def test_leading_zeros_that_a_spreadsheet_ate_are_given_back_and_told(desk, write, csv_file):
    region(csv_file, desk, write)
    before = identities(desk)
    eaten = "".join(line.removeprefix("00") for line in REGION.splitlines(keepends=True))
    moved = eaten.replace("48.5610000", "48.5620000")
    done = region(csv_file, desk, write, moved, mode=Mode.REPLACE)
    assert (done.restored_codes, done.renumbered, done.changed, done.unchanged) == (5, 0, 1, 4)
    assert codes(desk) == ["001", "002", "003", "004", "005"]
    assert identities(desk) == before
    as_written = region(csv_file, desk, write, moved, mode=Mode.REPLACE, codes_as_written=True)
    assert (as_written.restored_codes, as_written.changed) == (0, 5)
    assert codes(desk) == ["1", "2", "3", "4", "5"]


def test_a_code_that_a_spreadsheet_made_a_date_is_a_row_problem(desk, write, csv_file):
    region(csv_file, desk, write, REGION.replace("003,", "3-5,"))
    with pytest.raises(InputError) as refused:
        region(csv_file, desk, write, REGION.replace("003,", "03-May,"))
    (problem,) = refused.value.details["rejected"]
    assert (problem["line"], problem["code"], problem["suggestion"]) == (4, "code-is-date", "3-5")


def test_rejected_rows_are_written_mended_and_imported(desk, write, csv_file, tmp_path):
    rows = REGION + "006,Zu weit,98.0,11.0,400\n007,Ohne Zahl,48.0,abc,400\n"
    rejects = tmp_path / "rejects.csv"
    done = region(csv_file, desk, write, rows, skip_bad_rows=True, rejects_path=str(rejects))
    assert (done.count, done.rejects_path) == (5, str(rejects))
    text = rejects.read_text(encoding="utf-8")
    assert text.splitlines()[0].endswith(",reason") and "98.0" in text
    rejects.write_text(text.replace("98.0", "48.1").replace("abc", "11.2"), encoding="utf-8")
    mended = import_set(desk, ImportRequest(str(rejects), "region"), write())
    assert (mended.added, mended.count, mended.rejected) == (2, 7, ())


def test_rows_that_cannot_have_their_codes_are_left_out_one_after_another_and_written_too(
    desk, write, csv_file, tmp_path
):
    # 001 would become 002 and 002 003, which stands for another place: without its row 002 stands in the way of 001.
    lines = REGION.splitlines(keepends=True)
    moved = f"002{lines[0][3:]}003{lines[1][3:]}006{lines[3][3:]}"
    region(csv_file, desk, write)
    rejects = tmp_path / "rejects.csv"
    done = region(csv_file, desk, write, moved, skip_bad_rows=True, rejects_path=str(rejects))
    assert [(problem.line, problem.code) for problem in done.rejected] == [(3, "code-in-use"), (2, "code-in-use")]
    assert (done.changed, codes(desk)) == (1, ["001", "002", "003", "005", "006"])
    _, *written = rejects.read_text(encoding="utf-8").splitlines()
    assert [line[:3] for line in written] == ["002", "003"] and "line 2; code: the code 002 stands" in written[0]


def test_a_long_row_of_codes_that_keep_each_other_from_moving_on_is_refused(desk, write, csv_file):
    places = [f"Platz {chr(97 + n)},{47 + n / 10},11,400\n" for n in range(8)]
    region(csv_file, desk, write, "".join(f"{n:03d},{place}" for n, place in enumerate(places)))
    moved_on = "".join(f"{n + 1:03d},{place}" for n, place in enumerate(places[:7]))
    with pytest.raises(InputError) as refused:
        region(csv_file, desk, write, moved_on, skip_bad_rows=True)
    assert [problem["line"] for problem in refused.value.details["rejected"]] == [8, 7, 6, 5]
    assert "--on-error" not in refused.value.hint
    assert len(set_log(desk, "region")[1]) == 1


def test_the_refusal_says_which_saved_tasks_use_a_bad_row(desk, write, csv_file):
    from taskdb.services.tasks.task import NewTask, PointRequest, new_task

    region(csv_file, desk, write)
    new_task(desk, NewTask("Long one", (PointRequest("001"), PointRequest("003"))), write())
    with pytest.raises(InputError) as refused:
        region(csv_file, desk, write, REGION.replace("49.0510000,12.4730000", "49.05l,12.473"))
    assert refused.value.details["tasks"] == ["Long one"]
    assert "--on-error skip --rejects" in refused.value.hint
