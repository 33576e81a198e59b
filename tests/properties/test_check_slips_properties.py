"""What holds for every slip: made on typed text it is explained, and the true place is among its origins."""

from __future__ import annotations

import random

from hypothesis import given, settings, strategies as st

from taskdb.core.checks.given import CheckInput, Reference
from taskdb.core.checks.rules import run_checks
from taskdb.core.checks.slip_join import WIDE_E7
from taskdb.core.checks.slips import TOLERANCE_E7, explain_difference, possible_origins
from taskdb.core.model import Position, Typed, Waypoint
from tests.benchmarks.checks_planted import CONFUSIONS, KINDS, read, shown, slip, type_out
from tests.benchmarks.checks_seasons import metres
from tests.unit.check_sets import GROUND, OUTLINES

NOTATIONS = ("decimal-degrees", "degrees-minutes", "degrees-minutes-seconds")
LATITUDES = st.floats(-84, 84, allow_nan=False)
LONGITUDES = st.floats(-179, 179, allow_nan=False)


def as_typed(latitude: float, longitude: float, notation: str) -> Position:
    lat, lon = type_out(latitude, notation, True), type_out(longitude, notation, False)
    return Position.at(read(lat, True) or 0.0, read(lon, False) or 0.0)


@settings(max_examples=300, deadline=None)
@given(LATITUDES, LONGITUDES, st.sampled_from(NOTATIONS), st.sampled_from((*KINDS, *CONFUSIONS)), st.integers(0, 10**6))
def test_a_slip_on_typed_text_is_explained(
    latitude: float, longitude: float, notation: str, kind: str, seed: int
) -> None:
    truth = as_typed(latitude, longitude, notation)
    wrong = slip(truth, notation, kind, random.Random(seed))
    if wrong is None:
        return
    lat, lon = read(wrong[0], True), read(wrong[1], False)
    if lat is None or lon is None or metres(Position.at(lat, lon), truth) < 300:
        return
    stands = Position.at(lat, lon)
    typed = Typed(shown(wrong[0]), shown(wrong[1]), notation)
    is_converted = kind in CONFUSIONS and CONFUSIONS[kind][1] != notation
    if is_converted and notation == "degrees-minutes-seconds":
        # Whole seconds no longer show all of the digits that were misread.
        return
    fit_e7 = WIDE_E7 if is_converted else TOLERANCE_E7
    assert explain_difference(stands, truth, typed, fit_e7) is not None
    near = [
        origin
        for origin in possible_origins(stands, typed)
        if abs(origin.mended.latitude_e7 - truth.latitude_e7) <= fit_e7
        and abs(origin.mended.longitude_e7 - truth.longitude_e7) <= fit_e7
    ]
    assert near


@settings(max_examples=100, deadline=None)
@given(LATITUDES, LONGITUDES, st.sampled_from((None, *NOTATIONS)))
def test_no_origin_is_the_place_itself_nor_off_the_globe(
    latitude: float, longitude: float, notation: str | None
) -> None:
    place = Position.at(latitude, longitude)
    for origin in possible_origins(place, Typed(notation=notation)):
        assert origin.mended != place
        assert abs(origin.mended.latitude_deg) <= 90
        assert -180 <= origin.mended.longitude_deg < 180
        assert origin.words


POINTS = st.lists(
    st.tuples(
        st.from_regex(r"[A-D][0-9]", fullmatch=True),
        st.sampled_from(("Hill", "Mill", "")),
        st.one_of(LATITUDES, st.just(90.0), st.just(0.0)),
        LONGITUDES,
    ),
    max_size=30,
    unique_by=lambda row: row[0],
)


@settings(max_examples=60, deadline=None)
@given(POINTS, POINTS, st.randoms(use_true_random=False))
def test_findings_do_not_depend_on_the_order_of_rows(mine: list, theirs: list, shuffler: random.Random) -> None:
    def findings(ours: list, others: list) -> tuple:
        checked, held = (
            tuple(Waypoint(code, name, Position.at(a, b)) for code, name, a, b in rows) for rows in (ours, others)
        )
        reference = Reference("last@1", "set", held)
        return run_checks(CheckInput("set", 1, checked, (reference,), outlines=OUTLINES, elevation=GROUND))

    first = findings(mine, theirs)
    shuffler.shuffle(mine)
    shuffler.shuffle(theirs)
    again = findings(mine, theirs)
    assert [(one.id, one.severity) for one in first] == [(one.id, one.severity) for one in again]
    assert len({one.id for one in first}) == len(first)
    codes = {row[0] for row in mine}
    assert all(set(one.codes) <= codes for one in first)


def test_poles_under_several_longitudes_are_checked() -> None:
    # Found at random, with the pole among the latitudes of POINTS.
    mine = (
        ("B6", 90.0, 0.0), ("D0", 0.0, -144.5769982), ("B3", 90.0, -1e-5), ("B0", 90.0, -172.8665319),
        ("D4", 90.0, 0.0), ("D3", 18.1772493, -2.00001), ("C9", 90.0, 0.0001008), ("B9", 0.0, 0.0), ("C7", 90.0, 1.5),
        ("D7", 90.0, 65.9193429), ("A5", 90.0, 0.0), ("A0", 0.0, 0.0), ("C4", 90.0, 0.0),
    )  # fmt: skip
    theirs = (
        ("B5", 90.0, -0.99999), ("C1", 90.0, 54.2351481), ("C6", 90.0, -168.0785853), ("D0", 0.0, 0.5),
        ("C0", 90.0, 1.1), ("A7", 0.0, 0.0), ("A4", 90.0, 0.0), ("A0", 90.0, 0.0),
    )  # fmt: skip
    checked, held = (tuple(Waypoint(c, "Hill", Position.at(x, y)) for c, x, y in rows) for rows in (mine, theirs))
    given = CheckInput("set", 1, checked, (Reference("last@1", "set", held),), outlines=OUTLINES, elevation=GROUND)
    assert run_checks(given)
