"""What contests differ in: each setting typed, kept, shown and taken back; presets; next season's contest."""

from __future__ import annotations

import pytest

from taskdb.cli.typed.setting_options import BRIEFING, DAY, EDIT, LIMITS, PROCEDURE, option_name
from taskdb.cli.typed.zone_options import zone_choices
from taskdb.core.contests.settings import (
    BY_KEY,
    SETTINGS,
    Reach,
    kept_source,
    read_values,
    source_of,
    value_of,
    with_values,
)
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Contest, ContestClass, Deduction, Earth, Role, Rules
from taskdb.errors import InputError, NotFoundError, RefusedError, UsageError
from taskdb.reference.presets import preset_names, read_preset, shipped_preset
from taskdb.services.contests.contest import NewContest, new_contest, set_contest_zones, show_contest
from taskdb.services.contests.settings import (
    ContestCopy,
    ContestEdit,
    contest_log,
    copy_contest,
    edit_contest,
    set_classes,
    set_settings,
)
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks.flown import choose_task
from taskdb.services.tasks.task import (
    NewTask,
    PointRequest,
    TaskEdit,
    copy_task,
    edit_task,
    list_tasks,
    new_task,
    restore_task,
    retire_task,
    show_task,
    task_log,
)
from tests.services.conftest import REGION

TYPED = {
    "time": "15:30", "duration": "0:20", "distance": "7km", "speed": "95km/h", "height": "1500ft MSL", "switch": "yes",
    "number": "1.5", "percent": "26", "count": "4", "text": "low passes are forbidden", "phone": "+49 7654 / 32 10",
    "rows": "10:00 briefing; after the last landing; 9:05 weather", "wind": "240/15kt",
    "altitude": "1800m MSL", "pressure": "1018hPa", "vertical": "650ft", "glide": "28", "angle": "35deg",
    "landables": "aerodrome,emergency",
}  # fmt: skip


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    new_contest(desk, NewContest("Cup", set_reference="region", site="Ormsau"), write())


@pytest.fixture
def cup(built, write, csv_file):
    return built(filled, write, csv_file)


@pytest.mark.parametrize("setting", SETTINGS, ids=lambda s: s.key)
def test_every_setting_is_read_kept_shown_and_taken_back(setting):
    text = setting.choices[-1] if setting.kind == "choice" else TYPED[setting.kind]
    if setting.key == "large_longest_percent":
        text = "44"
    bare = Contest("Cup", "region", 1)
    if setting.reach is Reach.DAY:
        with pytest.raises(UsageError):
            with_values(bare, read_values({setting.key: text}))
        return
    assert value_of(bare, setting) == (setting.default, False)
    kept = with_values(bare, read_values({setting.key: text}))
    value, _ = value_of(kept, setting)
    assert setting.holds(value)
    assert value == setting.read(text)
    assert setting.read(setting.show(value).replace("%", "").strip() if setting.kind == "percent" else text) == value
    assert with_values(kept, read_values({setting.key: "default"})) == bare
    assert setting.source


@pytest.mark.parametrize(
    "setting", [s for s in SETTINGS if s.kind not in ("choice", "text", "rows")], ids=lambda s: s.key
)
def test_no_setting_takes_what_is_none_of_its_kind(setting):
    with pytest.raises(UsageError):
        read_values({setting.key: "quark"})


def test_a_bare_number_is_refused_where_a_unit_belongs():
    for key in ("start_height", "start_speed_kmh", "shortest_leg_m"):
        with pytest.raises(UsageError):
            read_values({key: "1000"})


def test_the_options_of_the_commands_are_the_settings():
    tables = (PROCEDURE, BRIEFING, LIMITS, EDIT, {"wind": DAY["wind"]})
    assert set().union(*tables) == set(BY_KEY)
    assert sum(map(len, tables)) == len(BY_KEY)
    assert len({option_name(key) for key in BY_KEY}) == len(BY_KEY)
    # What is offered with --day must be settable for a day.
    assert all(BY_KEY[key].reach is not Reach.CONTEST for key in DAY)


