"""How many slips the checks find alone, by terrain, without a reference; and how many good points they doubt.

Run `python -m tests.benchmarks.checks_terrain [SEEDS [DEM.npz]]`. The terrain is invented: ridged noise with a power
law as mountains have it, cut by valleys, in three sizes (Alps, hills, plains), and what is checked is a smoothed and
noisy copy of it, as models are. A DEM.npz (elevation, xmin, xmax, ymin, ymax, degrees) stands in for it: the figures
for real ground are of the 3 arc-second heights of 30 km of Tennessee's hills in matplotlib's sample data
(jacksboro_fault_dem.npz). The shipped grid is left out: it knows the real ground, not the invented. What is not known
of real lists is assumed: how far positions and elevations are off (see `_OFF_M`).
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import gaussian_filter, maximum_filter, minimum_filter

from taskdb.core.checks.given import CheckInput
from taskdb.core.checks.rules import run_checks
from taskdb.core.geodesy import distance_m
from taskdb.core.ground import GroundHeights
from taskdb.core.model import Feature, Landable, Position, Typed, Waypoint
from taskdb.reference.outlines import load_outlines
from taskdb.reference.terrain.bilinear import heights_between
from tests.benchmarks.checks_planted import KINDS, read, shown, slip, type_out
from tests.benchmarks.checks_seasons import SOURCES

POINTS, SLIPS = 1000, 40
SIZES_M = (500.0, 2_000.0, 5_000.0, 20_000.0, 100_000.0, 1e9)
RULES_OF_PLACE = {"off-terrain", "elevation-off", "outside-region", "outside-country", "null-island", "odd-form"}


@dataclass(frozen=True)
class Land:
    """A raster of true heights, the first row in the north, and the model of them that the checks are given."""

    truth: np.ndarray
    north: float
    west: float
    step: float
    ground: GroundHeights

    def somewhere(self, rng: random.Random) -> tuple[int, int]:
        """Return a cell of the middle: who has terrain has it for the surroundings of the set too."""
        rows, columns = (size // 6 if size > 1000 else 8 for size in self.truth.shape)
        return rng.randrange(rows, self.truth.shape[0] - rows), rng.randrange(columns, self.truth.shape[1] - columns)

    def cell(self, row: int, column: int) -> tuple[float, float]:
        return self.north - row * self.step, self.west + column * self.step


def land_of(truth: np.ndarray, north: float, west: float, step: float, seed: int, *, is_model: bool = False) -> Land:
    """Return the land with its model: smoothed and, like SRTM, off by some 5 m (sigma), more on slopes."""
    rng = np.random.default_rng(seed)
    model = truth
    if not is_model:
        slope = np.hypot(*np.gradient(truth)) / 90.0
        noise = 3.5 * gaussian_filter(rng.normal(0, 1, truth.shape), 1.0)
        model = gaussian_filter(truth, 0.7) + noise * (5 + 10 * slope)

    def heights_m(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
        row, column = (north - latitude) / step, (longitude - west) / step
        inside = (row >= 0) & (row <= truth.shape[0] - 1) & (column >= 0) & (column <= truth.shape[1] - 1)
        found = np.full(len(row), np.nan)
        found[inside] = heights_between(model, None, row[inside], column[inside])
        return found

    return Land(truth, north, west, step, GroundHeights("invented", step * 111_195.0, True, heights_m))


def invented(seed: int, relief_m: float, valley_km: float, floor: float) -> Land:
    """Return 3 by 3 degrees of ridges: noise of the power law of mountains (Hurst exponent 0.8) from `valley_km` on."""
    rng = np.random.default_rng(seed)
    side, step = 3601, 1 / 1200
    k = np.hypot(np.fft.fftfreq(side)[:, None], np.fft.rfftfreq(side)[None, :]) / 0.0925  # cycles a kilometre
    cut = 1 / valley_km
    spectrum = (k * k + cut * cut) ** -0.95
    noise = [np.fft.irfft2(spectrum * np.fft.rfft2(rng.normal(size=(side, side))), (side, side)) for _ in range(2)]
    one, two = (each / each.std() for each in noise)
    ridged = 1.0 - np.minimum(np.abs(one) / 1.6, 1.0) + 0.35 * two
    ridged = (ridged - np.quantile(ridged, 0.01)) / (np.quantile(ridged, 0.99) - np.quantile(ridged, 0.01))
    truth = np.where(ridged < floor, floor + (ridged - floor) * 0.12, ridged)
    return land_of(400.0 + relief_m * truth, 49.0, 9.5, step, seed)


def _site(land: Land, rng: random.Random, kind: str) -> tuple[int, int]:
    for _ in range(4000):
        row, column = land.somewhere(rng)
        window = land.truth[row - 3 : row + 4, column - 3 : column + 4]
        span = window.max() - window.min()
        around = land.truth[max(0, row - 20) : row + 21, max(0, column - 20) : column + 21]
        if kind == "field" and span < max(0.06 * np.ptp(around), 4.0) and land.truth[row, column] < np.median(around):
            return row, column
        if kind == "town" and span < max(0.3 * np.ptp(around), 15.0) and land.truth[row, column] < np.median(around):
            return row, column
        if kind == "summit":
            top = np.unravel_index(np.argmax(around), around.shape)
            return max(0, row - 20) + int(top[0]), max(0, column - 20) + int(top[1])
        if kind == "unknown":
            return row, column
    return land.somewhere(rng)


_OFF_M = {"field": (80.0, 3.0), "town": (120.0, 6.0), "summit": (50.0, 8.0), "unknown": (80.0, 6.0)}
"""How far positions and elevations are off, sigma. A top stands above its cell by 0 to 20 m."""


def a_point(land: Land, rng: random.Random, number: int) -> tuple[Waypoint, Position, str]:
    kind = rng.choices(("field", "town", "summit", "unknown"), (4, 3, 2, 1))[0]
    row, column = _site(land, rng, kind)
    off_m, height_m = _OFF_M[kind]
    elevation = land.truth[row, column] + rng.gauss(0, height_m) + (rng.uniform(0, 20) if kind == "summit" else 0)
    elevation = round(elevation, 0) if rng.random() < 0.7 else round(elevation / 3.048) * 3.048
    latitude, longitude = land.cell(row, column)
    latitude += rng.gauss(0, off_m) / 111_195
    longitude += rng.gauss(0, off_m) / 111_195 / np.cos(np.radians(latitude))
    what = {
        "field": {"landable": Landable.FIELD}, "town": {"feature": Feature.SETTLEMENT},
        "summit": {"feature": Feature.RELIEF}, "unknown": {},
    }[kind]  # fmt: skip
    source = rng.choice(sorted(SOURCES))
    point = Waypoint(f"P{number:04d}", f"Place {number}", Position.at(latitude, longitude), round(float(elevation), 1),
                     source=source, **what)  # fmt: skip
    truth = typed(point, SOURCES[source])
    return truth, truth.position, SOURCES[source]


def typed(point: Waypoint, notation: str, texts: tuple[list[str], list[str]] | None = None) -> Waypoint:
    place = point.position
    lat, lon = texts or (type_out(place.latitude_deg, notation, True), type_out(place.longitude_deg, notation, False))
    values = read(lat, True), read(lon, False)
    assert values[0] is not None and values[1] is not None
    decimals = len(lat[-1])
    return replace(point, position=Position.at(*values), typed=Typed(shown(lat), shown(lon), notation, decimals))


def measure(land: Land, seed: int, tally: Counter[str]) -> None:
    rng = random.Random(seed)
    rows = [a_point(land, rng, number) for number in range(POINTS)]
    points = [row[0] for row in rows]
    slipped: dict[str, tuple[float, Position, bool]] = {}
    for index in rng.sample(range(POINTS), SLIPS * 3):
        if len(slipped) == SLIPS:
            break
        point, truth, notation = rows[index]
        texts = slip(truth, notation, rng.choice(KINDS), rng)
        if texts is None or read(texts[0], True) is None or read(texts[1], False) is None:
            continue
        wrong = typed(point, notation, texts)
        moved = distance_m(wrong.position, truth)
        if moved > SIZES_M[0]:
            points[index] = wrong
            slipped[point.code] = (moved, truth, land.ground.at(wrong.position) is not None)
    given = CheckInput("set", 1, tuple(points), outlines=load_outlines(), terrain=land.ground)
    told: dict[str, list] = {}
    for finding in run_checks(given):
        if finding.rule in RULES_OF_PLACE and len(finding.codes) == 1:
            told.setdefault(finding.codes[0], []).append(finding)
    for code, (moved, truth, is_on_ground) in slipped.items():
        size = next(f"below {high / 1000:g} km" for high in SIZES_M[1:] if moved < high)
        for key in (size, "all", *(["on the terrain"] if is_on_ground else [])):
            tally[f"slips {key}"] += 1
            found = told.get(code, [])
            tally[f"found {key}"] += bool(found)
            mends = [mend for finding in found for mend in (finding.suggestion, *finding.alternatives) if mend]
            near = [mend.position is not None and distance_m(mend.position, truth) < 300 for mend in mends]
            tally[f"first {key}"] += bool(near and near[0])
            tally[f"offered {key}"] += any(near)
    good = [point.code for point in points if point.code not in slipped]
    tally["good"] += len(good)
    tally["false"] += sum(code in told for code in good)


def report(title: str, tally: Counter[str]) -> None:
    each = 1000 * tally["false"] / tally["good"]
    print(f"{title}: {tally['false']} of {tally['good']} good points told, {each:.1f} per 1,000")
    for key in ("all", "on the terrain", *(f"below {high / 1000:g} km" for high in SIZES_M[1:])):
        slips = tally[f"slips {key}"]
        if slips:
            found, first, offered = (100 * tally[f"{what} {key}"] / slips for what in ("found", "first", "offered"))
            told = f"found {found:.0f} %, mend first {first:.0f} %, mend offered {offered:.0f} %"
            print(f"  slips {key:>16}: {slips:4d}, {told}")


LANDS = {"Alps": (2400.0, 40.0, 0.3), "hills": (450.0, 25.0, 0.2), "plains": (40.0, 12.0, 0.2)}
"""How high, how wide from ridge to ridge (km, twice), and from which share of the height on valleys are filled up."""


def describe(title: str, land: Land) -> None:
    window = maximum_filter(land.truth, 22) - minimum_filter(land.truth, 22)
    slope = np.degrees(np.arctan(np.median(np.hypot(*np.gradient(land.truth))) / 80))
    within, sigma = np.median(window), land.truth.std()
    print(f"{title}: relief within 1 km {within:.0f} m (median), sigma {sigma:.0f} m, slope {slope:.0f}° (median)")


def real_land(path: str, seed: int) -> Land:
    with np.load(path) as held:
        north = max(float(held["ymax"]), float(held["ymin"]))
        return land_of(
            held["elevation"].astype(float), north, float(held["xmin"]), float(held["dx"]), seed, is_model=True
        )


def main(words: list[str]) -> None:
    seeds = int(words[0]) if words else 4
    if len(words) > 1:
        tally: Counter[str] = Counter()
        for seed in range(seeds):
            measure(real_land(words[1], seed), seed, tally)
        describe("real hills", real_land(words[1], 0))
        report("real hills", tally)
        return
    for title, (relief_m, valley_km, floor) in LANDS.items():
        tally = Counter()
        for seed in range(seeds):
            land = invented(seed, relief_m, valley_km, floor)
            if seed == 0:
                describe(title, land)
            measure(land, seed, tally)
        report(title, tally)


if __name__ == "__main__":
    main(sys.argv[1:])
