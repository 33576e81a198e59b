"""Cases for the rule on landable cover: the invented round of 60 km east and north, and fields beside it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from taskdb.core.judgement.cover import Terms, cover_course
from taskdb.core.judgement.fields import Fields
from taskdb.core.judgement.glide import Glide
from taskdb.core.model import Landable, Waypoint
from taskdb.core.quantities import Wind
from taskdb.core.review.limits import Limits
from tests.unit.review_examples import PLACES, ROUND, Case, N, W, later, reviewed

AROUND = ("HOME", "E60", "N60")


def fields(*codes: str, elevation_m: float | None = 300.0) -> Fields:
    points = [Waypoint(code, code, PLACES[code], elevation_m, Landable.FIELD) for code in codes]
    return Fields.of(points, [Landable.FIELD])


def _glided(*codes: str, wind: Wind | None = None, altitude_m: float = 1500.0, **given: Any) -> Any:
    """The round, glided in 1 in 30 (25 km in calm air) with fields at some of its points."""
    made = reviewed(ROUND, given=given)
    terms = Terms(Glide(30, 100, wind or Wind(0, 0)), altitude_m, f"{altitude_m:.0f}m MSL")
    cover = cover_course([point.place.position for point in made.task.points], fields(*codes), terms)
    return replace(made, cover=cover)


glided = later(_glided)


def out_of_glide() -> list[Case]:
    return [
        Case("out-of-glide", "no glide is asked for", later(reviewed)(ROUND)),
        # 1500 - 300 - 200 m make 30 km; the points lie 60 and 85 km apart, so that only the middle of the long leg
        # lies farther than that from both its ends.
        Case("out-of-glide", "fields at all points, and high enough", glided(*AROUND, altitude_m=2000.0)),
        Case("out-of-glide", "the middle of the long leg", glided(*AROUND), [(W, ())],
             "in reach from km 91.0 to km 114.0 (nearest N60 30.9 km, E60 31.0 km). Reckoned with 1 in 30"),
        Case("out-of-glide", "allowed by the contest: a note",
             glided(*AROUND, limits=Limits(cover_longest_out_m=25_000)), [(N, ())]),
        Case("out-of-glide", "a wind that holds up and helps", glided(*AROUND, wind=Wind(135, 30)), [(W, ())],
             "in wind 135°/30 km/h"),
        Case("out-of-glide", "no field at all", glided(), [(W, ())], "from km 0.0 to km 204"),
    ]  # fmt: skip
