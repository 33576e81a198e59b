"""How finely a value was typed, and whether two statements of different fineness say the same."""

from __future__ import annotations

import pytest

from taskdb.core.history.finer import Said, elevation_said, position_said, settle
from taskdb.core.model import Position, Runway, Typed, Waypoint
from taskdb.core.notation import parse_position
from taskdb.core.notation.fineness import elevation_step_m, position_steps_e7

AT = Position.at(48.0, 11.0)


@pytest.mark.parametrize(
    ("latitude", "longitude", "notation", "step_e7"),
    [
        ("48.5", "11.5", "decimal-degrees", 1e6),
        ("48.500", "11.5", "decimal-degrees", 1e4),
        ("48,5000", "11,5", "decimal-degrees", 1e3),
        ("2.70e-05", "11.5", "decimal-degrees", 1),
        ("48°30.517′N", "011°20.4′E", "degrees-minutes", 1e7 / 60 / 1000),
        ("48°30′15″N", "011°20′03″O", "degrees-minutes-seconds", 1e7 / 3600),
        ("48", "11 20", "degrees-minutes", 1e7 / 60),
        ("4830.51N", "01120.40E", "packed-minutes", 1e7 / 60 / 100),
        ("4830517N", "01120400E", "packed-minutes", 1e7 / 60 / 1000),
        ("483015N", "0112003E", "packed-seconds", 1e7 / 3600),
        ("geo:47.26,11.34", None, "geo-uri", 1e5),
        ("+4715.600+01120.400/", None, "iso6709", 1e7 / 60 / 1000),
        ("32T 677007 5236726", None, "utm", 1e7 / 111_320),
        ("32TPT770367", None, "mgrs", 1e7 / 1113.2),
    ],
)
def test_the_last_digit_typed_is_the_step_of_a_position(latitude, longitude, notation, step_e7):
    steps = position_steps_e7(AT, Typed(latitude, longitude, notation))
    assert steps is not None and steps[0] == pytest.approx(step_e7, rel=1e-3)


@pytest.mark.parametrize(
    ("latitude", "longitude", "notation"),
    [
        ("48." + "9" * 400, "11." + "9" * 400, "decimal-degrees"),
        ("48°30." + "5" * 400 + "′N", "011°20." + "5" * 400 + "′E", "degrees-minutes"),
        ("48.5e-999", "11.5e-999", "decimal-degrees"),
        ("0e999", "0e+999", "decimal-degrees"),
        ("geo:47." + "2" * 400 + ",11." + "3" * 400, None, "geo-uri"),
        ("32T 677007." + "1" * 400 + " 5236726." + "1" * 400, None, "utm"),
    ],
)
def test_hundreds_of_digits_are_a_step_like_any_other(latitude, longitude, notation):
    steps = position_steps_e7(AT, Typed(latitude, longitude, notation))
    assert steps is None or all(0 < step < float("inf") for step in steps)
    assert elevation_step_m(464.0, Typed(elevation="464." + "0" * 400, elevation_unit="m")) == pytest.approx(
        0, abs=1e-200
    )


@pytest.mark.parametrize("typed", [None, Typed(), Typed("the mill", "by the brook", "decimal-degrees")])
def test_what_was_not_typed_or_cannot_be_read_has_no_step(typed):
    assert position_steps_e7(AT, typed) is None
    assert elevation_step_m(400.0, typed) is None


@pytest.mark.parametrize(
    ("elevation_m", "text", "unit", "step_m"),
    [
        (464.0, "464", "m", 1.0),
        (464.2, "1,523 ft", "ft", 0.3048),
        (464.5, "464,5", "m", 0.1),
        (1523.0, "1.523", "m", 1),
        (1312.5, "1.312,5", "m", 0.1),
        (-3.0, "-3", "m", 1.0),
    ],
)
def test_the_last_digit_typed_is_the_step_of_an_elevation(elevation_m, text, unit, step_m):
    assert elevation_step_m(elevation_m, Typed(elevation=text, elevation_unit=unit)) == pytest.approx(step_m)


@pytest.mark.parametrize(("text", "unit"), [("389", "m"), ("1312", "m"), ("389.1", None), ("", "m")])
def test_an_elevation_that_was_typed_otherwise_has_no_step(text, unit):
    assert elevation_step_m(389.1, Typed(elevation=text, elevation_unit=unit)) is None


def at(text: str, notation: str, elevation_m: float | None = None, typed: str | None = None, unit: str = "m"):
    latitude, _, longitude = text.partition(" / ")
    position = parse_position(f"{latitude} ; {longitude}")
    return Waypoint("1", "Mill", position, elevation_m, typed=Typed(latitude, longitude, notation, 0, typed, unit))


DECIMAL, MINUTES, SECONDS = "decimal-degrees", "degrees-minutes", "degrees-minutes-seconds"
FINE = at("48.508614 / 11.340021", DECIMAL)


