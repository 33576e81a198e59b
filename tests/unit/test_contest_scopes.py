"""What holds for a class on a day: the nearer wins, for every setting, zone and channel, and it says whose it is."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import Any

import pytest

from taskdb.core.contests.scopes import (
    WHOLE,
    impossible_values,
    scope_words,
    scopes_for,
    set_channels,
    set_values,
    set_zones,
    speeds_expected,
    tidy,
    value_at,
    what_holds,
    without_days,
    zone_defaults,
)
from taskdb.core.contests.settings import BY_KEY, SETTINGS, Reach, Setting
from taskdb.core.course.wind import SpeedRange
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Contest, ContestClass, ContestDay, Role, Scope, ScopeValues, ZoneFrom
from taskdb.core.revision_words import contest_changes
from taskdb.errors import UsageError

CUP = Contest("Cup", "region", 1, classes=(ContestClass("Club"), ContestClass("Open")))
FARTHEST_FIRST = (WHOLE, Scope(None, 2), Scope("Club"), Scope("Club", 2))
NEARER = [setting for setting in SETTINGS if setting.reach is not Reach.CONTEST]

FOUR: dict[str, tuple[str, str, str, str]] = {
    "time": ("12:00", "12:15", "12:30", "12:45"),
    "duration": ("0:15", "0:20", "0:30", "0:40"),
    "distance": ("1.5km", "2.5km", "3km", "4km"),
    "speed": ("60km/h", "70km/h", "80km/h", "90km/h"),
    "height": ("1000m MSL", "1100m MSL", "1200m MSL", "FL65"),
    "altitude": ("1500m MSL", "1800m MSL", "5000ft MSL", "6000ft MSL"),
    "pressure": ("1010hPa", "1013hPa", "1018.5hPa", "1025hPa"),
    "wind": ("240/15kt", "250/15kt", "260/15kt", "270/15kt"),
    "number": ("1", "2", "3", "4"),
    "percent": ("1", "2", "3", "4"),
    "count": ("1", "2", "4", "5"),
    "vertical": ("150m", "250m", "1000ft", "300m"),
    "glide": ("20", "25", "30", "35.5"),
    "angle": ("10deg", "15deg", "22.5°", "30 deg"),
    "landables": ("aerodrome", "field", "aerodrome,emergency", "aerodrome,field,emergency"),
    "text": ("for all", "for the day", "for the class", "for the class on the day"),
    "phone": ("0711 100", "0711 101", "0711 102", "0711 103"),
    "rows": ("10:00 a", "10:00 b", "10:00 c", "10:00 d"),
    "switch": ("yes", "no", "yes", "no"),
}


def sets_of_scopes(setting: Setting) -> list[tuple[int, ...]]:
    """Every set of scopes, as numbers of FARTHEST_FIRST, at which a setting can be set."""
    possible = [n for n, scope in enumerate(FARTHEST_FIRST) if setting.reach is Reach.ANY or scope.day is not None]
    return [chosen for size in range(len(possible) + 1) for chosen in combinations(possible, size)]


@pytest.mark.parametrize("setting", NEARER, ids=lambda setting: setting.key)
def test_of_every_set_of_scopes_the_nearest_wins(setting: Setting) -> None:
    values = [setting.read(text) for text in FOUR[setting.kind]]
    for chosen in sets_of_scopes(setting):
        contest = CUP
        for number in chosen:
            contest = set_values(contest, {setting.key: values[number]}, FARTHEST_FIRST[number])
        held = what_holds(contest, "Club", 2).values[setting.key]
        if not chosen:
            assert (held.value, held.scope) == (setting.default, None)
            continue
        nearest = max(chosen)
        assert (held.value, held.scope) == (values[nearest], FARTHEST_FIRST[nearest]), chosen
        assert held.whose == scope_words(FARTHEST_FIRST[nearest])
        # Another class on another day has what the contest sets, and nothing else.
        other = what_holds(contest, "Open", 3).values[setting.key]
        assert other.value == (values[0] if 0 in chosen else setting.default)


@pytest.mark.parametrize("setting", NEARER, ids=lambda setting: setting.key)
def test_what_is_set_for_a_scope_is_told_taken_away_and_gone(setting: Setting) -> None:
    for scope, text in zip(FARTHEST_FIRST, FOUR[setting.kind], strict=True):
        if setting.reach is Reach.DAY and scope.day is None:
            with pytest.raises(UsageError):
                set_values(CUP, {setting.key: setting.read(text)}, scope)
            continue
        kept = set_values(CUP, {setting.key: setting.read(text)}, scope)
        assert value_at(kept, scope, setting.key) == setting.read(text)
        words = contest_changes(CUP, kept)
        prefix = "" if scope == WHOLE else f"{scope_words(scope)}: "
        assert any(told.startswith(f"{prefix}{setting.words} ") and setting.show(setting.read(text)) in told
                   for told in words), words  # fmt: skip
        assert impossible_values(kept) == []
        assert set_values(kept, {setting.key: None}, scope) == CUP


@pytest.mark.parametrize("setting", [s for s in SETTINGS if s.reach is Reach.CONTEST], ids=lambda setting: setting.key)
def test_what_measures_the_whole_contest_is_refused_for_a_class_or_a_day(setting: Setting) -> None:
    for scope in FARTHEST_FIRST[1:]:
        with pytest.raises(UsageError, match="whole contest only"):
            set_values(CUP, {setting.key: setting.default}, scope)


@pytest.mark.parametrize("role", Role)
def test_of_zone_defaults_the_nearest_wins_and_says_where_it_is_from(role: Role) -> None:
    sizes = ("line 1km", "line 2km", "line 3km", "line 4km") if role in (Role.START, Role.FINISH) else (
        "cylinder 1km", "cylinder 2km", "cylinder 3km", "cylinder 4km")  # fmt: skip
    origins = (ZoneFrom.CONTEST, ZoneFrom.DAY, ZoneFrom.CLASS, ZoneFrom.CLASS)
    assert zone_defaults(CUP, "Club", 2)[role][1] is ZoneFrom.BUILT_IN
    for size in range(1, 5):
        for chosen in combinations(range(4), size):
            contest = CUP
            for n in chosen:
                contest = set_zones(contest, {role: parse_zone(sizes[n])}, FARTHEST_FIRST[n])
            nearest = max(chosen)
            assert zone_defaults(contest, "Club", 2)[role] == (parse_zone(sizes[nearest]), origins[nearest])
            for n in chosen:
                contest = set_zones(contest, {role: None}, FARTHEST_FIRST[n])
            assert contest == CUP


def test_channels_are_those_of_the_contest_with_the_nearer_ones_in_their_place() -> None:
    contest = set_channels(CUP, {"start": "122.480", "safety": "123.505"})
    contest = set_channels(contest, {"start": "123.375"}, Scope("Club"))
    contest = set_channels(contest, {"launch": "130.130"}, Scope(None, 2))
    assert what_holds(contest, "Club", 2).channels == {
        "start": "123.375", "safety": "123.505", "launch": "130.130",
    }  # fmt: skip
    assert what_holds(contest, "Open", 1).channels == {"start": "122.480", "safety": "123.505"}
    assert what_holds(set_channels(contest, {"start": ""}, Scope("Club")), "Club", 1).channels["start"] == "122.480"


def test_the_scopes_of_a_task_without_class_or_day_are_each_there_once() -> None:
    assert scopes_for(None, None) == (WHOLE,)
    assert scopes_for("Club", None) == (Scope("Club"), WHOLE)
    assert scopes_for(None, 2) == (Scope(None, 2), WHOLE)
    assert scopes_for("Club", 2) == (Scope("Club", 2), Scope("Club"), Scope(None, 2), WHOLE)


def test_a_day_is_there_while_something_is_set_on_it_for_anybody() -> None:
    contest = set_values(CUP, {"start_opens": "13:30"}, Scope("Club", 4))
    assert contest.days == (ContestDay(4),)
    assert set_values(contest, {"start_opens": None}, Scope("Club", 4)).days == ()
    assert without_days(contest) == CUP


def test_a_class_that_goes_takes_along_what_is_set_for_it() -> None:
    contest = set_values(CUP, {"start_opens": "13:30"}, Scope("Club", 4))
    contest = set_values(contest, {"start_opens": "12:30"}, Scope("Open"))
    left = tidy(replace(contest, classes=contest.classes[1:]))
    assert list(left.scoped) == [Scope("Open")] and left.days == ()
    assert contest_changes(contest, left) == ("class Club taken out", "day 4 taken out")


def test_a_class_that_is_not_there_is_refused_with_those_that_are() -> None:
    setters: list[Any] = [
        lambda scope: set_values(CUP, {"start_opens": "13:30"}, scope),
        lambda scope: set_zones(CUP, {Role.TURN: parse_zone("cylinder 1km")}, scope),
        lambda scope: set_channels(CUP, {"start": "122.480"}, scope),
    ]
    for setter in setters:
        with pytest.raises(UsageError) as refused:
            setter(Scope("Klub"))
        assert "Club, Open" in (refused.value.hint or "")


def test_speeds_are_those_of_the_class_and_without_one_those_of_all_classes_together() -> None:
    contest = CUP
    for name, slowest, fastest in (("Club", 60.0, 110.0), ("Open", 80.0, 160.0)):
        contest = set_values(contest, {"slowest_kmh": slowest, "fastest_kmh": fastest}, Scope(name))
    contest = set_values(contest, {"slowest_kmh": 50.0}, Scope("Club", 2))
    assert contest.classes == (ContestClass("Club", 60.0, 110.0), ContestClass("Open", 80.0, 160.0))
    assert speeds_expected(contest, "Club", 1) == SpeedRange(60.0, 110.0, "class Club")
    assert speeds_expected(contest, "Club", 2) == SpeedRange(50.0, 110.0, "class Club")
    assert speeds_expected(contest, None, 2) == SpeedRange(50.0, 160.0, "the contest's classes")
    assert speeds_expected(CUP, "Club", 1) is None and speeds_expected(None, None, None) is None
    bare = set_values(Contest("Cup", "region", 1), {"slowest_kmh": 55.0})
    assert speeds_expected(bare, None, 1) == SpeedRange(55.0, None, "the contest")


@pytest.mark.parametrize(
    ("key", "typed", "kept"),
    [
        ("briefing_at", "9:30", "09:30"),
        ("programme", "8:05 breakfast;10:00 briefing ; after landing: results", [
            "08:05 breakfast", "10:00 briefing", "after landing: results"]),
        ("outlanding_phone", " +49 (0)7654 / 32 10-99 ", "+49 (0)7654 / 32 10-99"),
        ("cover_landable", "Field, aerodrome,field", ["aerodrome", "field"]),
        ("remarks", " Two\nlines\tand a tab ", "Two lines and a tab"),
    ],
)  # fmt: skip
def test_texts_are_kept_in_one_line_and_times_are_normalised(key: str, typed: str, kept: object) -> None:
    assert BY_KEY[key].read(typed) == kept


@pytest.mark.parametrize(
    ("key", "typed"),
    [
        ("programme", "25:00 briefing"), ("programme", "10.00 briefing"), ("programme", "10:75 briefing"),
        ("programme", " ; "), ("programme", ";".join(["10:00 x"] * 17)), ("programme", "x" * 61),
        ("outlanding_phone", "ask"), ("outlanding_phone", "1" * 41), ("remarks", "x" * 601), ("remarks", " \n "),
        ("finish_procedure", "x" * 301), ("slowest_kmh", "0km/h"),
        ("cover_glide", "0"), ("cover_glide", "1:30"), ("cover_glide", "101"), ("glare_deg", "20"),
        ("glare_deg", "181deg"), ("cover_landable", "no"), ("cover_landable", ","),
        ("grid_at", "11 o'clock"),
    ],
)  # fmt: skip
def test_what_would_not_fit_or_is_no_time_is_refused_and_nothing_is_cut_off(key: str, typed: str) -> None:
    with pytest.raises(UsageError):
        BY_KEY[key].read(typed)


def test_values_that_no_command_sets_are_told() -> None:
    scoped = {
        Scope("Club"): ScopeValues(settings={"start_opens": "25:00", "event_start": "yes"}),
        Scope("Gone"): ScopeValues(settings={"start_opens": "13:00"}),
        Scope(None, 9): ScopeValues(settings={"programme": ["10:00 briefing"]}),
    }
    told = impossible_values(replace(CUP, settings={"outlanding_phone": 5}, scoped=scoped))
    assert [words.split(" ")[0] for words in told] == [
        "outlanding_phone",
        "start_opens",
        "event_start",
        "values",
        "values",
    ]
