"""The review rules, with hits and non-hits as data: a task in words, and what the one rule has to say about it."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field, replace
from typing import Any

import pytest

from taskdb.core.course.axes import resolve_points
from taskdb.core.course.day import DaySheet, LastFinish, LegalEnd, SunTimes
from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.measure import measure_course
from taskdb.core.course.schedule import timetables
from taskdb.core.course.wind import Air
from taskdb.core.course.zones import parse_zone
from taskdb.core.geodesy import destination
from taskdb.core.model import (
    Acceptance,
    Finding,
    Place,
    Position,
    Role,
    Severity,
    Task,
    TaskPoint,
    TaskType,
    ZoneFrom,
)
from taskdb.core.quantities import Wind
from taskdb.core.review.engine import RULES, explain, run_review
from taskdb.core.review.limits import LIMITS, Limits, limits_of
from taskdb.core.review.rule import Reviewed, SavedTask, SpeedRange
from taskdb.errors import NotFoundError

HOME = Position.at(50.0, 10.0)


def off(km: float, bearing: float, of: Position = HOME) -> Position:
    place = destination(of, bearing, km * 1000)
    return Position.at(place.latitude_deg, place.longitude_deg)


# An invented region round HOME: codes say how far (km) and in which direction.
PLACES = {
    "HOME": HOME,
    "HOM2": off(0.4, 200),
    "E60": off(60, 90),
    "N60": off(60, 0),
    "E8": off(8, 90),
    "E4": off(4, 90),
    "E67": off(67, 90),
    "E64": off(64, 92),
    "N58": off(58, 3),
    "S30": off(30, 180),
}
E, W, N = Severity.ERROR, Severity.WARNING, Severity.NOTE


def task(words: str, kind: str = "racing", **fields: Any) -> Task:
    """Build a task from `CODE zone words; CODE zone words; …`."""
    between = Role.AREA if kind == "assigned-area" else Role.TURN
    parts = [part.strip().partition(" ") for part in words.split(";")]
    roles = [Role.START, *[between] * (len(parts) - 2), Role.FINISH]
    points = [
        TaskPoint(Place(code, code, PLACES[code], identity=code), role, parse_zone(zone), ZoneFrom.OWN)
        for (code, _, zone), role in zip(parts, roles, strict=True)
    ]
    made = Task("A", TaskType(kind), resolve_points(points), "region", 1)
    return replace(made, **fields)


def reviewed(words: str, kind: str = "racing", given: dict[str, Any] | None = None, **fields: Any) -> Reviewed:
    made = task(words, kind, **fields)
    return Reviewed(made, measure_course(made), fingerprint(made), **(given or {}))


def day(
    made: Task,
    last: str | None = None,
    *,
    opens: str | None = "13:00",
    rule: LegalEnd = LegalEnd.SUNSET,
    air: Air | None = None,
    timezone: str | None = "Europe/Berlin",
    sunset: bool = True,
) -> DaySheet:
    """A day on which the sun sets at 20:45 summer time and civil dusk ends at 21:24."""
    zone = datetime.timezone(datetime.timedelta(hours=2))
    evening = datetime.datetime(2027, 5, 14, 20, 45, tzinfo=zone)
    sun = SunTimes("2027-05-14", None, evening, evening + datetime.timedelta(minutes=39)) if sunset else None
    finish = None
    if last is not None:
        hours, minutes = last.split(":")
        finish = LastFinish("14:00", 3600.0, int(hours) * 60 + int(minutes), 60.0, "an example")
    flights = timetables(made, measure_course(made), air) if air is not None else ()
    return DaySheet(
        "2027-05-14", timezone, opens, air, air.wind if air else None, flights, finish, sun, rule, False, (), (), ()
    )


def finding(code: str, severity: Severity, **more: Any) -> Finding:
    return Finding("1f0c93ab27", "typing-slip", severity, (code,), "Minutes 17 look like 71.", {}, **more)


ROUND = "HOME line 1km; E60 cylinder 500m; N60 cylinder 500m; HOME line 1km"
AREAS = "HOME line 1km; E60 area 20km; N60 area 20km; HOME line 1km"
CLUB = SpeedRange(60.0, 110.0, "class Club")


@dataclass
class Case:
    rule: str
    why: str
    given: Reviewed
    found: list[tuple[Severity, tuple[str, ...]]] = field(default_factory=list)
    says: str = ""


def other(words: str, kind: str = "racing", label: str = "Cup:B", **fields: Any) -> dict[str, Any]:
    made = task(words, kind, **fields)
    return {"others": (SavedTask(label, made, fingerprint(made)),)}


def cases() -> list[Case]:
    round_task, areas = task(ROUND), task(AREAS, "assigned-area", time_s=3 * 3600)
    slow = Air(60, Wind(270, 62))
    codes = ("HOME", "E60", "N60")
    big_ring = "HOME cylinder 10km; {} cylinder 500m; N60 cylinder 500m; HOME cylinder 3km"
    declared = "HOME line 1km; {} {z}; {} {z}; HOME line 1km"
    sharp = "sector 90deg"
    return [
        # short-leg
        Case("short-leg", "every leg is long", reviewed(ROUND)),
        Case("short-leg", "a leg of 4 km",
             reviewed("HOME line 1km; E60 cylinder 500m; E4 cylinder 500m; HOME line 1km"),
             [(W, ("E4", "HOME"))], "has 4.0 km; at least 5.0 km"),
        Case("short-leg", "a leg of 8 km is long enough",
             reviewed("HOME line 1km; N60 cylinder 500m; E8 cylinder 500m; HOME line 1km")),
        Case("short-leg", "unless the contest asks for 10 km",
             reviewed("HOME line 1km; N60 cylinder 500m; E8 cylinder 500m; HOME line 1km",
                      given={"limits": Limits(shortest_leg_m=10_000)}),
             [(W, ("E8", "HOME"))], "at least 10.0 km"),
        Case("short-leg", "one point twice",
             reviewed("HOME cylinder 1km; E60 cylinder 1km; E60 cylinder 1km; HOME cylinder 1km"),
             [(E, ("E60", "E60"))], "has no length"),
        Case("short-leg", "a limit of nothing still tells a leg without length",
             reviewed("HOME cylinder 1km; E60 cylinder 1km; E60 cylinder 1km; HOME cylinder 1km",
                      given={"limits": Limits(shortest_leg_m=0)}),
             [(E, ("E60", "E60"))]),
        # overlapping-zones
        Case("overlapping-zones", "far apart", reviewed(AREAS, "assigned-area")),
        Case("overlapping-zones", "areas of 45 km, 85 km apart",
             reviewed("HOME line 1km; E60 area 45km; N60 area 45km; HOME line 1km", "assigned-area"),
             [(W, ("E60", "N60"))], "84.9 km apart"),
        Case("overlapping-zones", "areas of 42 km, 84.9 km apart, do not",
             reviewed("HOME line 1km; E60 area 42km; N60 area 42km; HOME line 1km", "assigned-area")),
        Case("overlapping-zones", "not next to each other: a note",
             reviewed("HOME line 1km; E60 cylinder 3km; N60 cylinder 3km; E64 cylinder 3km; HOME line 1km"),
             [(N, ("E60", "E64"))]),
        Case("overlapping-zones", "one place turned twice may",
             reviewed("HOME line 1km; E60 cylinder 3km; N60 cylinder 3km; E60 cylinder 3km; HOME line 1km")),
        Case("overlapping-zones", "start and finish may",
             reviewed("HOME cylinder 5km; E60 cylinder 500m; N60 cylinder 500m; HOM2 cylinder 3km")),
        Case("overlapping-zones", "a ring that holds the turn is another rule's", reviewed(big_ring.format("E8"))),
        Case("overlapping-zones", "a start ring that reaches into the turn's zone",
             reviewed("HOME cylinder 7600m; E8 cylinder 500m; N60 cylinder 500m; HOME line 1km"),
             [(W, ("HOME", "E8"))]),
        Case("overlapping-zones", "an endless sector that looks the other way does not",
             reviewed(declared.format("E60", "N60", z=sharp), "declared")),
        # ring-holds-turn
        Case("ring-holds-turn", "the turn is outside", reviewed(ROUND)),
        Case("ring-holds-turn", "the start ring of 10 km holds a turn at 8 km", reviewed(big_ring.format("E8")),
             [(E, ("E8", "HOME"))], "The start's zone (cylinder 10km) holds point 1 (E8), 8.0 km"),
        Case("ring-holds-turn", "a line holds nothing",
             reviewed("HOME line 40km; E8 cylinder 500m; N60 cylinder 500m; HOME line 1km")),
        Case("ring-holds-turn", "the finish ring holds the last turn",
             reviewed("HOME line 1km; N60 cylinder 500m; E4 cylinder 500m; HOME cylinder 5km"),
             [(E, ("E4", "HOME"))], "The finish's zone"),
        Case("ring-holds-turn", "a goal has no turn", reviewed("HOME cylinder 10km; E8 cylinder 3km")),
        # deduction-eats-leg
        Case("deduction-eats-leg", "a ring of 10 km off a leg of 60 km", reviewed(big_ring.format("E60"))),
        Case("deduction-eats-leg", "a ring of 10 km off a leg of 8 km", reviewed(big_ring.format("E8")),
             [(E, ("HOME", "E8"))], "10.0 km come off the leg"),
        Case("deduction-eats-leg", "start and finish off one leg",
             reviewed("HOME cylinder 5km; E8 cylinder 4km"), [(E, ("HOME", "E8"))], "9.0 km come off"),
        Case("deduction-eats-leg", "an area's near edge closer than the ring is wide",
             reviewed("HOME cylinder 10km; E60 area 55km; HOME line 1km", "assigned-area"),
             [(W, ("HOME", "E60"))], "on its shortest way"),
        Case("deduction-eats-leg", "two cylinders at 1 km off a declared leg of 400 m",
             reviewed("HOME cylinder 500m; HOM2 cylinder 500m; E60 cylinder 500m; HOME cylinder 500m", "declared"),
             [(E, ("HOME", "HOM2"))]),
        # narrow-areas
        Case("narrow-areas", "areas of 20 km", reviewed(AREAS, "assigned-area")),
        Case("narrow-areas", "areas of 2 km",
             reviewed("HOME line 1km; E60 area 2km; N60 area 2km; HOME line 1km", "assigned-area"),
             [(W, ("E60", "N60"))], "1.30 are asked for"),
        Case("narrow-areas", "a contest that asks for little",
             reviewed("HOME line 1km; E60 area 2km; N60 area 2km; HOME line 1km", "assigned-area",
                      given={"limits": Limits(least_area_ratio=1.01)})),
        Case("narrow-areas", "a racing task has none", reviewed(ROUND)),
        # speeds-out-of-range (60 to 110 km/h; ROUND has 204.8 km, AREAS from 151 to 264 km)
        Case("speeds-out-of-range", "80 km/h", reviewed(ROUND, given={"speeds": CLUB}, speed_kmh=80.0)),
        Case("speeds-out-of-range", "205 km in 1:30", reviewed(ROUND, given={"speeds": CLUB}, time_s=5400),
             [(W, ())], "faster than the fastest of class Club (110 km/h)"),
        Case("speeds-out-of-range", "205 km in 4 hours", reviewed(ROUND, given={"speeds": CLUB}, time_s=14400),
             [(W, ())], "slower than the slowest of class Club (60 km/h)"),
        Case("speeds-out-of-range", "without a time", reviewed(ROUND, given={"speeds": CLUB})),
        Case("speeds-out-of-range", "without speeds", reviewed(ROUND, time_s=5400)),
        Case("speeds-out-of-range", "a minimum time too short for the slowest",
             reviewed(AREAS, "assigned-area", given={"speeds": CLUB}, time_s=7200),
             [(W, ())], "The slowest of class Club (60 km/h) need"),
        Case("speeds-out-of-range", "a minimum time too long for the fastest",
             reviewed(AREAS, "assigned-area", given={"speeds": CLUB}, time_s=4 * 3600),
             [(W, ())], "before the minimum time of 4:00 is over"),
        Case("speeds-out-of-range", "areas that fit", reviewed(AREAS, "assigned-area",
             given={"speeds": SpeedRange(60.0, 80.0, "class Club")}, time_s=3 * 3600)),
        # leg-cannot-be-made
        Case("leg-cannot-be-made", "calm air", reviewed(ROUND, given={"day": day(round_task, air=Air(60))})),
        Case("leg-cannot-be-made", "62 km/h on the way home and across",
             reviewed(ROUND, given={"day": day(round_task, air=slow)}),
             [(E, ("E60", "N60")), (E, ("N60", "HOME"))]),
        Case("leg-cannot-be-made", "nothing known of the day", reviewed(ROUND)),
        # after-legal-end (sunset 20:45, dusk 21:24)
        Case("after-legal-end", "home at 18:00", reviewed(ROUND, given={"day": day(round_task, "18:00")})),
        Case("after-legal-end", "home at 20:57", reviewed(ROUND, given={"day": day(round_task, "20:57")}),
             [(W, ())], "expected at 20:57, 12 minutes after the legal end of the day at 20:45 (sunset)"),
        Case("after-legal-end", "home at 20:30", reviewed(ROUND, given={"day": day(round_task, "20:30")}),
             [(N, ())], "only 15 minutes before"),
        Case("after-legal-end", "20:57 is before 30 minutes after sunset, barely",
             reviewed(ROUND, given={"day": day(round_task, "20:57", rule=LegalEnd.SUNSET_30)}),
             [(N, ())], "18 minutes before the legal end of the day at 21:15"),
        Case("after-legal-end", "20:50 and civil dusk at 21:24",
             reviewed(ROUND, given={"day": day(round_task, "20:50", rule=LegalEnd.CIVIL_DUSK)})),
        Case("after-legal-end", "even the first are too late",
             reviewed(ROUND, given={"day": day(round_task, "23:30", opens="19:00", air=Air(80))}),
             [(E, ())], "the task ends at 21:33"),
        Case("after-legal-end", "a minimum time counts where the flight is shorter",
             reviewed(AREAS, "assigned-area", given={"day": day(areas, "22:00", opens="18:00", air=Air(200))},
                      time_s=3 * 3600), [(E, ())], "the task ends at 21:00"),
        Case("after-legal-end", "no time zone, no comparison",
             reviewed(ROUND, given={"day": day(round_task, "23:30", timezone=None)})),
        Case("after-legal-end", "no sun, no comparison",
             reviewed(ROUND, given={"day": day(round_task, "23:30", sunset=False)})),
        # point-with-finding
        Case("point-with-finding", "an error", reviewed(ROUND, given={"set_findings": (finding("E60", E),)}),
             [(E, ("E60",))], "Point 1 (E60) has an open error in its set"),
        Case("point-with-finding", "a warning", reviewed(ROUND, given={"set_findings": (finding("HOME", W),)}),
             [(W, ("HOME",))]),
        Case("point-with-finding", "a note is none", reviewed(ROUND, given={"set_findings": (finding("HOME", N),)})),
        Case("point-with-finding", "an accepted one is not open",
             reviewed(ROUND, given={"set_findings": (finding("E60", E, accepted=Acceptance("a", "so it is")),)})),
        Case("point-with-finding", "of a point that is not used",
             reviewed(ROUND, given={"set_findings": (finding("S30", E),)})),
        # points-changed
        Case("points-changed", "nothing moved", reviewed(ROUND)),
        Case("points-changed", "a point moved",
             reviewed(ROUND, given={"stale": ("point 1 (E60 E60) moved 134 m towards 045° in region@3",)}),
             [(W, ("E60",))], "Point 1 (E60 E60) moved 134 m"),
        # saved-already
        Case("saved-already", "another course",
             reviewed(ROUND, given=other("HOME line 1km; E60 cylinder 500m; S30 cylinder 500m; HOME line 1km"))),
        Case("saved-already", "the same task", reviewed(ROUND, given=other(ROUND)), [(W, codes)], "is the same task"),
        Case("saved-already", "the same points, another zone",
             reviewed(ROUND, given=other(ROUND.replace("500m", "1km"))),
             [(N, codes)], "same points in the same order, with other zones"),
        Case("saved-already", "the other way round",
             reviewed(ROUND, given=other("HOME line 1km; N60 cylinder 500m; E60 cylinder 500m; HOME line 1km")),
             [(N, codes)], "flown the other way round"),
        Case("saved-already", "begun elsewhere",
             reviewed(ROUND, given=other("E60 line 1km; N60 cylinder 500m; HOME cylinder 500m; E60 line 1km")),
             [(N, codes)], "begun at another of its points"),
        Case("saved-already", "begun elsewhere and the other way round",
             reviewed("HOME line 1km; E60 cylinder 1km; N60 cylinder 1km; S30 cylinder 1km; HOME line 1km",
                      given=other("N60 line 1km; E60 cylinder 1km; HOME cylinder 1km; S30 cylinder 1km; N60 line 1km")),
             [(N, ("HOME", "E60", "N60", "S30"))], "begun at another of its points and flown the other way round"),
        # misses-its-distance (HOME-E60-N60-HOME has 204.8 km)
        Case("misses-its-distance", "a racing task has no award", reviewed(near(49.5), "racing")),
        Case("misses-its-distance", "49.5 km", reviewed(near(49.5), "declared"), [(W, ())], "500 m short of 50.0 km"),
        Case("misses-its-distance", "50.5 km is enough", reviewed(near(50.5), "declared")),
        Case("misses-its-distance", "40 km is far from it", reviewed(near(40), "declared")),
        Case("misses-its-distance", "299 km", reviewed(near(299), "declared"), [(W, ())], "short of 300.0 km"),
        Case("misses-its-distance", "299 km and a margin of a tenth of a percent",
             reviewed(near(299), "declared", given={"limits": Limits(declared_short_percent=0.1)})),
        Case("misses-its-distance", "994 km", reviewed(near(994), "declared"), [(W, ())], "short of 1000.0 km"),
        Case("misses-its-distance", "cylinders take it away",
             reviewed(near(299.4, zone="cylinder 500m", legs=3), "declared"), [(W, ())], "with sectors"),
        # misses-the-triangle (HOME-E60-N60: 60 / 84.8 / 60, shortest side 29.3 %)
        Case("misses-the-triangle", "an FAI triangle", reviewed(declared.format("E60", "N60", z=sharp), "declared")),
        Case("misses-the-triangle", "27.5 %", reviewed(triangle(27.5), "declared"),
             [(W, ("HOME", "TRI1", "TRI2"))], "misses the FAI triangle by 0.50 percent points"),
        Case("misses-the-triangle", "25 % is another triangle", reviewed(triangle(25), "declared")),
        Case("misses-the-triangle", "a racing task asks for no shape", reviewed(triangle(27.5), "racing")),
        # not-closed
        Case("not-closed", "one point", reviewed(declared.format("E60", "N60", z=sharp), "declared")),
        Case("not-closed", "400 m apart",
             reviewed("HOME line 1km; E60 sector 90deg; N60 sector 90deg; HOM2 line 1km", "declared"),
             [(W, ("HOM2", "HOME"))], "400 m apart"),
        Case("not-closed", "a contest closes it",
             reviewed("HOME line 1km; E60 cylinder 500m; N60 cylinder 500m; HOM2 line 1km")),
        Case("not-closed", "a goal is not meant to", reviewed("HOME line 1km; E60 line 1km", "declared")),
        # turn-points-near
        Case("turn-points-near", "85 km", reviewed(declared.format("E60", "N60", z=sharp), "declared")),
        Case("turn-points-near", "7 km, not next to each other",
             reviewed("HOME line 1km; E60 sector 90deg; N60 sector 90deg; E67 sector 90deg; HOME line 1km", "declared"),
             [(W, ("E60", "E67"))], "7.0 km apart; 10 km are asked for"),
        Case("turn-points-near", "a racing task may",
             reviewed("HOME line 1km; E60 cylinder 500m; E67 cylinder 500m; HOME line 1km")),
        Case("turn-points-near", "start and finish are no turn points",
             reviewed("HOME line 1km; E60 cylinder 500m; E67 line 1km", "declared")),
    ]  # fmt: skip


def near(km: float, *, zone: str = "sector 90deg", legs: int = 2) -> str:
    """A declared course of this length, out and back or round a triangle of equal sides, as words."""
    if legs == 2:
        PLACES[f"OUT{km}"] = off(km / 2, 70)
        return f"HOME line 1km; OUT{km} {zone}; HOME line 1km"
    PLACES[f"ONE{km}"] = off(km / 3, 40)
    PLACES[f"TWO{km}"] = off(km / 3, 100)
    # Two cylinders at the turns take 0.5 km off four times; the course by centres is longer by as much.
    length = measure_course(task(f"HOME line 1km; ONE{km} {zone}; TWO{km} {zone}; HOME line 1km", "declared"))
    factor = (km * 1000 + 2000) / length.distances.centres_m
    PLACES[f"ONE{km}"] = off(km / 3 * factor, 40)
    PLACES[f"TWO{km}"] = off(km / 3 * factor, 100)
    return f"HOME line 1km; ONE{km} {zone}; TWO{km} {zone}; HOME line 1km"


def triangle(shortest_percent: float) -> str:
    """A triangle at HOME whose shortest side has this share: two equal sides, the opening halved down to it."""
    low, high = 5.0, 60.0
    for _ in range(40):
        opening = (low + high) / 2
        PLACES["TRI1"], PLACES["TRI2"] = off(70, 20), off(70, 20 + opening)
        words = "HOME line 1km; TRI1 sector 90deg; TRI2 sector 90deg; HOME line 1km"
        if min(measure_course(task(words, "declared"), extremes=False).shape.side_percent) < shortest_percent:
            low = opening
        else:
            high = opening
    return words


CASES = cases()


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.rule}: {case.why}")
def test_a_rule_tells_what_it_should_and_nothing_else(case: Case) -> None:
    rule = next(rule for rule in RULES if rule.name == case.rule)
    found = run_review(case.given, [rule])
    assert [(one.severity, one.codes) for one in found] == case.found, [one.message for one in found]
    assert all(one.rule == case.rule and one.message.endswith(".") for one in found)
    assert not case.says or case.says in " ".join(one.message for one in found), [one.message for one in found]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_rule_has_hits_and_non_hits(rule: Any) -> None:
    own = [case for case in CASES if case.rule == rule.name]
    assert any(case.found for case in own)
    assert any(not case.found for case in own)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_rule_has_a_page_with_its_parts(rule: Any) -> None:
    page = explain(rule.name)
    for part in ("What:", "Why it matters:", "How to mend:", "Trap:", "Example:"):
        assert part in page
    assert rule.summary.endswith(".") and "\n" not in rule.summary


def test_rule_names_are_unique_here_and_among_the_checks_of_a_set() -> None:
    from taskdb.core.checks.rules import RULES as SET_RULES

    names = [rule.name for rule in (*RULES, *SET_RULES)]
    assert len(set(names)) == len(names)


def test_an_unknown_rule_is_answered_with_those_that_there_are() -> None:
    with pytest.raises(NotFoundError) as caught:
        explain("short-log")
    assert "short-leg" in (caught.value.hint or "")


def test_findings_come_by_severity_and_keep_their_ids() -> None:
    ring = "HOME cylinder 10km; E8 cylinder 500m; E4 cylinder 500m; HOME cylinder 3km"
    given = reviewed(ring)
    found = run_review(given)
    order = [Severity.ERROR, Severity.WARNING, Severity.NOTE]
    assert [order.index(one.severity) for one in found] == sorted(order.index(one.severity) for one in found)
    assert len({one.id for one in found}) == len(found) > 2
    again = run_review(replace(given, task=replace(given.task, name="Z", set_revision=9)))
    assert [one.id for one in again] == [one.id for one in found]


def test_an_id_goes_when_what_the_rule_read_changes() -> None:
    first = run_review(reviewed("HOME cylinder 10km; E8 cylinder 500m; N60 cylinder 500m; HOME line 1km"))
    other_ring = run_review(reviewed("HOME cylinder 9km; E8 cylinder 500m; N60 cylinder 500m; HOME line 1km"))
    by_rule = {one.rule: one.id for one in first}
    for one in other_ring:
        if one.rule == "ring-holds-turn":
            assert one.id != by_rule["ring-holds-turn"]


def test_an_accepted_finding_says_by_whom_and_why() -> None:
    given = reviewed("HOME cylinder 10km; E8 cylinder 500m; N60 cylinder 500m; HOME line 1km")
    (ring,) = [one for one in run_review(given) if one.rule == "ring-holds-turn"]
    acceptance = Acceptance("setter", "a training task")
    again = run_review(given, accepted={ring.id: acceptance})
    assert [one.accepted for one in again if one.id == ring.id] == [acceptance]


def test_a_plain_task_has_nothing_to_say() -> None:
    assert run_review(reviewed(ROUND)) == ()


def test_limits_come_from_the_contests_settings_and_bad_ones_are_told() -> None:
    limits, problems = limits_of({"shortest_leg_m": 8000, "least_area_ratio": "much", "legal_end": "sunset"})
    assert (limits.shortest_leg_m, limits.least_area_ratio) == (8000.0, Limits().least_area_ratio)
    assert len(problems) == 1 and "least_area_ratio" in problems[0]
    assert limits_of({}) == (Limits(), ())
    assert limits_of({"shortest_leg_m": True})[1] and limits_of({"shortest_leg_m": -1})[1]


def test_every_limit_says_what_it_means_and_where_its_default_comes_from() -> None:
    assert {limit.name for limit in LIMITS} == set(Limits.__dataclass_fields__)
    assert all(limit.meaning and limit.source for limit in LIMITS)
