"""Values for classes and days as typed: set, shown, taken back, refused; JSON, log and task show tell them."""

from __future__ import annotations

import pytest

from taskdb.errors import ExitCode

REGION = """\
code,name,latitude_deg,longitude_deg,elevation_m
001,Ormsau,48.8720000,11.8105000,389
003,Tannwöhr,49.0510000,12.4730000,497
004,Greifenlohe,48.6310000,12.3260000,423
"""


@pytest.fixture
def cup(taskdb, tmp_path):
    path = tmp_path / "region.csv"
    path.write_text(REGION, encoding="utf-8")
    taskdb("set", "import", path, "--into", "region")
    taskdb("contest", "new", "Cup", "--set", "region", "--site", "001", "--timezone", "Europe/Berlin")
    taskdb("contest", "classes", "Cup", "--class", "Club=60km/h..110km/h", "--class", "Open=80km/h..160km/h")
    taskdb("contest", "day", "Cup", "1", "--date", "2027-05-14", "--start-opens", "13:15", "--wind", "240/15kt")
    return taskdb


def holds(cup, *scope):
    return cup("contest", "show", "Cup", *scope, "--json").result()["holds"]


def test_each_command_sets_for_a_class_a_day_and_both_and_show_says_whose_it_is(cup):
    done = [
        cup("contest", "zones", "Cup", "--class", "Club", "--turn", "cylinder 750m"),
        cup("contest", "zones", "Cup", "--day", "1", "--finish", "cylinder 2km"),
        cup("contest", "procedure", "Cup", "--class", "Open", "--start-height", "1800m MSL", "--event-start", "yes"),
        cup("contest", "procedure", "Cup", "--class", "Open", "--frequency", "start=123.375"),
        cup("contest", "limits", "Cup", "--class", "Club", "--speed", "75km/h", "--minimum-distance", "120km"),
        cup("contest", "briefing", "Cup", "--day", "1", "--grid-at", "11:15", "--remarks", "Gusts in the evening."),
        cup("contest", "day", "Cup", "1", "--class", "Open", "--start-opens", "13:45"),
    ]
    assert [one.exit_code for one in done] == [ExitCode.DONE] * len(done)
    club, wide = holds(cup, "--class", "Club", "--day", "1"), holds(cup, "--class", "Open", "--day", "1")
    assert club["zones"]["turn"]["zone_from"] == "class" and club["zones"]["finish"]["zone_from"] == "day"
    assert wide["zones"]["turn"]["zone_from"] == "built-in"

    def told(held, key):
        return held["settings"][key]["value"], held["settings"][key]["from"]

    assert told(club, "start_opens") == ("13:15", "day 1")
    assert told(wide, "start_opens") == ("13:45", "class Open on day 1")
    assert told(club, "speed_kmh") == (75, "class Club") and told(wide, "speed_kmh") == (None, "default")
    assert told(club, "grid_at") == told(wide, "grid_at") == ("11:15", "day 1")
    assert told(wide, "event_start") == (True, "class Open") and told(club, "event_start") == (False, "default")
    assert (wide["frequencies"], club["frequencies"]) == ({"start": "123.375"}, {})
    result = cup("contest", "show", "Cup", "--json").result()
    assert [(scope["class"], scope["day"]) for scope in result["scopes"]] == [
        ("Club", None), ("Open", None), (None, 1), ("Open", 1),
    ]  # fmt: skip
    assert result["days"][0]["wind"]["text"] == "240/15kt"
    page = cup("contest", "show", "Cup").stdout
    assert "class Open on day 1" in page and "cylinder 750m" in page and "2027-05-14" in page
    page = cup("contest", "show", "Cup", "--class", "Open", "--day", "1").stdout
    assert "what holds for class Open, day 1" in page and "class Open on day 1" in page


