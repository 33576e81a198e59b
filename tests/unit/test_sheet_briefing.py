"""What pilots are told stands on the sheet of their class: times, programme, telephone, finish, landing, remarks."""

from __future__ import annotations

from dataclasses import replace

import pytest
from lxml import html

from taskdb.core.contests.scopes import WHOLE, set_channels, set_values, what_holds
from taskdb.core.contests.settings import BY_KEY, read_values
from taskdb.core.model import Contest, ContestClass, Scope
from taskdb.report.sheet import render_sheet
from taskdb.report.sheet_contest import outlanding_phone, programme_rows, remarks
from tests import building
from tests.unit.test_sheet_sections import task_of, text_of

CUP = Contest("Cup", "region", 1, timezone="Europe/Berlin", classes=(ContestClass("Club"), ContestClass("Open")))
DAY, CLUB, OPEN = Scope(None, 1), Scope("Club"), Scope("Open", 1)


def contest(*given: tuple[Scope, dict[str, str]]) -> Contest:
    made = CUP
    for scope, texts in given:
        made = set_values(made, read_values(texts), scope)
    return made


FULL = contest(
    (WHOLE, {"start_closes": "15:30", "start_height": "1500m MSL", "finish_height": "700m MSL",
             "finish_closes": "19:30", "finish_procedure": "Call 5 km out",
             "landing_procedure": "Land long, on the left!", "outlanding_phone": "+49 7654 / 32 10",
             "briefing_at": "9:30"}),
    (DAY, {"start_opens": "13:15", "grid_at": "11:15", "remarks": "Parachute drops at Kelmried.",
           "programme": "12:00 first launch; 8:00 breakfast; then weather"}),
    (CLUB, {"minimum_distance_m": "120km", "shortest_task_s": "2:00", "longest_task_s": "4:30"}),
    (OPEN, {"start_opens": "13:45", "start_height": "1800m MSL", "grid_at": "11:45", "event_start": "yes",
            "remarks": "Grid order by rank.", "finish_procedure": "Straight in.", "longest_task_s": "5:00"}),
)  # fmt: skip


def sheet(made: Contest, class_name: str | None) -> str:
    return text_of(render_sheet([building.page(replace(task_of(), class_name=class_name), contest=made)]))


def test_the_pages_of_two_classes_differ_as_what_is_set_for_them_does() -> None:
    club, wide = sheet(FULL, "Club"), sheet(FULL, "Open")
    for both in (
        "09:30 briefing", "12:00 first launch", "outlanding desk +49 7654 / 32 10", "Land long, on the left!",
        "closes 19:30 (Europe/Berlin)", "above 700m MSL (2297 ft)",
    ):  # fmt: skip
        assert both in club and both in wide, both
    differing = [
        ("Start opens 13:15", "Start opens 13:45"),
        ("from 13:15 to 15:30", "from 13:45 to 15:30"),
        ("below 1500m MSL (4921 ft)", "below 1800m MSL (5906 ft)"),
        ("11:15 grid", "11:45 grid"),
        ("Remarks: Parachute drops at Kelmried.", "Remarks: Grid order by rank."),
        ("Call 5 km out.", "Straight in."),
        ("minimum distance 120.0 km; a task lasts 2:00 to 4:30.", "a task lasts at most 5:00."),
    ]
    for of_club, of_open in differing:
        assert of_club in club and of_club not in wide, of_club
        assert of_open in wide and of_open not in club, of_open
    assert "by pilot event" in wide and "by pilot event" not in club
    # A task without a class has what holds for all of the day.
    assert "Start opens 13:15" in sheet(FULL, None) and "minimum distance" not in sheet(FULL, None)


def test_without_a_briefing_nothing_is_said() -> None:
    bare = what_holds(CUP, "Club", 1)
    assert (programme_rows(bare), outlanding_phone(bare), remarks(bare)) == ((), None, None)
    text = sheet(CUP, "Club")
    assert "Remarks" not in text and "outlanding desk" not in text


def test_the_programme_runs_by_the_clock_and_a_row_without_a_time_stays_behind_its_own() -> None:
    assert programme_rows(what_holds(FULL, "Club", 1)) == (
        ("08:00", "breakfast"), ("", "then weather"), ("09:30", "briefing"), ("11:15", "grid"),
        ("12:00", "first launch"),
    )  # fmt: skip


HURT = "<script>alert('x')</script>\u202e & \"q\" {{ 7*7 }}"


@pytest.mark.parametrize("key", ["remarks", "landing_procedure", "finish_procedure", "outlanding_phone", "programme"])
def test_what_was_typed_is_text_and_nothing_else(key: str) -> None:
    typed = {"outlanding_phone": f"0711 1 {HURT}"[:40], "programme": HURT.replace(";", ",")}.get(key, HURT)
    made = set_values(CUP, {key: BY_KEY[key].read(typed)}, CLUB)
    text = render_sheet([building.page(replace(task_of(), class_name="Club"), contest=made)])
    document = html.document_fromstring(text)
    assert not document.xpath("//script | //@href | //@src | //@onload")
    assert ("<script" in text_of(text) and "{{" in text_of(text)) or key == "outlanding_phone"
    assert "\u202e" not in text


def test_the_longest_texts_fit_on_the_sheet_whole() -> None:
    long = {key: ("ab cd " * 200)[: BY_KEY[key].most].strip() for key in ("remarks", "finish_procedure")}
    text = sheet(set_values(CUP, {key: BY_KEY[key].read(words) for key, words in long.items()}), "Club")
    assert all(words in text for words in long.values()) and "…" not in text


def test_a_class_has_its_own_channel_and_the_others_of_the_contest() -> None:
    made = set_channels(set_channels(CUP, {"start": "122.480", "safety": "123.505"}), {"start": "123.375"}, CLUB)
    assert "123.375 start" in sheet(made, "Club") and "123.505 safety" in sheet(made, "Club")
    assert "122.480 start" in sheet(made, "Open") and "123.375" not in sheet(made, "Open")


def test_whose_a_time_is_stands_beside_it() -> None:
    assert "3:00 h:min · the task's own" in sheet(FULL, "Club")
    own = replace(task_of(), time_s=None, speed_kmh=82.0)
    assert "at 82 km/h of the task" in text_of(render_sheet([building.page(own, contest=FULL)]))
