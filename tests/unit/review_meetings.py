"""Cases for the rules on two tasks of one day: what is told of Club's task beside Open's, and what is not."""

from __future__ import annotations

from taskdb.core.review.limits import Limits
from tests.unit.review_examples import Case, N, W, beside as beside_now, later

beside = later(beside_now)

ROUND = "HOME line 1km; E60 cylinder 500m; N60 cylinder 500m; HOME cylinder 3km"
TURNED = "HOME line 1km; N60 cylinder 500m; E60 cylinder 500m; HOME cylinder 3km"
SOUTH = "HOME line 1km; S30 cylinder 500m; W40 cylinder 500m; HOME cylinder 3km"
FROM_W40 = "W40 line 1km; E60 cylinder 500m; W40 cylinder 3km"
FROM_S30 = "S30 line 1km; N60 cylinder 500m; W40 cylinder 3km"


def opposing_legs() -> list[Case]:
    # E60 and N60 lie 84.9 km apart; Club passes N60 from 14:27 to 15:27, Open from 13:36 to 14:36.
    three = [(W, codes) for codes in (("HOME", "E60"), ("E60", "N60"), ("N60", "HOME"))]
    return [
        Case("opposing-legs", "the same triangle the other way round: every leg", beside(ROUND, TURNED), three,
             "Club (C) from E60 to N60 and Open (O) from N60 to E60 fly against each other for 84.9 km, on one line; "
             "both can be there from 13:36 to 15:27, and two flights as planned meet at 14:01."),
        Case("opposing-legs", "the same way", beside(ROUND, ROUND)),
        Case("opposing-legs", "another direction", beside(ROUND, SOUTH)),
        Case("opposing-legs", "legs that meet at an angle", beside(ROUND, "NE40 line 1km; S30 line 1km")),
        Case("opposing-legs", "four hours later nobody is there any more", beside(ROUND, TURNED, ("13:00", "17:30"))),
        Case("opposing-legs", "but nobody knows when the others start", beside(ROUND, TURNED, ("13:00", None)), three,
             "when is not known"),
        Case("opposing-legs", "a line beside another for 60 km, opposed on the way out and home, not on that from W40",
             beside(FROM_W40, "HOME line 1km; E60 cylinder 500m; HOME cylinder 3km"),
             [(W, ("W40", "E60", "HOME")), (W, ("E60", "W40", "HOME"))]),
        Case("opposing-legs", "areas are looked at over their ways",
             beside("HOME line 1km; E60 area 10km; N60 area 10km; HOME cylinder 3km", TURNED,
                    kinds=("assigned-area", "racing")), three, "km on other ways through the areas)"),
        Case("opposing-legs", "E67 and E64 part by 2°: less than a kilometre for 28 km, 3 of them in the ring",
             beside("HOME line 1km; E67 cylinder 500m; S30 line 1km", "E64 line 1km; HOME cylinder 3km"),
             [(W, ("HOME", "E67", "E64"))], "for 25.6 km, 105 m apart at the closest, 3.0 km from HOME"),
        Case("opposing-legs", "with 200 m asked for less than 6 km",
             beside("HOME line 1km; E67 cylinder 500m; S30 line 1km", "E64 line 1km; HOME cylinder 3km",
                    limits=Limits(separation_m=200)), [(W, ("HOME", "E67", "E64"))], "for 2.7 km"),
        Case("opposing-legs", "N58 is 3° off: with 4 km asked for they lie so near for 60 km and are told",
             beside("HOME line 1km; N60 cylinder 500m; S30 line 1km", "N58 line 1km; HOME cylinder 3km",
                    limits=Limits(separation_m=4000)), [(W, ("HOME", "N60", "N58"))]),
    ]  # fmt: skip