def test_limits_that_no_triangle_can_meet_are_refused():
    for key, text in (("small_shortest_percent", "34"), ("large_longest_percent", "33")):
        with pytest.raises(UsageError):
            with_values(Contest("Cup", "region", 1), read_values({key: text}))


def test_settings_are_revisions_and_saved_tasks_keep_theirs(cup, write):
    points = tuple(PointRequest(code) for code in ("001", "003", "004", "001"))
    new_task(cup, NewTask("A", points, contest="Cup"), write())
    changed = set_settings(cup, "Cup", read_values({"earth": "fai-sphere"}), {"launch": "123.505"}, write())
    assert changed.revision == 2
    assert changed.contest.rules.earth is Earth.FAI_SPHERE
    assert changed.contest.settings["frequencies"] == {"launch": "123.505"}
    assert show_task(cup, "A").task.rules == Rules()
    again = set_settings(cup, "Cup", read_values({"earth": "fai-sphere"}), {}, write())
    assert again.revision == 2
    gone = set_settings(cup, "Cup", {}, {"launch": ""}, write())
    assert "frequencies" not in gone.contest.settings


def test_classes_are_added_changed_and_dropped(cup, write):
    set_classes(cup, "Cup", [ContestClass("Club", 60, 110), ContestClass("Open")], [], write())
    shown = set_classes(cup, "Cup", [ContestClass("Club", 65, 120)], ["Open"], write())
    assert shown.contest.classes == (ContestClass("Club", 65, 120),)
    with pytest.raises(UsageError):
        set_classes(cup, "Cup", [], ["Open"], write())


def test_a_contest_is_renamed_and_moved_in_time(cup, write):
    edited = edit_contest(cup, "Cup", ContestEdit(new_name="Varn Cup", from_date="2027-05-01"), write())
    assert (edited.contest.name, edited.contest.from_date, edited.revision) == ("Varn Cup", "2027-05-01", 2)
    assert [r.info.number for r in contest_log(cup, "Varn Cup")[1]] == [2, 1]
    with pytest.raises(RefusedError):
        edit_contest(cup, "Varn Cup", ContestEdit(to_date="2027-04-01"), write())


@pytest.mark.parametrize("name", preset_names())
def test_every_preset_names_its_sources_and_makes_a_contest(desk, write, csv_file, name):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    preset = shipped_preset(name)
    assert preset.summary
    assert all(preset.sources[key] for key in (*preset.zones, *preset.settings))
    shown = new_contest(desk, NewContest("Cup", set_reference="region", preset=preset), write())
    assert {role.value: zone.text for role, zone in shown.contest.zones.items()} == preset.zones
    for key, text in preset.settings.items():
        assert value_of(shown.contest, BY_KEY[key])[0] == BY_KEY[key].read(text)


