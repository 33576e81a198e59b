"""A review gathers what its rules need from the store: set findings, other tasks, the day, the contest's settings."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.contests.days import DayChange
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import ContestClass, Severity
from taskdb.core.quantities import Wind
from taskdb.errors import NotFoundError, UsageError
from taskdb.services.contests.contest import NewContest, new_contest, pin_contest
from taskdb.services.contests.day import set_day
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks import review as review_service
from taskdb.services.tasks.task import NewTask, PointRequest, copy_task, new_task, retire_task, review_tasks, show_task
from taskdb.store import contests as contest_rows, findings as finding_rows, sets as set_rows
from tests.building import writing_rows
from tests.services.conftest import REGION

TWICE = "003,Tannwöhr,49.0510000,12.4730000,497\n006,Tannwöhr,49.0512000,12.4732000,497\n"
"""The place of 003, and once more under another code: a warning of `same-place`."""


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    new_contest(desk, NewContest("Cup", "region", site="001", timezone="Europe/Berlin"), write())


@pytest.fixture
def cup(built, write, csv_file):
    return built(filled, write, csv_file)


def make(desk, write, *codes, name="A", contest="Cup", zone=None, **given):
    last = len(codes) - 1
    points = tuple(
        PointRequest(code, parse_zone(zone) if zone is not None and 0 < n < last else None)
        for n, code in enumerate(codes)
    )
    return new_task(desk, NewTask(name, points, contest=contest, **given), write())


def with_contest(desk, write, **values):
    """Give the contest's newest revision other values."""
    with writing_rows(desk, write()) as writing:
        head = contest_rows.contest_head(writing.connection, contest_rows.find_contest(writing.connection, "Cup").id)
        before = contest_rows.contest_at(writing.connection, head.id, head.newest)
        contest_rows.write_contest(writing, head, replace(before, **values))


def rules_of(shown):
    return [finding.rule for finding in shown.review.open]


def one_of(shown, rule):
    (finding,) = [finding for finding in shown.review.open if finding.rule == rule]
    return finding


def test_a_sound_task_has_no_finding(cup, write):
    assert make(cup, write, "001", "003", "004", "001").review.findings == ()
    (reviewed,) = review_tasks(cup, ["A"])
    assert reviewed.review.findings == ()


def test_open_findings_of_the_set_are_told_where_the_task_uses_the_point(cup, write, csv_file):
    import_set(cup, ImportRequest(csv_file(TWICE), "region"), write())
    make(cup, write, "001", "003", "004", "001")
    # The contest stands on the revision before.
    assert rules_of(show_task(cup, "A")) == []
    pin_contest(cup, "Cup", "region@2", write())
    shown = show_task(cup, "A")
    assert rules_of(shown) == ["point-with-finding"]
    (finding,) = shown.review.open
    assert (finding.codes, finding.severity) == (("003",), Severity.WARNING)
    make(cup, write, "001", "002", "005", "001", name="B")
    assert rules_of(show_task(cup, "B")) == []


def test_a_finding_accepted_in_the_set_is_no_longer_told(cup, write, csv_file):
    import_set(cup, ImportRequest(csv_file(TWICE), "region"), write())
    pin_contest(cup, "Cup", "region@2", write())
    shown = make(cup, write, "001", "003", "004", "001")
    of_set = shown.review.open[0].evidence["finding"]
    with writing_rows(cup, write()) as writing:
        set_id = set_rows.find_set(writing.connection, "region").id
        finding_rows.write_acceptances(writing, set_id, {of_set: "same-place"}, "a bridge and its village")
    assert show_task(cup, "A").review.findings == ()


def test_a_finding_of_the_review_is_accepted_by_its_own_id(cup, write):
    shown = make(cup, write, "001", "003", "004", "001", zone="cylinder 40km")
    found = next(f for f in shown.review.open if f.rule == "overlapping-zones")
    with writing_rows(cup, write()) as writing:
        set_id = set_rows.find_set(writing.connection, "region").id
        finding_rows.write_acceptances(writing, set_id, {found.id: found.rule}, "a training task")
    again = show_task(cup, "A").review
    assert found.id not in [one.id for one in again.open]
    assert [one.accepted.why for one in again.findings if one.id == found.id] == ["a training task"]


def test_what_moved_since_is_told(cup, write, csv_file):
    make(cup, write, "001", "003", "004", "001", contest=None, set_reference="region")
    import_set(cup, ImportRequest(csv_file("003,Tannwöhr,49.0610000,12.4730000,497\n"), "region"), write())
    (finding,) = show_task(cup, "A").review.open
    assert (finding.rule, finding.codes) == ("points-changed", ("003",))
    assert "moved 1.1 km towards 000°" in finding.message


