"""Where two tasks come near each other, against a judge that looks at dense samples of both and knows no search.

The judge lays samples along geodesics (pyproj's Geod) and measures chords between earth-centred positions, bent to arcs
of the mean radius; on up to 100 km that is within 0.2 m of the geodesic. Nothing of it is shared with the code.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import pytest
from pyproj import Geod

from taskdb.core.course.schedule import Extent
from taskdb.core.geodesy import destination
from taskdb.core.judgement.approach import Band, FlownLeg, closest, side_by_side
from taskdb.core.judgement.meeting import DayTask, Kind
from taskdb.core.judgement.presence import Presence, Times
from taskdb.core.judgement.together import meetings
from taskdb.core.model import Position
from tests import building

SEED = 20271202
GEOD = Geod(ellps="WGS84")
E2 = 0.00669437999014


@dataclass
class Samples:
    """A leg as many places: shares of its length, positions in space, longitudes and latitudes, courses."""

    share: np.ndarray
    places: np.ndarray
    courses: np.ndarray
    length_m: float

    @property
    def step_m(self) -> float:
        return self.length_m / (len(self.share) - 1)


def sampled(a: Position, b: Position, count: int) -> Samples:
    bearing, _, length = GEOD.inv(a.longitude_deg, a.latitude_deg, b.longitude_deg, b.latitude_deg)
    share = np.linspace(0, 1, count)
    lon, lat, back = GEOD.fwd(
        np.full(count, a.longitude_deg), np.full(count, a.latitude_deg), np.full(count, bearing), share * length
    )
    phi, lam = np.radians(lat), np.radians(lon)
    normal = 6378137 / np.sqrt(1 - E2 * np.sin(phi) ** 2)
    places = np.stack(
        [normal * np.cos(phi) * np.cos(lam), normal * np.cos(phi) * np.sin(lam), normal * (1 - E2) * np.sin(phi)]
    )
    return Samples(share, places, back + 180, length)


def apart_m(a: Samples, b: Samples) -> np.ndarray:
    square = np.sum(a.places**2, axis=0)[:, None] + np.sum(b.places**2, axis=0)[None, :] - 2 * a.places.T @ b.places
    return 2 * 6371000 * np.arcsin(np.minimum(np.sqrt(np.maximum(square, 0)) / 2 / 6371000, 1))


def off_the_line_m(a: Samples, b: Samples, nearest: np.ndarray) -> np.ndarray:
    """How far each sample of a leg lies from the line through the other's samples, by the chords at the nearest one."""
    found = np.full(len(a.share), np.inf)
    for side in (-1, 0):
        begin = np.clip(nearest + side, 0, len(b.share) - 2)
        start, chord = b.places[:, begin], b.places[:, begin + 1] - b.places[:, begin]
        part = np.clip(np.sum((a.places - start) * chord, axis=0) / np.sum(chord * chord, axis=0), 0, 1)
        found = np.minimum(found, np.linalg.norm(a.places - start - part * chord, axis=0))
    return found


def in_time(a: Samples, b: Samples, band: Band, other: Band, within_min: float) -> np.ndarray:
    firsts = [one.from_start + s.share * (one.from_end - one.from_start) for one, s in ((band, a), (other, b))]
    lasts = [one.to_start + s.share * (one.to_end - one.to_start) for one, s in ((band, a), (other, b))]
    is_early = firsts[0][:, None] - within_min <= lasts[1][None, :]
    return is_early & (firsts[1][None, :] - within_min <= lasts[0][:, None])


def random_legs(draw: random.Random) -> tuple[tuple[Position, Position], tuple[Position, Position]]:
    """Two legs in one region: crossing, touching, along each other, turned round, one of them without length."""
    longitude = draw.choice([draw.uniform(-180, 180), 179.95])
    home, km = Position.at(draw.uniform(-70, 70), longitude), draw.choice([5, 60, 150, 400])

    def spot() -> Position:
        return destination(home, draw.uniform(0, 360), draw.uniform(0, km) * 1000)

    def beside(place: Position) -> Position:
        return destination(place, draw.uniform(0, 360), draw.uniform(0, 4000))

    a = (spot(), spot())
    kind = draw.choice(["any", "any", "turned", "touching", "no length", "along", "along", "against"])
    others = {
        "any": (spot(), spot()),
        "turned": (a[1], a[0]),
        "touching": (a[1], spot()),
        "no length": (beside(a[0]),) * 2,
        "along": (beside(a[0]), beside(a[1])),
        "against": (beside(a[1]), beside(a[0])),
    }
    return a, others[kind]


def random_band(draw: random.Random) -> Band:
    begins, flown, starts = draw.uniform(0, 200), draw.uniform(5, 100), draw.choice([0, 60])
    return Band(begins, begins + starts, begins + flown, begins + flown + starts + draw.choice([0, 30]))


