"""Floors and ceilings: what is read, what is refused, and when a volume is in the way of flying up to an altitude."""

from __future__ import annotations

import pytest

from taskdb.core.airspace.heights import (
    FlownHeights,
    Verdict,
    altitudes_m,
    limits_problem,
    parse_limit,
    pressure_shift_m,
    verdict,
)
from taskdb.core.airspace.volume import GROUND, UNLIMITED, Kind, Limit, Reference, Volume
from taskdb.errors import UsageError

# Units and references: ICAO Annex 5 (1 ft = 0.3048 m) and Annex 15 (limits as altitude, height or flight level), the
# forms F085, A045, S1130, M0840 of Doc 4444 (PANS-ATM), all from memory; spellings beyond them: common practice.
READ = [
    ("GND", None, Reference.GND, "GND"),
    ("sfc", None, Reference.GND, "GND"),
    ("0ft AGL", None, Reference.GND, "GND"),
    ("UNL", None, Reference.UNL, "UNL"),
    ("Unlimited", None, Reference.UNL, "UNL"),
    ("1500ft MSL", 457.2, Reference.MSL, "1500ft MSL"),
    ("1500 FT AMSL", 457.2, Reference.MSL, "1500ft MSL"),
    ("1500 ft  ALT", 457.2, Reference.MSL, "1500ft MSL"),
    ("MSL 1500 ft", 457.2, Reference.MSL, "1500ft MSL"),
    ("01500ft MSL", 457.2, Reference.MSL, "1500ft MSL"),
    ("800m AGL", 800.0, Reference.AGL, "800m AGL"),
    ("800 m above GND", 800.0, Reference.AGL, "800m AGL"),
    ("1000ft ASFC", 304.8, Reference.AGL, "1000ft AGL"),
    ("304.8m MSL", 304.8, Reference.MSL, "304.8m MSL"),
    ("FL95", 2895.6, Reference.FL, "FL095"),
    ("fl 095", 2895.6, Reference.FL, "FL095"),
    ("9500ft STD", 2895.6, Reference.FL, "9500ft STD"),
    ("F085", 2590.8, Reference.FL, "FL085"),
    ("A045", 1371.6, Reference.MSL, "4500ft MSL"),
    ("S1130", 11300.0, Reference.FL, "11300m STD"),
    ("M0840", 8400.0, Reference.MSL, "8400m MSL"),
]


@pytest.mark.parametrize(("text", "metres", "reference", "canonical"), READ)
def test_a_limit_is_read_with_its_unit_and_reference(
    text: str, metres: float | None, reference: Reference, canonical: str
) -> None:
    limit = parse_limit(text)
    assert limit == Limit(metres, reference, canonical)
    assert parse_limit(limit.text) == limit


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("1500", "missing-unit"), ("1.500", "missing-unit"), ("95", "missing-unit"), ("1500ft", "missing-reference"),
        ("450 m", "missing-reference"), ("1500 MSL", "bad-height"), ("1,500ft MSL", "bad-height"), ("", "bad-height"),
        ("FL1234", "bad-height"), ("-100ft MSL", "bad-height"), ("ask the tower", "bad-height"),
        ("1500ft QFE", "bad-height"), ("999999m MSL", "bad-height"), ("A45", "bad-height"),
        ("１５００ft MSL", "bad-height"),
    ],
)  # fmt: skip
def test_what_may_mean_several_heights_is_refused(text: str, code: str) -> None:
    with pytest.raises(UsageError) as refused:
        parse_limit(text)
    assert refused.value.code == code
    assert refused.value.hint


def _volume(floor: str, ceiling: str = "UNL") -> Volume:
    square = [(0, 0), (10_000_000, 0), (10_000_000, 10_000_000), (0, 10_000_000), (0, 0)]
    return Volume.of("X", Kind.RESTRICTED, parse_limit(floor), parse_limit(ceiling), [[square]])


CLEAR, CONFLICT, UNDECIDED = Verdict.CLEAR, Verdict.CONFLICT, Verdict.UNDECIDED
UP_TO_1500 = FlownHeights(1500.0)


