"""Cases for the review rules as data, hits and non-hits: a task in words, and what the one rule has to say of it."""

from __future__ import annotations

from typing import Any

from taskdb.core.course.wind import Air
from taskdb.core.kinds import LegalEnd
from taskdb.core.model import Acceptance
from taskdb.core.quantities import Wind
from taskdb.core.review.limits import Limits
from taskdb.core.review.rule import SpeedRange
from tests.unit.review_airspace import AIRSPACE_CASES
from tests.unit.review_cover import out_of_glide
from tests.unit.review_examples import (
    AREAS,
    AREAS_TASK,
    BIG_RING,
    CLUB,
    CODES,
    DECLARED,
    ROUND,
    ROUND_TASK,
    SHARP,
    SLOW,
    Case,
    E,
    N,
    W,
    day,
    finding,
    later,
    near,
    other,
    reviewed as reviewed_now,
    setting_sun,
    task,
    triangle,
)
from tests.unit.review_meetings import MEETING_CASES

reviewed = later(reviewed_now)


def short_leg() -> list[Case]:
    return [
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
    ]  # fmt: skip


def overlapping_zones() -> list[Case]:
    return [
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
        Case("overlapping-zones", "a ring that holds the turn is another rule's", reviewed(BIG_RING.format("E8"))),
        Case("overlapping-zones", "a start ring that reaches into the turn's zone",
             reviewed("HOME cylinder 7600m; E8 cylinder 500m; N60 cylinder 500m; HOME line 1km"),
             [(W, ("HOME", "E8"))]),
        Case("overlapping-zones", "an endless sector that looks the other way does not",
             reviewed(DECLARED.format("E60", "N60", z=SHARP), "declared")),
    ]  # fmt: skip


def ring_holds_turn() -> list[Case]:
    return [
        Case("ring-holds-turn", "the turn is outside", reviewed(ROUND)),
        Case("ring-holds-turn", "the start ring of 10 km holds a turn at 8 km", reviewed(BIG_RING.format("E8")),
             [(E, ("E8", "HOME"))], "The start's zone (cylinder 10km) holds point 1 (E8), 8.0 km"),
        Case("ring-holds-turn", "a line holds nothing",
             reviewed("HOME line 40km; E8 cylinder 500m; N60 cylinder 500m; HOME line 1km")),
        Case("ring-holds-turn", "the finish ring holds the last turn",
             reviewed("HOME line 1km; N60 cylinder 500m; E4 cylinder 500m; HOME cylinder 5km"),
             [(E, ("E4", "HOME"))], "The finish's zone"),
        Case("ring-holds-turn", "a goal has no turn", reviewed("HOME cylinder 10km; E8 cylinder 3km")),
    ]  # fmt: skip


def deduction_eats_leg() -> list[Case]:
    return [
        Case("deduction-eats-leg", "a ring of 10 km off a leg of 60 km", reviewed(BIG_RING.format("E60"))),
        Case("deduction-eats-leg", "a ring of 10 km off a leg of 8 km", reviewed(BIG_RING.format("E8")),
             [(E, ("HOME", "E8"))], "10.0 km come off the leg"),
        Case("deduction-eats-leg", "start and finish off one leg",
             reviewed("HOME cylinder 5km; E8 cylinder 4km"), [(E, ("HOME", "E8"))], "9.0 km come off"),
        Case("deduction-eats-leg", "an area's near edge closer than the ring is wide",
             reviewed("HOME cylinder 10km; E60 area 55km; HOME line 1km", "assigned-area"),
             [(W, ("HOME", "E60"))], "on its shortest way"),
        Case("deduction-eats-leg", "two cylinders at 1 km off a declared leg of 400 m",
             reviewed("HOME cylinder 500m; HOM2 cylinder 500m; E60 cylinder 500m; HOME cylinder 500m", "declared"),
             [(E, ("HOME", "HOM2"))]),
    ]  # fmt: skip


def narrow_areas() -> list[Case]:
    return [
        Case("narrow-areas", "areas of 20 km", reviewed(AREAS, "assigned-area")),
        Case("narrow-areas", "areas of 2 km",
             reviewed("HOME line 1km; E60 area 2km; N60 area 2km; HOME line 1km", "assigned-area"),
             [(W, ("E60", "N60"))], "1.30 are asked for"),
        Case("narrow-areas", "a contest that asks for little",
             reviewed("HOME line 1km; E60 area 2km; N60 area 2km; HOME line 1km", "assigned-area",
                      given={"limits": Limits(least_area_ratio=1.01)})),
        Case("narrow-areas", "a racing task has none", reviewed(ROUND)),
    ]  # fmt: skip