def test_what_is_given_by_hand_comes_before_the_preset(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    request = NewContest(
        "Cup",
        set_reference="region",
        preset=shipped_preset("declared-course"),
        zones={Role.TURN: parse_zone("cylinder 500m")},
    )
    shown = new_contest(desk, request, write())
    assert shown.contest.zones[Role.TURN].text == "cylinder 500m"
    assert shown.contest.rules.start_deduction is Deduction.TO_CENTRE


@pytest.mark.parametrize(
    "text",
    ["nonsense", "[zones]\nstart = 5\n", "[other]\n", 'zones = "x"\n', "[zones]\nstart = { value = 5 }\n", "\xff"],
)
def test_a_preset_that_is_none_is_refused(text):
    with pytest.raises(InputError):
        read_preset("mine.toml", text.encode("latin-1"))


def test_a_preset_with_an_unknown_role_or_setting_is_refused(cup, write):
    for text in ('[zones]\nring = { value = "line 1km" }\n', '[settings]\nx = { value = "1" }\n'):
        with pytest.raises((InputError, UsageError)):
            preset = read_preset("mine", text.encode())
            new_contest(cup, NewContest("B", set_reference="region", preset=preset), write())
    with pytest.raises(NotFoundError):
        shipped_preset("no-such")


def test_next_seasons_contest_takes_settings_and_on_request_tasks(cup, write, csv_file):
    set_settings(cup, "Cup", read_values({"legal_end": "sunset"}), {}, write())
    points = tuple(PointRequest(code) for code in ("001", "003", "004", "001"))
    new_task(cup, NewTask("A", points, contest="Cup", day=3), write())
    new_task(cup, NewTask("B", (PointRequest("001"), PointRequest("005")), contest="Cup"), write())
    far = "003,Tannwöhr,49.0511000,12.4730000,497\n005,Brüxfeld,49.2350000,11.5790000,470\n"
    import_set(cup, ImportRequest(csv_file(far), "region"), write())
    done = copy_contest(cup, "Cup", ContestCopy("Cup 28", set_reference="region@2", with_tasks=True), write())
    assert done.shown.contest.settings["legal_end"] == "sunset"
    by_name = {task.task: task for task in done.tasks}
    assert by_name["A"].revision == 1 and by_name["A"].unresolved == ()
    assert by_name["B"].revision is None
    (doubt,) = by_name["B"].unresolved
    assert doubt.code == "005" and "to be confirmed" in doubt.reason
    assert [row.task for row in list_tasks(cup, "Cup 28")] == ["A"]
    carried = show_task(cup, "Cup 28:A")
    assert carried.stale == () and carried.task.day is None
    assert show_task(cup, "Cup:A").task.set_revision == 1
    assert show_contest(cup, "Cup").revision == 2


def test_a_revision_that_is_not_there_is_neither_shown_nor_copied(cup, write):
    for look in (lambda: show_contest(cup, "Cup@2"), lambda: copy_contest(cup, "Cup@2", ContestCopy("B"), write())):
        with pytest.raises(NotFoundError, match="has no revision 2; its newest is 1") as missing:
            look()
        assert missing.value.code == "revision-not-found"


@pytest.mark.parametrize("typed", ["Europe/Berlin", " Europe/Berlin ", "UTC"])
def test_a_time_zone_that_is_one_is_kept(cup, write, typed):
    assert edit_contest(cup, "Cup", ContestEdit(timezone=typed), write()).contest.timezone == typed.strip()


# IANA time zone database, theory.html: names are of the form Area/Location; abbreviations are no names of zones.
@pytest.mark.parametrize(("typed", "meant"), [("europe/berlin", "Europe/Berlin"), ("Europe/Belrin", "Europe/Berlin")])
def test_what_is_no_time_zone_is_refused_with_the_nearest(cup, write, typed, meant):
    with pytest.raises(UsageError) as refused:
        edit_contest(cup, "Cup", ContestEdit(timezone=typed), write())
    assert meant in str(refused.value.hint)
    with pytest.raises(UsageError):
        new_contest(cup, NewContest("Other", set_reference="region", timezone="MESZ"), write())
    assert show_contest(cup, "Cup").contest.timezone is None


def test_a_preset_tells_where_its_values_come_from_until_they_are_set_by_hand(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    text = (
        b'[zones]\nturn = { value = "cylinder 800m", source = "our rules of 2025" }\n'
        b'[settings]\nstart_closes = { value = "14:00", source = "the board" }\n'
    )
    shown = new_contest(desk, NewContest("Cup", "region", preset=read_preset("ours.toml", text)), write())
    assert source_of(shown.contest, "start_closes") == "ours.toml: the board"
    assert kept_source(shown.contest, "turn") == "ours.toml: our rules of 2025"
    shown = set_settings(desk, "Cup", read_values({"start_closes": "15:00"}), {}, write())
    assert source_of(shown.contest, "start_closes") == "set here"
    shown = set_contest_zones(desk, "Cup", {Role.TURN: parse_zone("cylinder 1km")}, write())
    assert kept_source(shown.contest, "turn") is None
    assert source_of(shown.contest, "legal_end").startswith("default: ")


def test_a_zone_default_goes_back_to_the_built_in_one(cup, write):
    set_contest_zones(cup, "Cup", {Role.TURN: parse_zone("cylinder 1km"), Role.START: parse_zone("line 5km")}, write())
    shown = set_contest_zones(cup, "Cup", {Role.TURN: None}, write())
    assert {role.value: zone.text for role, zone in shown.contest.zones.items()} == {"start": "line 5km"}
    again = set_contest_zones(cup, "Cup", {Role.TURN: None}, write())
    assert again.revision == shown.revision, "what changes nothing makes no revision"


def test_every_problem_of_a_preset_is_told_at_once(cup, write):
    text = (
        b'[zones]\nturn = { value = "cylinder 800", source = "x" }\nroof = { value = "line 1km", source = "x" }\n'
        b'[settings]\nstart_closes = { value = "34:00", source = "x" }\nnone_such = { value = "1", source = "x" }\n'
    )
    with pytest.raises(InputError) as refused:
        new_contest(cup, NewContest("Next", "region", preset=read_preset("ours.toml", text)), write())
    lines = refused.value.details["lines"]
    assert [line.split(":")[0] for line in lines] == [
        "zones.turn", "zones.roof", "settings.start_closes", "settings.none_such",
    ]  # fmt: skip


def test_the_log_of_a_contest_says_what_each_revision_changed(cup, write):
    set_settings(
        cup, "Cup", read_values({"start_closes": "15:00", "legal_end": "civil-dusk"}), {"start": "123.5"}, write()
    )
    set_classes(cup, "Cup", [ContestClass("Club")], [], write())
    edit_contest(cup, "Cup", ContestEdit(new_name="Open Cup", from_date="2027-05-01"), write())
    set_contest_zones(cup, "Open Cup", {Role.TURN: parse_zone("cylinder 1km")}, write())
    assert [logged.changes for logged in contest_log(cup, "Open Cup")[1]] == [
        ("turn zone built-in → cylinder 1km",),
        ("name Cup → Open Cup", "first day not set → 2027-05-01"),
        ("class Club added",),
        ("start closes not set → 15:00", "legal end of day sunset → civil-dusk", "channel for start added: 123.5"),
        ("made",),
    ]


def test_the_log_of_a_task_says_what_each_revision_changed(cup, write):
    new_task(cup, NewTask("A", (PointRequest("001"), PointRequest("002"), PointRequest("001")), "Cup"), write())
    edit_task(cup, "A", TaskEdit(insert=(2, PointRequest("003"))), write())
    edit_task(cup, "A", TaskEdit(zones=zone_choices(["1=cylinder 2km"]), values={"time_s": 7200}), write())
    choose_task(cup, "A", "2027-05-08T09:00:00Z", write())
    restore_task(cup, "A@1", write())
    retire_task(cup, "A", write())
    logged = task_log(cup, "A")[1]
    assert [one.changes for one in logged] == [
        ("retired",),
        ("status issued → proposed", "time 2:00 → not set", "002: cylinder 2km → cylinder 500m", "− 003"),
        ("status proposed → issued",),
        ("time not set → 2:00", "002: cylinder 500m → cylinder 2km"),
        ("+ 003 as point 2",),
        ("made",),
    ]
    assert logged[-1].fingerprint == logged[1].fingerprint != logged[2].fingerprint


def test_a_task_is_copied_to_another_day_and_variant_and_only_to_a_class_that_there_is(cup, write):
    set_classes(cup, "Cup", [ContestClass("Club")], [], write())
    new_task(cup, NewTask("A", (PointRequest("001"), PointRequest("002"), PointRequest("001")), "Cup", day=1), write())
    copied = copy_task(cup, "A", "B", write(), values={"day": 2, "class_name": "Club", "variant": "B"}).task
    assert (copied.day, copied.class_name, copied.variant) == (2, "Club", "B")
    with pytest.raises(UsageError, match="no class 'Open'"):
        copy_task(cup, "A", "C", write(), values={"class_name": "Open"})
    with pytest.raises(UsageError, match="no class 'Open'"):
        edit_task(cup, "A", TaskEdit(values={"class_name": "Open"}), write())


def test_all_points_that_are_not_there_are_told_at_once(cup, write):
    points = tuple(PointRequest(word) for word in ("001", "Nowhere", "002", "Atlantis", "001"))
    with pytest.raises(NotFoundError) as refused:
        new_task(cup, NewTask("A", points, "Cup"), write())
    assert ["Nowhere" in line or "Atlantis" in line for line in refused.value.details["lines"]] == [True, True]