@pytest.mark.parametrize("searched", (review_service.MOST_SEARCHED, 0), ids=("one by one", "in one look at all"))
def test_twins_are_found_in_every_contest_and_a_retired_one_is_none(cup, write, monkeypatch, searched):
    monkeypatch.setattr(review_service, "MOST_SEARCHED", searched)
    make(cup, write, "001", "003", "004", "001")
    make(cup, write, "001", "004", "003", "001", name="B")
    make(cup, write, "001", "004", "002", "003", "001", name="More")
    copy_task(cup, "A", "C", write())
    alone = make(cup, write, "003", "004", "001", "003", name="A", contest=None, set_reference="region")
    told = {finding.evidence["task"]: finding.evidence["how"] for finding in alone.review.open}
    assert told == {"Cup:A": "shifted", "Cup:B": "shifted and reversed", "Cup:C": "shifted"}
    twin = next(f for f in show_task(cup, "Cup:A").review.open if f.evidence["task"] == "C")
    assert (twin.severity, twin.evidence["how"]) == (Severity.WARNING, "same")
    retire_task(cup, "C", write())
    assert "C" not in [f.evidence["task"] for f in show_task(cup, "Cup:A").review.open]


def test_limits_and_speeds_are_those_of_the_contest(cup, write):
    make(cup, write, "001", "003", "004", "001", class_name=None, time_s=3000)
    assert rules_of(show_task(cup, "A")) == []
    with_contest(cup, write, classes=(ContestClass("Club", 60, 110), ContestClass("Open", 80, 160)))
    (finding,) = show_task(cup, "A").review.open
    assert finding.rule == "speeds-out-of-range"
    assert "the contest's classes (160 km/h on average in still air)" in finding.message
    with_contest(cup, write, classes=(), settings={"shortest_leg_m": 60_000, "least_area_ratio": "wide"})
    shown = show_task(cup, "A")
    assert set(rules_of(shown)) == {"short-leg"}
    assert shown.review.limits.shortest_leg_m == 60_000
    assert any("least_area_ratio" in note for note in shown.review.notes)


def test_an_end_after_the_legal_day_is_told_by_the_contests_rule(cup, write):
    friday = DayChange(date="2027-05-14", start_opens="18:25", wind=Wind(240, 10), speed_kmh=90)
    set_day(cup, "Cup", 1, friday, write())
    make(cup, write, "001", "003", "004", "001", day=1)
    finding = one_of(show_task(cup, "A"), "after-legal-end")
    assert finding.severity is Severity.WARNING
    assert "20:45 (sunset)" in finding.message
    with_contest(cup, write, settings={"legal_end": "civil-dusk"})
    finding = one_of(show_task(cup, "A"), "after-legal-end")
    assert finding.severity is Severity.NOTE
    assert "before the legal end of the day at 21:24 (the end of civil dusk)" in finding.message
    with_contest(cup, write, settings={"legal_end": "midnight"})
    assert any("midnight" in note for note in show_task(cup, "A").day.notes)


def test_the_sun_in_the_eyes_is_told_by_the_contests_clock(cup, write):
    late = DayChange(date="2027-05-14", start_opens="18:25", wind=Wind(240, 10), speed_kmh=90)
    set_day(cup, "Cup", 1, late, write())
    make(cup, write, "001", "003", "004", "001", day=1)
    finding = one_of(show_task(cup, "A"), "sun-in-the-eyes")
    assert finding.severity is Severity.WARNING
    # By ephem 4.2.1 the sun stands on 288.1 degrees and 9.1 high at 19:40 summer time over 48.87 N 11.81 E.
    assert finding.evidence["from"] < "19:40" < finding.evidence["to"] <= "20:46"
    set_day(cup, "Cup", 1, DayChange(start_opens="12:25"), write())
    assert "sun-in-the-eyes" not in rules_of(show_task(cup, "A"))


def test_a_wind_that_nobody_beats_is_an_error(cup, write):
    set_day(cup, "Cup", 1, DayChange(date="2027-05-14", wind=Wind(70, 90), speed_kmh=60), write())
    shown = make(cup, write, "001", "003", "004", "001", day=1)
    assert "leg-cannot-be-made" in rules_of(shown)
    assert shown.review.has_at_or_above(Severity.ERROR)


def test_a_large_set_is_checked_by_a_review_and_not_by_every_look(cup, write, csv_file, monkeypatch):
    import_set(cup, ImportRequest(csv_file(TWICE), "region"), write())
    pin_contest(cup, "Cup", "region@2", write())
    make(cup, write, "001", "003", "004", "001")
    monkeypatch.setattr(review_service, "LARGEST_SET", 5)
    shown = show_task(cup, "A")
    assert rules_of(shown) == []
    assert any("its checks were not run" in note for note in shown.review.notes)
    (reviewed,) = review_tasks(cup, ["A"])
    assert rules_of(reviewed) == ["point-with-finding"]


def test_a_contest_is_reviewed_whole_and_nothing_named_is_refused(cup, write):
    make(cup, write, "001", "003", "004", "001")
    make(cup, write, "001", "002", "005", "001", name="B")
    assert [shown.task.name for shown in review_tasks(cup, [], "Cup")] == ["A", "B"]
    with pytest.raises(UsageError):
        review_tasks(cup, [])
    with pytest.raises(NotFoundError):
        review_tasks(cup, ["A", "Z"])