def speeds_out_of_range() -> list[Case]:
    # 60 to 110 km/h; ROUND has 204.8 km, AREAS from 151 to 264 km.
    return [
        Case("speeds-out-of-range", "80 km/h", reviewed(ROUND, given={"speeds": CLUB}, speed_kmh=80.0)),
        Case("speeds-out-of-range", "205 km in 1:30", reviewed(ROUND, given={"speeds": CLUB}, time_s=5400),
             [(W, ())], "faster than the fastest of class Club (110 km/h on average in still air), who need 1:52"),
        Case("speeds-out-of-range", "205 km in 4 hours", reviewed(ROUND, given={"speeds": CLUB}, time_s=14400),
             [(W, ())], "slower than the slowest of class Club (60 km/h on average in still air), who need 3:25"),
        Case("speeds-out-of-range", "without a time", reviewed(ROUND, given={"speeds": CLUB})),
        Case("speeds-out-of-range", "without speeds", reviewed(ROUND, time_s=5400)),
        Case("speeds-out-of-range", "a minimum time too short for the slowest",
             reviewed(AREAS, "assigned-area", given={"speeds": CLUB}, time_s=7200),
             [(W, ())], "The slowest of class Club (60 km/h on average in still air) need"),
        Case("speeds-out-of-range", "a minimum time too long for the fastest",
             reviewed(AREAS, "assigned-area", given={"speeds": CLUB}, time_s=4 * 3600),
             [(W, ())], "before the minimum time of 4:00 is over"),
        Case("speeds-out-of-range", "areas that fit", reviewed(AREAS, "assigned-area",
             given={"speeds": SpeedRange(60.0, 80.0, "class Club")}, time_s=3 * 3600)),
        Case("speeds-out-of-range", "areas that fit in 2:40 in calm air", reviewed(AREAS, "assigned-area",
             given={"speeds": SpeedRange(60.0, 80.0, "class Club")}, time_s=9600)),
        # The wind changes the verdict: 204.8 km at 60 km/h take 3:25 in calm air.
        Case("speeds-out-of-range", "3:40 is too long in calm air",
             reviewed(ROUND, given={"speeds": CLUB}, time_s=13200), [(W, ())], "need 3:25"),
        Case("speeds-out-of-range", "but not against 30 km/h",
             reviewed(ROUND, given={"speeds": CLUB, "day": day(ROUND_TASK, air=Air(80, Wind(240, 30)))}, time_s=13200)),
        Case("speeds-out-of-range", "areas that fit in calm air in 2:40 do not in 30 km/h",
             reviewed(AREAS, "assigned-area", given={
                 "speeds": SpeedRange(60.0, 80.0, "class Club"), "day": day(AREAS_TASK, air=Air(80, Wind(180, 30))),
             }, time_s=9600), [(W, ())], "wind 180°/30 km/h) need"),
        Case("speeds-out-of-range", "a wind that the slowest cannot make",
             reviewed(AREAS, "assigned-area", given={
                 "speeds": SpeedRange(60.0, None, "class Club"), "day": day(AREAS_TASK, air=Air(80, Wind(180, 70))),
             }, time_s=3 * 3600), [(W, ())], "cannot fly the minimum distance"),
        # 132.1 km in 2:00 are 66.05 km/h, and the maximum takes the fastest longer: of 60 to 110 km/h that is 88 %.
        Case("speeds-out-of-range", "88 % where 80 % are asked for", reviewed(AREAS, "assigned-area",
             given={"speeds": CLUB, "limits": Limits(least_finishers_time_percent=80.0)}, time_s=7200),
             [(N, ())], "The slowest of class Club (60 km/h on average in still air) need"),
        Case("speeds-out-of-range", "88 % where 90 % are asked for", reviewed(AREAS, "assigned-area",
             given={"speeds": CLUB, "limits": Limits(least_finishers_time_percent=90.0)}, time_s=7200),
             [(W, ())], "suits 88 % of the speeds of class Club (60 to 110 km/h on average in still air): "
                        "those from 66 to 110 km/h. The contest asks for at least 90 %."),
        Case("speeds-out-of-range", "none where 5:00 are long for the slowest too", reviewed(AREAS, "assigned-area",
             given={"speeds": CLUB, "limits": Limits(least_finishers_time_percent=1.0)}, time_s=5 * 3600),
             [(W, ())], "suits none of the speeds of class Club"),
        Case("speeds-out-of-range", "all of them", reviewed(AREAS, "assigned-area", given={
             "speeds": SpeedRange(60.0, 80.0, "class Club"), "limits": Limits(least_finishers_time_percent=100.0),
             }, time_s=9600)),
    ]  # fmt: skip