def turn_from_both_sides() -> list[Case]:
    through = "W40 line 1km; HOME cylinder 500m; E60 cylinder 500m; S30 line 1km"
    back = "E60 line 1km; HOME cylinder 500m; N60 cylinder 500m; S30 line 1km"
    areas = "E60 line 1km; HOME area 5km; N60 area 5km; S30 line 1km"
    return [
        Case("turn-from-both-sides", "on 090° and on 270°", beside(through, back), [(W, ("HOME",))],
             "Club (C) and Open (O) enter HOME from opposite sides, on courses 180° apart; both can be there from "),
        Case("turn-from-both-sides", "an area: a note", beside(through, areas, kinds=("racing", "assigned-area")),
             [(N, ("HOME",))]),
        Case("turn-from-both-sides", "from one side", beside(through, through)),
        Case("turn-from-both-sides", "at right angles",
             beside(through, "S30 line 1km; HOME cylinder 500m; N60 line 1km")),
        Case("turn-from-both-sides", "the others come in the evening", beside(through, back, ("12:00", "16:00"))),
        Case("turn-from-both-sides", "a turn 400 m off", beside(through, back.replace("HOME", "HOM2")),
             [(W, ("HOME", "HOM2"))]),
        Case("turn-from-both-sides", "with 300 m asked for it is another turn",
             beside(through, back.replace("HOME", "HOM2"), limits=Limits(separation_m=300))),
    ]  # fmt: skip


def ends_meet() -> list[Case]:
    return [
        Case("ends-meet", "each finishes where the other starts, against it, as long as there are starts",
             beside("HOME line 1km; E60 line 1km", "E60 line 1km; HOME cylinder 3km", ("13:00", "13:00")),
             [(W, ("HOME",)), (W, ("E60",))],
             "The start of Club (C) at HOME and the finish of Open (O) at HOME share ground and face each other"),
        Case("ends-meet", "finishes from opposite sides",
             beside("E60 line 1km; HOME line 1km", "W40 line 1km; HOME line 1km"), [(W, ("HOME",))],
             "The finish of Club (C) at HOME and the finish of Open (O) at HOME share ground and face"),
        Case("ends-meet", "finishes from one side are as they should be",
             beside("E60 line 1km; HOME line 1km", "E67 line 1km; HOME line 1km")),
        Case("ends-meet", "starts at one place: a note",
             beside("HOME line 1km; E60 line 1km", "HOME line 1km; N60 line 1km"), [(N, ("HOME",))],
             "both can be there from 13:00 to 14:00"),
        Case("ends-meet", "starts at one place, two hours apart",
             beside("HOME line 1km; E60 line 1km", "HOME line 1km; N60 line 1km", ("12:00", "14:00"))),
        Case("ends-meet", "start lines 3.5 km apart",
             beside("E4 line 1km; E60 line 1km", "HOM2 line 1km; N60 line 1km")),
        Case("ends-meet", "unless 4 km are asked for",
             beside("E4 line 1km; E60 line 1km", "HOM2 line 1km; N60 line 1km", limits=Limits(separation_m=4000)),
             [(N, ("E4", "HOM2"))], "lie 3."),
    ]  # fmt: skip


def classes_meet() -> list[Case]:
    # Both are at HOME after 40 km, at 13:24 the first and at 14:24 the last; FROM_S30 after 30 km, from 13:18.
    through = "W40 line 1km; E60 line 1km"
    return [
        Case("classes-meet", "lines that cross, six minutes apart", beside(through, FROM_S30),
             [(N, ("W40", "E60", "S30", "N60"))],
             "cross at 90°, 0 m apart at the closest, 30.0 km from S30; both can be there from 13:24 to 14:18."),
        Case("classes-meet", "and as planned at one moment", beside(through, FROM_S30, ("13:00", "13:06")),
             [(W, ("W40", "E60", "S30", "N60"))], "and two flights as planned meet at 13:24."),
        Case("classes-meet", "three hours later", beside(through, FROM_S30, ("12:00", "16:00"))),
        Case("classes-meet", "when is not known", beside(through, FROM_S30, ("12:00", None))),
        Case("classes-meet", "lines that do not cross", beside(through, "N60 line 1km; NE40 line 1km")),
        Case("classes-meet", "the same way is a note", beside(ROUND, ROUND), [(N, ("HOME", "E60"))],
             "fly the same way"),
        Case("classes-meet", "what is opposed is told by its own rule", beside(ROUND, TURNED)),
    ]  # fmt: skip


MEETING_CASES = (opposing_legs, turn_from_both_sides, ends_meet, classes_meet)