def test_two_legs_are_nearest_where_dense_samples_are() -> None:
    draw = random.Random(SEED)
    for _ in range(130):
        a, b = random_legs(draw)
        first, second = sampled(*a, 400), sampled(*b, 400)
        found = closest(FlownLeg.between(*a), FlownLeg.between(*b))
        assert found is not None
        least = float(apart_m(first, second).min())
        # Nothing that was sampled is nearer, and the nearest sample is no further off than samples are apart.
        assert found.apart_m <= least + 0.5
        assert least - found.apart_m <= (first.step_m + second.step_m) / 2 + 0.5


def test_two_legs_in_time_are_nearest_where_dense_samples_are() -> None:
    draw = random.Random(SEED + 1)
    met = 0
    for _ in range(130):
        a, b = random_legs(draw)
        band, other, within = random_band(draw), random_band(draw), draw.choice([1.0, 10.0])
        first, second = sampled(*a, 400), sampled(*b, 400)
        can = in_time(first, second, band, other, within)
        found = closest(FlownLeg.between(*a, band), FlownLeg.between(*b, other), within)
        if found is None:
            assert not can.any()
            continue
        met += 1
        leg_a, leg_b = FlownLeg.between(*a, band), FlownLeg.between(*b, other)
        (begin, end), (other_begin, other_end) = leg_a.times(found.along_a_m), leg_b.times(found.along_b_m)
        assert begin - within <= other_end + 1e-6 and other_begin - within <= end + 1e-6
        if can.any():
            least = float(apart_m(first, second)[can].min())
            assert found.apart_m <= least + 0.5
            # A sample next to the best pair may be out of time: then the one behind it counts.
            assert least - found.apart_m <= 2 * (first.step_m + second.step_m) + 0.5
    assert met > 60


def test_legs_are_beside_each_other_where_dense_samples_are() -> None:
    draw = random.Random(SEED + 2)
    told = 0
    for _ in range(120):
        a, _ = random_legs(draw)
        bend = [destination(place, draw.uniform(0, 360), draw.uniform(0, 3000)) for place in a]
        b = (bend[1], bend[0]) if draw.random() < 0.7 else (bend[0], bend[1])
        within = draw.choice([500.0, 1500.0, 4000.0])
        first, second = sampled(*a, 900), sampled(*b, 900)
        if min(first.length_m, second.length_m) < 8000:
            continue
        nearest = apart_m(first, second).argmin(axis=1)
        off = off_the_line_m(first, second, nearest)
        beside = (off <= within) & (nearest > 0) & (nearest < len(second.share) - 1)
        found = side_by_side(FlownLeg.between(*a), FlownLeg.between(*b), within)
        if found is None:
            assert beside.sum() <= 2
            continue
        told += 1
        where = np.flatnonzero(beside) * first.step_m
        # An end is known to a metre on the leg; a sample on either side of it may be out.
        assert found[0] == pytest.approx(where[0], abs=first.step_m * 2 + 2)
        assert found[1] == pytest.approx(where[-1], abs=first.step_m * 2 + 2)
    assert told > 40


# -- whole tasks -------------------------------------------------------------------------------------------------------

SEPARATION_M, SEPARATION_S = 1500.0, 600.0


def random_day_task(draw: random.Random, name: str, spots: list[Position]) -> DayTask:
    """A racing task over some of the spots with a band of times: from 80 to 140 km/h, started within an hour."""
    path = tuple(draw.sample(spots, draw.choice([3, 4, 5])))
    made = building.task(
        *((building.place(spot, f"{spots.index(spot):03d}"), "cylinder 500m") for spot in path), name=name
    )
    opens, slow, fast = draw.uniform(700, 860), draw.uniform(80, 100), draw.uniform(110, 140)
    lengths = [GEOD.inv(p.longitude_deg, p.latitude_deg, q.longitude_deg, q.latitude_deg)[2] for p, q in pairwise(path)]
    after = [sum(lengths[:n]) / 1000 * 60 for n in range(len(path))]
    times = Times(
        tuple(opens + one / fast for one in after),
        tuple(opens + 60 + one / slow for one in after),
        tuple(opens + one / 105 for one in after),
        105.0,
    )
    return DayTask(name, name, replace(made, class_name=name), (Presence(Extent.TASK, path, times),))


def bands(one: DayTask) -> list[Band]:
    times = one.ways[0].times
    assert times is not None
    return [Band(times.earliest[n], times.latest[n], times.earliest[n + 1], times.latest[n + 1]) for n in
            range(len(times.earliest) - 1)]  # fmt: skip