@pytest.mark.parametrize(
    ("text", "notation"),
    [
        ("48.5086 / 11.3400", DECIMAL),
        ("48.5 / 11.3", DECIMAL),
        ("48°30.517′N / 011°20.401′E", MINUTES),
        ("48°30.5′N / 011°20.4′E", MINUTES),
        ("48°30′31″N / 011°20′24″E", SECONDS),
    ],
)
def test_a_coarser_statement_of_the_value_is_no_change_and_the_finer_one_no_move(text, notation):
    coarse = at(text, notation)
    assert position_said(FINE, coarse) is Said.COARSER
    assert position_said(coarse, FINE) is Said.FINER
    assert settle(FINE, coarse).waypoint.position == FINE.position
    assert settle(FINE, coarse).waypoint.typed == FINE.typed
    refined = settle(coarse, FINE)
    assert (refined.refined, refined.waypoint.position) == (("position",), FINE.position)


@pytest.mark.parametrize(
    ("text", "notation"),
    [
        ("48.5088 / 11.3400", DECIMAL),
        ("48.5 / 11.4", DECIMAL),
        ("48°30.516′N / 011°20.401′E", MINUTES),
        ("48°30.6′N / 011°20.4′E", MINUTES),
        ("48°30′32″N / 011°20′24″E", SECONDS),
        ("48.508615 / 11.340021", DECIMAL),
    ],
)
def test_what_rounding_does_not_cover_is_another_value_either_way(text, notation):
    other = at(text, notation)
    assert position_said(FINE, other) is position_said(other, FINE) is Said.OTHERWISE
    assert settle(FINE, other).waypoint.position == other.position


def test_a_number_that_may_have_lost_its_zeros_is_not_refined_by_its_own_rounding():
    # 47.391° is 47°23'27.6": whole seconds are finer than three decimals, and were made from them.
    exact, seconds = at("47.391 / 8.5", DECIMAL), at("47°23′28″N / 008°30′00″E", SECONDS)
    assert settle(exact, seconds).waypoint.position == exact.position


def test_a_metre_on_two_grids_is_no_change_either_way():
    utm = Waypoint("1", "Mill", parse_position("32U 706085 5417037"), typed=Typed("32U 706085 5417037", None, "utm"))
    mgrs = Waypoint("1", "Mill", parse_position("32UQV0608417036"), typed=Typed("32UQV0608417036", None, "mgrs"))
    assert position_said(utm, mgrs) is position_said(mgrs, utm) is Said.COARSER
    next_one = Waypoint(
        "1", "Mill", parse_position("32U 706086 5417037"), typed=Typed("32U 706086 5417037", None, "utm")
    )
    assert position_said(utm, next_one) is Said.OTHERWISE


def test_another_digit_in_another_spelling_of_a_notation_is_a_change():
    packed = at("4830.518N / 01120.401E", "packed-minutes")
    assert position_said(at("48°30.517′N / 011°20.401′E", MINUTES), packed) is Said.OTHERWISE


def test_rounding_meets_across_the_antimeridian():
    fine, coarse = at("-17.0000004 / 179.9999996", DECIMAL), at("17°00.0′S / 180°00.0′W", MINUTES)
    assert position_said(fine, coarse) is Said.COARSER


def test_a_position_that_nobody_typed_is_exact():
    kept = Waypoint("1", "Mill", Position.at(48.5086141, 11.3400212))
    assert position_said(kept, at("48°30.517′N / 011°20.401′E", MINUTES)) is Said.COARSER


def test_feet_and_metres_say_one_height():
    feet, metres = at("48.5 / 11.3", DECIMAL, 464.2, "1523", "ft"), at("48.5 / 11.3", DECIMAL, 464.0, "464")
    assert elevation_said(feet, metres) is Said.COARSER
    assert elevation_said(metres, feet) is Said.FINER
    assert settle(feet, metres).waypoint.elevation_m == 464.2
    assert settle(feet, metres).waypoint.typed.elevation_unit == "ft"
    assert elevation_said(feet, at("48.5 / 11.3", DECIMAL, 463.0, "463")) is Said.OTHERWISE
    assert elevation_said(metres, at("48.5 / 11.3", DECIMAL, 465.0, "465")) is Said.OTHERWISE


def test_runways_in_feet_and_metres_are_the_same_runways():
    grass = Runway("07/25", 71.0, 850.0, 30.0, "grass")
    in_feet = Runway("07/25", 71.0, 850.1, 29.9, "grass")
    mill = Waypoint("1", "Mill", AT)
    one, other = (Waypoint("1", "Mill", AT, runways=(runway,)) for runway in (grass, in_feet))
    assert settle(one, other).refined == ("runways",)
    assert settle(other, one).kept == ("runways",)
    assert settle(other, one).waypoint.runways == (in_feet,)
    longer = Waypoint("1", "Mill", AT, runways=(Runway("07/25", 71.0, 900.0, 30.0, "grass"),))
    assert settle(one, longer).waypoint.runways == longer.runways
    assert settle(mill, one).waypoint.runways == one.runways