def outside_class_limits() -> list[Case]:
    # ROUND has 204.8 km, AREAS a minimum of 151 km.
    def limited(**limits: float) -> dict[str, object]:
        return {"limits": Limits(**limits)}  # type: ignore[arg-type]

    name = "outside-class-limits"
    return [
        Case(name, "nothing is asked for", reviewed(ROUND, time_s=60)),
        Case(name, "205 km of 200", reviewed(ROUND, given=limited(minimum_distance_m=200_000))),
        Case(name, "205 km of 210", reviewed(ROUND, given=limited(minimum_distance_m=210_000)),
             [(W, ())], "The task distance of 204.9 km is below the 210.0 km that a task is to have at least."),
        Case(name, "areas by their minimum distance",
             reviewed(AREAS, "assigned-area", given=limited(minimum_distance_m=160_000), time_s=9000),
             [(W, ())], "The minimum distance of"),
        Case(name, "2:30 of 2:00 to 3:00",
             reviewed(ROUND, given=limited(shortest_task_s=7200, longest_task_s=10800), time_s=9000)),
        Case(name, "1:30 is too short", reviewed(ROUND, given=limited(shortest_task_s=7200), time_s=5400),
             [(W, ())], "The expected time of 1:30 is shorter than the 2:00 that a task is to last at least."),
        Case(name, "5:00 is too long",
             reviewed(AREAS, "assigned-area", given=limited(longest_task_s=16200), time_s=18000),
             [(W, ())], "The minimum time of 5:00 is longer than"),
        Case(name, "without a time", reviewed(ROUND, given=limited(shortest_task_s=7200))),
    ]  # fmt: skip


def leg_cannot_be_made() -> list[Case]:
    return [
        Case("leg-cannot-be-made", "calm air", reviewed(ROUND, given={"day": day(ROUND_TASK, air=Air(60))})),
        Case("leg-cannot-be-made", "62 km/h on the way home and across",
             reviewed(ROUND, given={"day": day(ROUND_TASK, air=SLOW)}),
             [(E, ("E60", "N60")), (E, ("N60", "HOME"))]),
        Case("leg-cannot-be-made", "nothing known of the day", reviewed(ROUND)),
    ]  # fmt: skip


def after_legal_end() -> list[Case]:
    # sunset 20:45, dusk 21:24.
    return [
        Case("after-legal-end", "home at 18:00", reviewed(ROUND, given={"day": day(ROUND_TASK, "18:00")})),
        Case("after-legal-end", "home at 20:57", reviewed(ROUND, given={"day": day(ROUND_TASK, "20:57")}),
             [(W, ())], "expected at 20:57, 12 minutes after the legal end of the day at 20:45 (sunset)"),
        Case("after-legal-end", "home at 20:30", reviewed(ROUND, given={"day": day(ROUND_TASK, "20:30")}),
             [(N, ())], "only 15 minutes before"),
        Case("after-legal-end", "20:57 is before 30 minutes after sunset, barely",
             reviewed(ROUND, given={"day": day(ROUND_TASK, "20:57", rule=LegalEnd.SUNSET_30)}),
             [(N, ())], "18 minutes before the legal end of the day at 21:15"),
        Case("after-legal-end", "20:50 and civil dusk at 21:24",
             reviewed(ROUND, given={"day": day(ROUND_TASK, "20:50", rule=LegalEnd.CIVIL_DUSK)})),
        Case("after-legal-end", "even the first are too late",
             reviewed(ROUND, given={"day": day(ROUND_TASK, "23:30", opens="19:00", air=Air(80))}),
             [(E, ())], "the task ends at 21:33"),
        Case("after-legal-end", "a minimum time counts where the flight is shorter",
             reviewed(AREAS, "assigned-area", given={"day": day(AREAS_TASK, "22:00", opens="18:00", air=Air(200))},
                      time_s=3 * 3600), [(E, ())], "the task ends at 21:00"),
        Case("after-legal-end", "no time zone, no comparison",
             reviewed(ROUND, given={"day": day(ROUND_TASK, "23:30", timezone=None)})),
        Case("after-legal-end", "no sun, no comparison",
             reviewed(ROUND, given={"day": day(ROUND_TASK, "23:30", sunset=False)})),
    ]  # fmt: skip