@pytest.mark.parametrize(
    ("floor", "ceiling", "flown", "told"),
    [
        ("GND", "UNL", UP_TO_1500, CONFLICT),
        ("GND", "UNL", FlownHeights(), CONFLICT),
        ("1501m MSL", "UNL", UP_TO_1500, CLEAR),
        ("1500m MSL", "UNL", UP_TO_1500, CONFLICT),
        ("1499m MSL", "UNL", UP_TO_1500, CONFLICT),
        ("1501m MSL", "UNL", FlownHeights(), UNDECIDED),
        # 5000 ft are 1524 m, and 1524 ft are not: the unit is read.
        ("5000ft MSL", "UNL", UP_TO_1500, CLEAR),
        ("4900ft MSL", "UNL", UP_TO_1500, CONFLICT),
        # Never clear without the ground, however high; with it the whole range decides.
        ("3000m AGL", "UNL", UP_TO_1500, UNDECIDED),
        ("1000m AGL", "UNL", FlownHeights(1500.0, ground_m=(501, 900)), CLEAR),
        ("1000m AGL", "UNL", FlownHeights(1500.0, ground_m=(300, 500)), CONFLICT),
        ("1000m AGL", "UNL", FlownHeights(1500.0, ground_m=(300, 900)), UNDECIDED),
        ("FL245", "UNL", UP_TO_1500, UNDECIDED),
        ("FL065", "UNL", FlownHeights(1900.0, qnh_hpa=(1013.25, 1013.25)), CLEAR),  # 1981 m
        ("FL065", "UNL", FlownHeights(1900.0, qnh_hpa=(995.0, 995.0)), CONFLICT),  # about 1829 m
        ("FL065", "UNL", FlownHeights(1900.0, qnh_hpa=(995.0, 1013.25)), UNDECIDED),
        # A ceiling below the lowest ground is no air at all; one that flies through it is.
        ("GND", "300m MSL", FlownHeights(1500.0, ground_m=(301, 500)), CLEAR),
        ("GND", "300m MSL", UP_TO_1500, CONFLICT),
    ],
)
def test_flying_from_the_ground_to_the_working_altitude_meets_a_volume_or_not(
    floor: str, ceiling: str, flown: FlownHeights, told: Verdict
) -> None:
    assert verdict(_volume(floor, ceiling), flown) is told


def test_a_flight_level_moves_with_the_pressure_as_altimeters_do() -> None:
    # ICAO Doc 7488, as commonly rounded: 27 to 28 ft a hPa near sea level (from memory).
    assert pressure_shift_m(1013.25) == 0.0
    assert 27.0 < (pressure_shift_m(1014.25) / 0.3048) < 28.0
    # The standard atmosphere has 1000 hPa at 111 m (tables of Doc 7488, from memory): QNH 1000 lowers levels by it.
    assert pressure_shift_m(1000.0) == pytest.approx(-110.9, abs=0.5)
    assert altitudes_m(parse_limit("FL095"), FlownHeights(qnh_hpa=(1000.0, 1000.0))) == pytest.approx(
        (2784.7,) * 2, abs=1
    )


@pytest.mark.parametrize(
    ("floor", "ceiling", "words"),
    [
        ("GND", "UNL", None), ("1000ft MSL", "FL010", None), ("2000ft AGL", "1000ft MSL", None),
        ("UNL", "UNL", "unlimited"), ("GND", "GND", "the ground"), ("1000ft MSL", "1000ft AMSL", "the same"),
        ("FL095", "FL065", "above its ceiling"), ("300m AGL", "900ft AGL", "above its ceiling"),
    ],
)  # fmt: skip
def test_limits_that_cannot_be_one_volumes_are_told(floor: str, ceiling: str, words: str | None) -> None:
    problem = limits_problem(parse_limit(floor), parse_limit(ceiling))
    assert problem is None if words is None else words in (problem or "")


def test_the_plain_words_stand_for_the_limits_that_are_missing() -> None:
    assert parse_limit("GND") is GROUND
    assert parse_limit("UNL") is UNLIMITED
