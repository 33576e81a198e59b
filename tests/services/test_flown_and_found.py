"""What becomes of tasks (issued, replaced, cancelled, flown), and finding them again by what is known of them."""

from __future__ import annotations

import csv

import pytest

from taskdb.core.filters.tasks import Order, Range, Sector, TaskFilter
from taskdb.core.model import FlownRecord, Status
from taskdb.errors import InputError, NotFoundError, RefusedError, UsageError
from taskdb.services.contests.contest import NewContest, new_contest
from taskdb.services.sets.history import copy_set
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks.finding import TaskFindRequest, find_tasks
from taskdb.services.tasks.flown import cancel_task, choose_task, export_flown, flown_of, import_flown, record_flown
from taskdb.services.tasks.task import NewTask, PointRequest, new_task, show_task, task_log
from tests.building import flown_by_logs
from tests.services.conftest import REGION

COURSES = {
    "A": ("001", "003", "004", "001"),
    "B": ("001", "004", "003", "001"),
    "C": ("001", "002", "005", "001"),
    "D": ("001", "003", "001"),
}


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    new_contest(desk, NewContest("Cup", "region"), write())
    for name, codes in COURSES.items():
        given = {"contest": "Cup", "day": 1, "class_name": "club" if name == "D" else None}
        new_task(desk, NewTask(name, tuple(PointRequest(code) for code in codes), **given), write())


@pytest.fixture
def cup(built, write, csv_file):
    return built(filled, write, csv_file)


def status(desk, name):
    return show_task(desk, f"Cup:{name}").task.status


def found(desk, wanted=None, **given):
    return [hit.row.task for hit in find_tasks(desk, TaskFindRequest(wanted or TaskFilter(), **given)).tasks]


def test_issuing_a_variant_replaces_the_issued_one_of_its_day_and_class_only(cup, write):
    choose_task(cup, "A", None, write())
    choose_task(cup, "D", None, write())
    done = choose_task(cup, "B", "2027-05-14T08:30:00Z", write())
    assert done.replaced == ("A",)
    assert done.issued.task.issued_at == "2027-05-14T08:30:00Z"
    assert [status(cup, name) for name in "ABCD"] == [
        Status.REPLACED, Status.ISSUED, Status.PROPOSED, Status.ISSUED,
    ]  # fmt: skip
    with pytest.raises(RefusedError):
        choose_task(cup, "B", None, write())


def test_cancelling_makes_one_revision_that_differs_in_status_alone(cup, write):
    before = show_task(cup, "A").task
    after = cancel_task(cup, "A", write())
    assert after.task.status is Status.CANCELLED and after.revision == 2
    assert (after.task.points, after.fingerprint) == (before.points, show_task(cup, "A@1").fingerprint)


def test_the_last_record_of_a_day_counts_and_can_be_withdrawn(cup, write):
    record_flown(cup, "A", FlownRecord("2027-05-14", starters=20, finishers=3), write())
    record_flown(cup, "A", FlownRecord("2027-05-14", starters=20, finishers=13), write())
    shown = record_flown(cup, "A", FlownRecord("2027-05-15", starters=20, finishers=5), write())
    assert [(r.flown_on, r.finishers) for r in shown.records] == [("2027-05-14", 13), ("2027-05-15", 5)]
    assert status(cup, "A") is Status.FLOWN
    assert len(task_log(cup, "A")[1]) == 2, "the records of later days are no revisions of the task"
    record_flown(cup, "A", FlownRecord("2027-05-14"), write(), withdraw=True)
    assert [r.flown_on for r in flown_of(cup, "A").records] == ["2027-05-15"]
    with pytest.raises(RefusedError):
        record_flown(cup, "A", FlownRecord("2027-05-16", starters=3, finishers=5), write())


RECORD = FlownRecord(
    "2027-05-14",
    240.0,
    27.8,
    1800.0,
    starters=20,
    finishers=13,
    best_kmh=104.2,
    median_kmh=88.0,
    remarks='wave, "late"',
)