def point_with_finding() -> list[Case]:
    return [
        Case("point-with-finding", "an error", reviewed(ROUND, given={"set_findings": (finding("E60", E),)}),
             [(E, ("E60",))], "Point 1 (E60) has an open error in its set"),
        Case("point-with-finding", "a warning", reviewed(ROUND, given={"set_findings": (finding("HOME", W),)}),
             [(W, ("HOME",))]),
        Case("point-with-finding", "a note is none", reviewed(ROUND, given={"set_findings": (finding("HOME", N),)})),
        Case("point-with-finding", "an accepted one is not open",
             reviewed(ROUND, given={"set_findings": (finding("E60", E, accepted=Acceptance("a", "so it is")),)})),
        Case("point-with-finding", "of a point that is not used",
             reviewed(ROUND, given={"set_findings": (finding("S30", E),)})),
    ]  # fmt: skip


def points_changed() -> list[Case]:
    return [
        Case("points-changed", "nothing moved", reviewed(ROUND)),
        Case("points-changed", "a point moved",
             reviewed(ROUND, given={"stale": ("point 1 (E60 E60) moved 134 m towards 045° in region@3",)}),
             [(W, ("E60",))], "Point 1 (E60 E60) moved 134 m"),
    ]  # fmt: skip


def sun_in_the_eyes() -> list[Case]:
    # 205 km at 70 km/h take 2:55, the last 60 km 51 minutes; ROUND comes home on 180°, the other way on 270°. At 17:18
    # the sun is 10.5° beside 270° and 17° high, 19.9° off. Against 20 km/h the legs take 0:54, 1:02 and 1:12.
    west = "HOME line 1km; N60 cylinder 500m; E60 cylinder 500m; HOME line 1km"
    areas = "HOME line 1km; N60 area 20km; E60 area 20km; HOME line 1km"

    def late(words: str, kind: str = "racing", **more: Any) -> dict[str, Any]:
        sheet = day(task(words, kind), "18:00", **{"opens": "15:00", "air": Air(70), **more})
        return {"day": sheet, "sun_at": setting_sun}

    return [
        Case("sun-in-the-eyes", "home to the west in the evening", reviewed(west, given=late(west)),
             [(W, ("E60", "HOME"))], "on 270° with the sun in the eyes from 17:18 to 17:55, 11° off the course"),
        Case("sun-in-the-eyes", "an hour and a half earlier", reviewed(west, given=late(west, opens="13:30"))),
        Case("sun-in-the-eyes", "home to the south", reviewed(ROUND, given=late(ROUND))),
        Case("sun-in-the-eyes", "against the wind the leg ends later",
             reviewed(west, given=late(west, air=Air(70, Wind(270, 20)))), [(W, ("E60", "HOME"))], "to 18:07"),
        Case("sun-in-the-eyes", "areas come home on several courses",
             reviewed(areas, "assigned-area", given=late(areas, "assigned-area")), [(W, ("E60", "HOME"))]),
        Case("sun-in-the-eyes", "it is not known where the sun stands",
             reviewed(west, given={**late(west), "sun_at": None})),
        Case("sun-in-the-eyes", "nor when the start opens", reviewed(west, given=late(west, opens=None))),
        Case("sun-in-the-eyes", "nor how fast anybody flies", reviewed(west, given=late(west, air=None))),
    ]  # fmt: skip