def judged(a: DayTask, b: DayTask) -> tuple[set[tuple[int, int]], set[tuple[int, int]]]:
    """The judge: pairs of legs that surely are opposed for a stretch at one time, and pairs that surely are not."""
    surely, surely_not = set(), set()
    paths = a.ways[0].path, b.ways[0].path
    for n, band in enumerate(bands(a)):
        for m, other in enumerate(bands(b)):
            first, second = sampled(*paths[0][n : n + 2], 500), sampled(*paths[1][m : m + 2], 500)
            off = apart_m(first, second)
            nearest = off.argmin(axis=1)
            is_beside = (nearest > 0) & (nearest < len(second.share) - 1) & (off.min(axis=1) <= SEPARATION_M)
            shared = int(is_beside.sum()) * first.step_m
            can = in_time(first, second, band, other, SEPARATION_S / 60) & is_beside[:, None]
            least = float(np.where(can, off, np.inf).min())
            if shared < 5 * SEPARATION_M - 200 or least > SEPARATION_M + 20:
                surely_not.add((n, m))
                continue
            i, j = np.unravel_index(np.argmin(np.where(can, off, np.inf)), off.shape)
            angle = abs((first.courses[i] - second.courses[j] + 180) % 360 - 180)
            if angle < 148:
                surely_not.add((n, m))
            elif angle > 152 and shared > 5 * SEPARATION_M + 200 and least < SEPARATION_M - 20:
                surely.add((n, m))
    return surely, surely_not


def test_opposed_legs_are_those_of_dense_samples() -> None:
    draw = random.Random(SEED + 3)
    told, passed_by = 0, 0
    for _ in range(50):
        home = Position.at(draw.uniform(-60, 60), draw.choice([10.0, 179.9]))
        spots = [destination(home, draw.uniform(0, 360), draw.uniform(5, 60) * 1000) for _ in range(6)]
        a, b = random_day_task(draw, "A", spots), random_day_task(draw, "B", spots)
        surely, surely_not = judged(a, b)
        found = {one.numbers for one in meetings(a, b, SEPARATION_M, SEPARATION_S) if one.kind is Kind.OPPOSED}
        assert surely <= found
        assert not found & surely_not
        told += len(found)
        passed_by += len(surely_not)
    assert told > 12 and passed_by > 200


def test_what_is_told_of_two_planned_flights_is_what_a_clock_shows() -> None:
    draw = random.Random(SEED + 4)
    told = 0
    for _ in range(80):
        home = Position.at(draw.uniform(-60, 60), draw.choice([10.0, 179.9]))
        spots = [destination(home, draw.uniform(0, 360), draw.uniform(5, 60) * 1000) for _ in range(5)]
        a, b = random_day_task(draw, "A", spots), random_day_task(draw, "B", spots)
        for meeting in meetings(a, b, SEPARATION_M, SEPARATION_S):
            if meeting.planned is None:
                continue
            told += 1
            least, then = by_the_clock(a, b, meeting.numbers, meeting.planned.at_min)
            assert meeting.planned.apart_m <= least + 0.5
            assert least - meeting.planned.apart_m <= 110 * 2 / 3.6 * 3  # both fly on for three seconds at most
            assert then == pytest.approx(meeting.planned.apart_m, abs=0.5)
    assert told > 20


def by_the_clock(a: DayTask, b: DayTask, numbers: tuple[int, int], at_min: float) -> tuple[float, float]:
    """The judge: how near both flights come, looked at every three seconds while both are on these legs; and then."""
    places, spans = [], []
    for one, n in zip((a, b), numbers, strict=True):
        times = one.ways[0].times
        assert times is not None
        spans.append((times.planned[n], times.planned[n + 1]))
        places.append(one.ways[0].path[n : n + 2])
    begin, end = max(span[0] for span in spans), min(span[1] for span in spans)
    clock = np.append(np.arange(begin, end, 0.05), at_min)
    found = []
    for (start, stop), (p, q) in zip(spans, places, strict=True):
        bearing, _, length = GEOD.inv(p.longitude_deg, p.latitude_deg, q.longitude_deg, q.latitude_deg)
        flown = (clock - start) / (stop - start) * length
        full = [np.full(len(clock), value) for value in (p.longitude_deg, p.latitude_deg, bearing)]
        found.append(GEOD.fwd(*full, flown))
    apart = GEOD.inv(found[0][0], found[0][1], found[1][0], found[1][1])[2]
    return float(apart.min()), float(apart[-1])


def test_nobody_meets_a_task_in_another_country() -> None:
    draw = random.Random(SEED + 5)
    spots = [destination(Position.at(50, 10), draw.uniform(0, 360), draw.uniform(5, 60) * 1000) for _ in range(5)]
    far = [destination(Position.at(40, -3), draw.uniform(0, 360), draw.uniform(5, 60) * 1000) for _ in range(5)]
    assert meetings(random_day_task(draw, "A", spots), random_day_task(draw, "B", far), 1000.0, 600.0) == ()