def test_records_go_out_as_csv_and_come_in_again(cup, write, tmp_path, csv_file):
    record_flown(cup, "A", RECORD, write())
    record_flown(cup, "B", FlownRecord("2027-06-01"), write())
    path = tmp_path / "flown.csv"
    assert export_flown(cup, str(path)) == 2
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [(row["task"], row["contest"], row["flown_on"]) for row in rows] == [
        ("A", "Cup", "2027-05-14"), ("B", "Cup", "2027-06-01"),
    ]  # fmt: skip
    assert rows[0]["remarks"] == 'wave, "late"' and rows[1]["starters"] == ""
    with pytest.raises(RefusedError):
        export_flown(cup, str(path))
    assert import_flown(cup, str(path), write()) == 0, "what is known already is no change"
    record_flown(cup, "A", FlownRecord("2027-05-14"), write(), withdraw=True)
    assert import_flown(cup, str(path), write()) == 1
    assert flown_of(cup, "A").records == (RECORD,)


def test_a_remark_that_a_spreadsheet_would_run_goes_out_harmless_and_comes_back(cup, write, tmp_path):
    given = FlownRecord("2027-05-14", remarks="=HYPERLINK(1)")
    record_flown(cup, "A", given, write())
    path = tmp_path / "flown.csv"
    export_flown(cup, str(path))
    assert ",'=HYPERLINK(1)" in path.read_text(encoding="utf-8")
    assert import_flown(cup, str(path), write()) == 0, "it is read as it was"
    record_flown(cup, "A", FlownRecord("2027-05-14"), write(), withdraw=True)
    path.write_text(path.read_text(encoding="utf-8").replace("(1)", "\0"), encoding="utf-8")
    assert import_flown(cup, str(path), write()) == 1
    assert flown_of(cup, "A").records[0].remarks == "=HYPERLINK"


def test_a_file_of_too_many_records_is_refused_before_they_are_looked_up(cup, write, tmp_path):
    path = tmp_path / "flown.csv"
    path.write_text("task,flown_on\n" + "A,x\n" * 100_001, encoding="utf-8")
    with pytest.raises(InputError) as refused:
        import_flown(cup, str(path), write())
    assert refused.value.code == "too-many-rows"


def test_every_bad_row_of_a_csv_is_told_and_nothing_is_kept(cup, write, tmp_path):
    path = tmp_path / "flown.csv"
    path.write_text(
        "task,contest,flown_on,starters,finishers\n"
        "A,Cup,2027-05-14,20,13\nQ,Cup,2027-05-14,1,1\nA,Cup,14.5.,1,1\nA,Cup,2027-05-15,three,1\nA,Cup,2027-05-16,1,2\n",
        encoding="utf-8",
    )
    with pytest.raises(InputError) as refused:
        import_flown(cup, str(path), write())
    told = [(row["line"], row["field"]) for row in refused.value.details["rejected"]]
    assert told == [(3, "task"), (4, "flown_on"), (5, "starters"), (6, "finishers")]
    assert flown_of(cup, "A").records == ()
    path.write_text("task\nA\n", encoding="utf-8")
    with pytest.raises(InputError):
        import_flown(cup, str(path), write())
    with pytest.raises(NotFoundError):
        import_flown(cup, str(tmp_path / "none.csv"), write())


def test_what_is_found_is_sorted_as_asked_with_what_is_not_known_last(cup, write):
    record_flown(cup, "A", FlownRecord("2027-05-14", starters=10, finishers=9), write())
    record_flown(cup, "C", FlownRecord("2026-05-14", starters=10, finishers=1), write())
    record_flown(cup, "C", FlownRecord("2026-06-14"), write())
    assert found(cup, order=Order.TIMES_FLOWN)[:2] == ["C", "A"]
    assert found(cup, order=Order.LAST_FLOWN) == ["A", "C", "B", "D"]
    assert found(cup, order=Order.FINISH_RATE) == ["A", "C", "B", "D"]
    by_length = find_tasks(cup, TaskFindRequest(order=Order.DISTANCE)).tasks
    assert [hit.row.task_m for hit in by_length] == sorted(hit.row.task_m for hit in by_length)
    cut = find_tasks(cup, TaskFindRequest(order=Order.LAST_FLOWN, limit=1))
    assert ([hit.row.task for hit in cut.tasks], cut.total) == (["A"], 4)