def test_a_task_shows_zone_and_speed_of_its_class_and_a_class_default_makes_it_stale(cup):
    cup("contest", "zones", "Cup", "--class", "Club", "--turn", "cylinder 750m")
    cup("contest", "limits", "Cup", "--class", "Club", "--speed", "75km/h")
    task = cup(
        "task", "new", "A", "001", "003", "004", "001", "--contest", "Cup", "--day", "1", "--class", "Club", "--json"
    ).result()
    assert [point["zone_from"] for point in task["points"]] == ["built-in", "class", "class", "built-in"]
    assert (task["day_sheet"]["still_air_kmh"], task["day_sheet"]["still_air_from"]) == (75, "class Club")
    assert "wind  " in cup("task", "show", "A").stdout and "240° true at 15 kt" in cup("task", "show", "A").stdout
    cup("contest", "zones", "Cup", "--class", "Club", "--turn", "default")
    shown = cup("contest", "show", "Cup", "--json").result()
    assert shown["stale_tasks"] == ["A"] and shown["scopes"][0]["zones"] == {}
    assert "now has 'cylinder 500m'" in cup("task", "show", "A").stdout


def test_default_and_clear_take_a_value_away_and_the_log_says_so(cup):
    cup("contest", "day", "Cup", "1", "--class", "Open", "--start-opens", "13:45", "--grid-at", "11:45")
    back = cup("contest", "day", "Cup", "1", "--class", "Open", "--start-opens", "default", "--json").result()
    assert (back["class"], back["start_opens"]) == ("Open", "13:15")
    assert back["holds"]["settings"]["grid_at"]["from"] == "class Open on day 1"
    cup("contest", "day", "Cup", "1", "--class", "Open", "--clear", "grid-at")
    assert holds(cup, "--class", "Open", "--day", "1")["settings"]["grid_at"]["from"] == "default"
    changes = [entry["changes"] for entry in cup("contest", "log", "Cup", "--json").result()["revisions"]]
    assert changes[0] == ["class Open on day 1: grid 11:45 → not set"]
    assert changes[1] == ["class Open on day 1: start opens 13:45 → not set"]
    assert changes[2][0] == "class Open on day 1: start opens not set → 13:45"


def test_rows_of_the_programme_are_given_one_by_one_and_all_anew(cup):
    given = ("--programme", "8:30 weather", "--programme", "10:00 briefing")
    first = cup("contest", "day", "Cup", "1", *given, "--json").result()
    assert first["holds"]["settings"]["programme"]["value"] == ["08:30 weather", "10:00 briefing"]
    again = cup("contest", "briefing", "Cup", "--day", "1", "--programme", "9:00 all", "--json")
    assert again.result()["scopes"][-1]["settings"]["programme"] == ["09:00 all"]
    gone = cup("contest", "briefing", "Cup", "--day", "1", "--programme", "default", "--json").result()
    assert "programme" not in gone["scopes"][-1]["settings"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("contest", "day", "Cup", "1", "--class", "Klub", "--start-opens", "13:30"), "Its classes: Club, Open"),
        (("contest", "show", "Cup", "--class", "Klub"), "Its classes: Club, Open"),
        (("contest", "zones", "Cup", "--class", "Klub", "--turn", "cylinder 1km"), "Its classes: Club, Open"),
        (("contest", "limits", "Cup", "--class", "Club", "--closed-within", "2km"), "Leave out --class and --day"),
        (("contest", "day", "Cup", "1", "--class", "Club", "--date", "2027-05-15"), "one date for all classes"),
        (("contest", "briefing", "Cup", "--programme", "10.00 briefing"), "--programme: The row '10.00 briefing'"),
        (("contest", "briefing", "Cup", "--outlanding-phone", "ask"), "--outlanding-phone: 'ask' is no telephone"),
        (("contest", "briefing", "Cup", "--remarks", "x" * 601), "601 letters; at most 600"),
        (("contest", "briefing", "Cup", "--class", "Club"), "Nothing is given"),
        (("contest", "limits", "Cup", "--slowest", "60"), "--slowest"),
    ],
)  # fmt: skip
def test_what_cannot_be_set_is_refused_with_the_way_out(cup, words, says):
    before = cup("contest", "show", "Cup", "--json").result()["revision"]
    refused = cup(*words)
    assert refused.exit_code is ExitCode.USAGE
    assert says in refused.stderr
    assert cup("contest", "show", "Cup", "--json").result()["revision"] == before
