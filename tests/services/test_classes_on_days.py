"""Classes as equals: what a contest sets for a class or a day is kept, and every look at a task takes it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sqlalchemy import text

from taskdb.core.contests.days import DayChange
from taskdb.core.contests.scopes import WHOLE, value_at, what_holds
from taskdb.core.contests.settings import SETTINGS, Reach, read_values
from taskdb.core.course.schedule import Extent
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import ContestClass, Role, Scope, ZoneFrom
from taskdb.core.quantities import parse_wind
from taskdb.errors import InputError, UsageError
from taskdb.reference.presets import read_preset
from taskdb.services.contests.contest import NewContest, new_contest, set_contest_zones, show_contest
from taskdb.services.contests.day import set_day, show_day
from taskdb.services.contests.settings import ContestCopy, contest_log, copy_contest, set_classes, set_settings
from taskdb.services.desk import Desk
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.store.copies import dump_store, load_store
from taskdb.services.store.undo import undo
from taskdb.services.store.verify import verify_store
from taskdb.services.tasks.carrying import refresh_tasks
from taskdb.services.tasks.task import NewTask, PointRequest, TaskEdit, copy_task, edit_task, new_task, show_task
from tests.services.conftest import REGION
from tests.unit.test_contest_scopes import FARTHEST_FIRST, FOUR

CLUB, OPEN = Scope("Club"), Scope("Open")
ROUND = tuple(PointRequest(code) for code in ("001", "003", "004", "001"))


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    new_contest(desk, NewContest("Cup", "region", site="001", timezone="Europe/Berlin"), write())
    set_classes(desk, "Cup", [ContestClass("Club", 60, 110), ContestClass("Open", 80, 160)], [], write())


@pytest.fixture
def cup(built, write, csv_file):
    return built(filled, write, csv_file)


def zones_of(shown):
    return [(p.zone.text, p.zone_from) for p in shown.task.points]


def everything(cup, write):
    """Set every setting that may be nearer for every scope at which it may be, with zones and channels."""
    for number, scope in enumerate(FARTHEST_FIRST):
        values = {}
        for setting in SETTINGS:
            is_possible = setting.reach is Reach.ANY or (setting.reach is Reach.DAY and scope.day is not None)
            if is_possible:
                values[setting.key] = setting.read(FOUR[setting.kind][number])
        set_settings(cup, "Cup", values, {"start": f"122.48{number}"}, write(), scope)
        set_contest_zones(cup, "Cup", {Role.TURN: parse_zone(f"cylinder {number + 1}km")}, write(), scope)


def test_every_value_of_every_scope_is_kept_and_read_back(cup, write):
    everything(cup, write)
    contest = show_contest(cup, "Cup").contest
    for number, scope in enumerate(FARTHEST_FIRST):
        for setting in SETTINGS:
            if setting.reach is Reach.ANY or (setting.reach is Reach.DAY and scope.day is not None):
                expected = setting.read(FOUR[setting.kind][number])
                assert value_at(contest, scope, setting.key) == expected, (scope, setting.key)
    assert what_holds(contest, "Club", 2).channels == {"start": "122.483"}
    assert show_contest(cup, "Cup@2").contest.scoped == {}
    assert verify_store(cup).problems == ()


def test_what_is_set_for_nobody_or_of_another_kind_is_found_by_verify(cup, write):
    set_settings(cup, "Cup", read_values({"start_opens": "13:00"}), {}, write(), CLUB)
    with cup.store.engine.begin() as c:
        c.execute(text("UPDATE contest_revision SET settings = replace(settings, '13:00', '31:00')"))
    problems = [(problem.rule, problem.message) for problem in verify_store(cup).problems]
    assert [told for rule, told in problems if rule == "contest-value" and "start_opens for class Club" in told]


def test_values_of_classes_and_days_go_through_dump_load_copy_and_undo(cup, write, tmp_path, csv_file):
    everything(cup, write)
    kept = show_contest(cup, "Cup").contest
    dump_store(cup, str(tmp_path / "cup.dump"), write())
    other = Desk(store_url=str(tmp_path / "other.db"), author="x", now=cup.now, new_identity=cup.new_identity)
    load_store(other, str(tmp_path / "cup.dump"), write())
    assert show_contest(other, "Cup").contest == kept
    copied = copy_contest(cup, "Cup", ContestCopy("Cup 28"), write()).shown.contest
    assert set(copied.scoped) == {CLUB} and copied.days == () and copied.classes == kept.classes
    assert copied.scoped[CLUB] == kept.scoped[CLUB]
    undo(cup, None, write())
    set_settings(cup, "Cup", {"start_opens": None}, {}, write(), Scope("Club", 2))
    assert show_contest(cup, "Cup").contest != kept
    undo(cup, None, write())
    assert show_contest(cup, "Cup").contest == kept


def test_a_task_takes_the_zones_of_its_class_and_is_stale_when_they_change(cup, write):
    set_contest_zones(cup, "Cup", {Role.TURN: parse_zone("cylinder 1km")}, write())
    set_contest_zones(cup, "Cup", {Role.TURN: parse_zone("cylinder 2km")}, write(), CLUB)
    club = new_task(cup, NewTask("A", ROUND, "Cup", day=1, class_name="Club"), write())
    wide = new_task(cup, NewTask("B", ROUND, "Cup", day=1, class_name="Open"), write())
    assert zones_of(club)[1] == ("cylinder 2km", ZoneFrom.CLASS)
    assert zones_of(wide)[1] == ("cylinder 1km", ZoneFrom.CONTEST)
    # What is nearer hides a change farther away.
    set_contest_zones(cup, "Cup", {Role.TURN: parse_zone("cylinder 800m")}, write())
    assert show_task(cup, "A").stale == ()
    assert "Cup@5 now has 'cylinder 800m'" in show_task(cup, "B").stale[0]
    set_contest_zones(cup, "Cup", {Role.TURN: parse_zone("cylinder 3km")}, write(), CLUB)
    reasons = show_task(cup, "A").stale
    assert reasons and all("now has 'cylinder 3km' for class Club" in reason for reason in reasons)
    # A class that goes back to the contest's default changes its tasks too, and so does one day.
    set_contest_zones(cup, "Cup", {Role.TURN: None}, write(), CLUB)
    assert "now has 'cylinder 800m'" in show_task(cup, "A").stale[0]
    refresh_tasks(cup, ("A",), "Cup", write())
    assert zones_of(show_task(cup, "A"))[1] == ("cylinder 800m", ZoneFrom.CONTEST)
    set_contest_zones(cup, "Cup", {Role.TURN: parse_zone("cylinder 600m")}, write(), Scope(None, 1))
    assert "for day 1" in show_task(cup, "A").stale[0]
    refresh_tasks(cup, ("A",), "Cup", write())
    assert zones_of(show_task(cup, "A"))[1] == ("cylinder 600m", ZoneFrom.DAY)
    assert show_contest(cup, "Cup").stale_tasks == ("B",)


def test_a_task_that_goes_to_another_class_or_day_takes_its_defaults(cup, write):
    for scope, size in ((WHOLE, "1km"), (CLUB, "2km"), (OPEN, "3km"), (Scope("Open", 2), "4km")):
        set_contest_zones(cup, "Cup", {Role.TURN: parse_zone(f"cylinder {size}")}, write(), scope)
    new_task(cup, NewTask("A", ROUND, "Cup", day=1, class_name="Club"), write())
    edited = edit_task(cup, "A", TaskEdit(values={"class_name": "Open"}), write())
    assert zones_of(edited)[1] == ("cylinder 3km", ZoneFrom.CLASS) and edited.stale == ()
    copied = copy_task(cup, "A", "B", write(), values={"day": 2})
    assert zones_of(copied)[1] == ("cylinder 4km", ZoneFrom.CLASS) and copied.stale == ()
    assert zones_of(edit_task(cup, "B", TaskEdit(values={"class_name": None}), write()))[1] == (
        "cylinder 1km", ZoneFrom.CONTEST,
    )  # fmt: skip


def test_grids_that_launch_one_after_the_other_open_at_their_own_times(cup, write):
    set_day(cup, "Cup", 1, DayChange(date="2027-05-14", start_opens="13:15", wind=parse_wind("240/15kt")), write())
    shown = set_day(cup, "Cup", 1, DayChange(start_opens="13:45"), write(), "Open")
    assert shown.day.start_opens == "13:15" and shown.holding.get("start_opens") == "13:45"
    assert show_day(cup, "Cup", 1).holding.get("start_opens") == "13:15"
    set_settings(cup, "Cup", read_values({"start_closes": "15:30"}), {}, write())
    set_settings(cup, "Cup", read_values({"start_closes": "16:00", "slowest_kmh": "90km/h"}), {}, write(), OPEN)
    finishes = {}
    for name, class_name in (("A", "Club"), ("B", "Open")):
        day = new_task(cup, NewTask(name, ROUND, "Cup", day=1, class_name=class_name, speed_kmh=90), write()).day
        finishes[name] = (day.start_opens, day.last_finish.last_start, day.last_finish.speed_kmh)
    assert finishes == {"A": ("13:15", "15:30", 60), "B": ("13:45", "16:00", 90)}
    set_day(cup, "Cup", 1, DayChange(cleared=("start-opens",)), write(), "Open")
    assert show_task(cup, "B").day.start_opens == "13:15"
    with pytest.raises(UsageError):
        set_day(cup, "Cup", 1, DayChange(date="2027-05-15"), write(), "Open")
    with pytest.raises(UsageError):
        set_day(cup, "Cup", 1, DayChange(start_opens="14:00"), write(), "Klub")


def test_a_speed_or_time_of_the_task_is_nearer_than_any_of_its_contest(cup, write):
    set_day(cup, "Cup", 1, DayChange(speed_kmh=95.0, wind=parse_wind("240/15kt")), write())
    new_task(cup, NewTask("A", ROUND, "Cup", day=1, class_name="Club"), write())

    def planned(**given):
        day = show_task(cup, "A", given_day=DayChange(**given)).day
        return day.air.speed_kmh, day.speed_from

    assert planned() == (95, "day 1")
    set_settings(cup, "Cup", {"speed_kmh": 75.0}, {}, write(), CLUB)
    assert planned() == (75, "class Club")
    set_day(cup, "Cup", 1, DayChange(speed_kmh=70.0), write(), "Club")
    assert planned() == (70, "class Club on day 1")
    edit_task(cup, "A", TaskEdit(values={"speed_kmh": 82.0}), write())
    assert planned() == (82, "the task")
    assert planned(speed_kmh=100.0) == (100, "given here")
    flown = show_task(cup, "A")
    assert flown.course.time.time_s == flown.day.flight(Extent.TASK).time_s
    timed = edit_task(cup, "A", TaskEdit(values={"time_s": 9000}), write())
    assert timed.course.time.time_s == 9000


def test_a_wind_is_kept_and_shown_in_the_unit_that_was_typed(cup, write):
    set_day(cup, "Cup", 1, DayChange(wind=parse_wind("240/15kt")), write())
    assert show_contest(cup, "Cup").contest.days[0].wind_text == "240/15kt"
    same_speed = set_day(cup, "Cup", 1, DayChange(wind=parse_wind("240/27.78km/h")), write())
    assert same_speed.day.wind_text == "240/27.78km/h"
    assert contest_log(cup, "Cup")[1][0].changes == ("day 1: wind 240/15kt → 240/27.78km/h",)
    plain = replace(parse_wind("240/15kt"), text=None)
    assert set_day(cup, "Cup", 1, DayChange(wind=plain), write()).day.wind_text is None


def test_reviews_hold_a_task_against_the_limits_of_its_class(cup, write):
    set_settings(cup, "Cup", read_values({"minimum_distance_m": "200km"}), {}, write())
    set_settings(cup, "Cup", read_values({"minimum_distance_m": "100km", "shortest_leg_m": "60km"}), {}, write(), CLUB)

    def rules(name, class_name):
        shown = new_task(cup, NewTask(name, ROUND, "Cup", day=1, class_name=class_name), write())
        return sorted({finding.rule for finding in shown.review.open} & {"outside-class-limits", "short-leg"})

    assert rules("A", "Club") == ["short-leg"]
    assert rules("B", "Open") == ["outside-class-limits"]


PRESET = b"""\
[settings]
start_closes = { value = "15:00", source = "the board" }
[classes.Club.zones]
turn = { value = "cylinder 500m", source = "our rules of 2025" }
[classes.Club.settings]
slowest_kmh = { value = "60km/h", source = "our rules of 2025" }
briefing_at = { value = "9:30", source = "the board" }
[classes.Open.settings]
start_closes = { value = "16:00", source = "the board" }
"""


def test_a_preset_holds_classes_and_says_where_their_values_come_from(cup, write):
    preset = read_preset("ours.toml", PRESET)
    made = new_contest(cup, NewContest("Next", "region", preset=preset), write()).contest
    assert made.classes == (ContestClass("Club", 60.0), ContestClass("Open"))
    club, wide = what_holds(made, "Club", None), what_holds(made, "Open", None)
    assert (club.get("start_closes"), wide.get("start_closes"), club.get("briefing_at")) == ("15:00", "16:00", "09:30")
    assert club.zones[Role.TURN] == (parse_zone("cylinder 500m"), ZoneFrom.CLASS)
    assert club.values["slowest_kmh"].source == "ours.toml: our rules of 2025"
    by_hand = set_settings(cup, "Next", read_values({"slowest_kmh": "65km/h"}), {}, write(), CLUB).contest
    assert what_holds(by_hand, "Club", None).values["slowest_kmh"].source == "set for class Club"
    left = set_classes(cup, "Next", [], ["Club"], write()).contest
    assert not [key for key in left.settings["sources"] if "Club" in key]
    assert copy_contest(cup, "Next", ContestCopy("Next 28"), write()).shown.contest.scoped == left.scoped


def test_every_problem_of_a_presets_classes_is_told_at_once(cup, write):
    text = (
        b'[settings]\nwind = { value = "240/15kt", source = "x" }\n'
        b'[classes.Club.settings]\nearth = { value = "wgs84", source = "x" }\n'
        b'grid_at = { value = "99", source = "x" }\n'
        b'[classes.Club.zones]\nturn = { value = "cylinder 5", source = "x" }\n'
    )
    with pytest.raises(InputError) as refused:
        new_contest(cup, NewContest("Next", "region", preset=read_preset("ours.toml", text)), write())
    assert [line.split(": ")[0] for line in refused.value.details["lines"]] == [
        "settings.wind", "classes.Club.zones.turn", "classes.Club.settings.grid_at", "classes.Club.settings.earth",
    ]  # fmt: skip
    for bad in (b"[classes]\nClub = 5\n", b"[classes.Club]\nroof = 1\n", b"classes = 3\n"):
        with pytest.raises(InputError):
            read_preset("ours.toml", bad)