def test_filters_of_flown_days_ask_for_one_day_that_fits_all(cup, write):
    record_flown(cup, "A", FlownRecord("2027-05-14", 240.0, 20.0, starters=10, finishers=1), write())
    record_flown(cup, "A", FlownRecord("2026-05-14", 90.0, 20.0, starters=10, finishers=9), write())
    west, many = Sector(200, 260), Range(60, 100)
    assert found(cup, TaskFilter(wind_from=west)) == ["A"]
    assert found(cup, TaskFilter(finish_rate_percent=many)) == ["A"]
    assert found(cup, TaskFilter(wind_from=west, finish_rate_percent=many)) == []
    assert found(cup, TaskFilter(flown_after="2027-05-13")) == ["A"]
    assert found(cup, TaskFilter(flown_after="2027-05-14")) == []


def test_a_task_like_another_has_its_points_whatever_their_order(cup):
    hits = find_tasks(cup, TaskFindRequest(like="A")).tasks
    assert [hit.row.task for hit in hits][:2] == ["B", "D"]
    same = hits[0].like
    # B flies A's legs the other way round: the same points and the same legs, nowhere apart.
    assert (same.points, same.legs, same.apart_m, same.score) == (1.0, 1.0, 0.0, 1.0)
    assert "A" not in [hit.row.task for hit in hits]
    assert found(cup, TaskFilter(class_name="club"), like="A") == ["D"]


def test_references_in_a_search_are_looked_up_or_refused(cup, write, csv_file):
    assert found(cup, through=("Brüxfeld",)) == ["C"]
    assert found(cup, through=("003", "004")) == ["A", "B"]
    assert found(cup, near="005", within_m=1000) == ["C"]
    # In a copy of the set the same places stand under the same codes: nothing to ask.
    copy_set(cup, "region", "copy", write())
    assert found(cup, near="005", within_m=1000) == found(cup, through=("Brüxfeld",)) == ["C"]
    import_set(cup, ImportRequest(csv_file("007,Brüxfeld,48.0000000,11.5000000,470\n"), "other"), write())
    for asked in ({"through": ("Brüxfeld",)}, {"near": "Brüxfeld", "within_m": 1000}):
        with pytest.raises(RefusedError):
            found(cup, **asked)
        assert found(cup, TaskFilter(contest="Cup"), **asked) == ["C"], "a contest stands on one set"
    with pytest.raises(UsageError):
        found(cup, near="005")
    with pytest.raises(NotFoundError):
        found(cup, through=("Nowhere",))
    with pytest.raises(NotFoundError):
        found(cup, TaskFilter(contest="Other"))
    with pytest.raises(NotFoundError):
        found(cup, like="Q")


def test_flown_records_are_read_with_units_as_people_type_them(cup, write, tmp_path):
    path = tmp_path / "flown.csv"
    path.write_text(
        "task;flown_on;wind;cloud_base;starters;finishers;best\nA;2027-05-09;240/15kt;1800m MSL;12;9;104km/h\n",
        encoding="utf-8",
    )
    assert import_flown(cup, str(path), write()) == 1
    (record,) = flown_of(cup, "A").records
    assert (record.wind_from_deg, record.wind_speed_kmh) == (240, 27.78), "1 kt is 1.852 km/h (ISO 80000-3)"
    assert (record.cloud_base_m, record.starters, record.best_kmh) == (1800, 12, 104)


def test_a_column_that_would_be_lost_is_refused(cup, write, tmp_path):
    path = tmp_path / "flown.csv"
    path.write_text("task,flown_on,winner\nA,2027-05-09,nobody\n", encoding="utf-8")
    with pytest.raises(InputError, match="winner"):
        import_flown(cup, str(path), write())