def saved_already() -> list[Case]:
    return [
        Case("saved-already", "another course",
             reviewed(ROUND, given=other("HOME line 1km; E60 cylinder 500m; S30 cylinder 500m; HOME line 1km"))),
        Case("saved-already", "the same task", reviewed(ROUND, given=other(ROUND)), [(W, CODES)], "is the same task"),
        Case("saved-already", "the same points, another zone",
             reviewed(ROUND, given=other(ROUND.replace("500m", "1km"))),
             [(N, CODES)], "same points in the same order, with other zones"),
        Case("saved-already", "the other way round",
             reviewed(ROUND, given=other("HOME line 1km; N60 cylinder 500m; E60 cylinder 500m; HOME line 1km")),
             [(N, CODES)], "flown the other way round"),
        Case("saved-already", "begun elsewhere",
             reviewed(ROUND, given=other("E60 line 1km; N60 cylinder 500m; HOME cylinder 500m; E60 line 1km")),
             [(N, CODES)], "begun at another of its points"),
        Case("saved-already", "begun elsewhere and the other way round",
             reviewed("HOME line 1km; E60 cylinder 1km; N60 cylinder 1km; S30 cylinder 1km; HOME line 1km",
                      given=other("N60 line 1km; E60 cylinder 1km; HOME cylinder 1km; S30 cylinder 1km; N60 line 1km")),
             [(N, ("HOME", "E60", "N60", "S30"))], "begun at another of its points and flown the other way round"),
    ]  # fmt: skip


def misses_its_distance() -> list[Case]:
    # HOME-E60-N60-HOME has 204.8 km.
    return [
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
    ]  # fmt: skip


def misses_the_triangle() -> list[Case]:
    # HOME-E60-N60: 60 / 84.8 / 60, shortest side 29.3 %.
    return [
        Case("misses-the-triangle", "an FAI triangle", reviewed(DECLARED.format("E60", "N60", z=SHARP), "declared")),
        Case("misses-the-triangle", "27.5 %", reviewed(triangle(27.5), "declared"),
             [(W, ("HOME", "TRI27.5", "ANGLE27.5"))], "misses the FAI triangle by 0.50 percent points"),
        Case("misses-the-triangle", "25 % is another triangle", reviewed(triangle(25), "declared")),
        Case("misses-the-triangle", "a racing task asks for no shape", reviewed(triangle(27.5), "racing")),
    ]  # fmt: skip


def not_closed() -> list[Case]:
    return [
        Case("not-closed", "one point", reviewed(DECLARED.format("E60", "N60", z=SHARP), "declared")),
        Case("not-closed", "400 m apart",
             reviewed("HOME line 1km; E60 sector 90deg; N60 sector 90deg; HOM2 line 1km", "declared"),
             [(W, ("HOM2", "HOME"))], "400 m apart"),
        Case("not-closed", "a contest closes it",
             reviewed("HOME line 1km; E60 cylinder 500m; N60 cylinder 500m; HOM2 line 1km")),
        Case("not-closed", "a goal is not meant to", reviewed("HOME line 1km; E60 line 1km", "declared")),
    ]  # fmt: skip


def turn_points_near() -> list[Case]:
    return [
        Case("turn-points-near", "85 km", reviewed(DECLARED.format("E60", "N60", z=SHARP), "declared")),
        Case("turn-points-near", "7 km, not next to each other",
             reviewed("HOME line 1km; E60 sector 90deg; N60 sector 90deg; E67 sector 90deg; HOME line 1km", "declared"),
             [(W, ("E60", "E67"))], "7.0 km apart; 10 km are asked for"),
        Case("turn-points-near", "a racing task may",
             reviewed("HOME line 1km; E60 cylinder 500m; E67 cylinder 500m; HOME line 1km")),
        Case("turn-points-near", "start and finish are no turn points",
             reviewed("HOME line 1km; E60 cylinder 500m; E67 line 1km", "declared")),
    ]  # fmt: skip


CASES: list[Case] = [
    case
    for cases in (
        short_leg,
        overlapping_zones,
        ring_holds_turn,
        deduction_eats_leg,
        narrow_areas,
        speeds_out_of_range,
        outside_class_limits,
        leg_cannot_be_made,
        after_legal_end,
        sun_in_the_eyes,
        point_with_finding,
        points_changed,
        saved_already,
        misses_its_distance,
        misses_the_triangle,
        not_closed,
        turn_points_near,
        *AIRSPACE_CASES,
        out_of_glide,
        *MEETING_CASES,
    )
    for case in cases()
]