def test_a_cloud_base_above_ground_is_told_with_its_line(cup, write, tmp_path):
    path = tmp_path / "flown.csv"
    path.write_text("task,flown_on,cloud_base\nA,2027-05-09,1800m AGL\n", encoding="utf-8")
    with pytest.raises(InputError) as refused:
        import_flown(cup, str(path), write())
    assert [(one["line"], one["field"]) for one in refused.value.details["rejected"]] == [(2, "cloud_base")]


def test_what_logs_told_stays_when_a_person_writes_beside_it(cup, write):
    told = flown_by_logs()
    record_flown(cup, "A", FlownRecord("2027-05-14", by_logs=told), write())
    record_flown(cup, "A", FlownRecord("2027-05-14", 240.0, 28.0, starters=4, finishers=2, remarks="late"), write())
    (record,) = flown_of(cup, "A").records
    assert (record.by_logs, record.starters, record.remarks) == (told, 4, "late")
    record_flown(cup, "A", FlownRecord("2027-05-14"), write(), withdraw=True)
    assert flown_of(cup, "A").records == ()
    record_flown(cup, "A", FlownRecord("2027-05-14"), write())
    assert flown_of(cup, "A").records[0].by_logs is None, "what was withdrawn does not come back"


def test_a_search_takes_the_hand_s_pair_and_else_that_of_the_logs(cup, write):
    two_of_three = flown_by_logs(starters=3, finishers=2)
    record_flown(cup, "A", FlownRecord("2027-05-14", by_logs=two_of_three), write())
    record_flown(cup, "B", FlownRecord("2027-05-14", starters=10, finishers=1, by_logs=two_of_three), write())
    # Starters alone are no pair: 2 of 20 would be neither's figure.
    record_flown(cup, "C", FlownRecord("2027-05-14", starters=20, by_logs=two_of_three), write())
    record_flown(cup, "D", FlownRecord("2027-05-14", starters=20), write())
    assert found(cup, TaskFilter(finish_rate_percent=Range(60, 100))) == ["A", "C"]
    assert found(cup, order=Order.FINISH_RATE) == ["A", "C", "B", "D"]
    hits = find_tasks(cup, TaskFindRequest(order=Order.FINISH_RATE)).tasks
    assert [hit.finish_rate_percent for hit in hits] == [pytest.approx(200 / 3), pytest.approx(200 / 3), 10.0, None]


def test_what_logs_told_goes_out_as_csv_and_comes_back(cup, write, tmp_path):
    told = flown_by_logs(ended_near=(("+7", 2), (None, 1)), best_kmh=None, last_finish=None)
    record_flown(cup, "A", FlownRecord("2027-05-14", starters=5, by_logs=told), write())
    path = tmp_path / "flown.csv"
    export_flown(cup, str(path))
    assert import_flown(cup, str(path), write()) == 0
    record_flown(cup, "A", FlownRecord("2027-05-14"), write(), withdraw=True)
    assert import_flown(cup, str(path), write()) == 1
    assert flown_of(cup, "A").records == (FlownRecord("2027-05-14", starters=5, by_logs=told),)
    path.write_text("task,flown_on,starters\nA,2027-05-14,6\n", encoding="utf-8")
    assert import_flown(cup, str(path), write()) == 1
    assert flown_of(cup, "A").records[0].by_logs == told, "a file that says nothing of logs takes nothing away"


@pytest.mark.parametrize(
    ("column", "cell"),
    [
        ("logs", "0123"), ("first_start", "2027-05-14 11:02"), ("last_finish", "2027-13-14T11:02:03Z"),
        ("ended_near", "002"), ("ended_near", "a:b:1"), ("log_best_kmh", "fast"), ("log_starters", "-1"),
    ],
)  # fmt: skip
def test_a_cell_of_what_logs_told_that_means_nothing_is_told(cup, write, tmp_path, column, cell):
    path = tmp_path / "flown.csv"
    path.write_text(f"task,flown_on,{column}\nA,2027-05-09,{cell}\n", encoding="utf-8")
    with pytest.raises(InputError) as refused:
        import_flown(cup, str(path), write())
    told = {one["field"] for one in refused.value.details["rejected"]}
    assert told == {column, "logs"}, "and what logs told needs the checksums of the logs"
