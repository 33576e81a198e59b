"""Reading tables of waypoints as ratios against the csv module: `python -m tests.benchmarks.intake [ROWS]`.

The floor reads the same bytes with csv.reader and turns two cells a row into numbers. Processor time, so that what
else runs on the machine counts less. Also told: bytes that the records take, and the other formats against the CSV.
"""

from __future__ import annotations

import csv
import io
import random
import sys
import tracemalloc

from taskdb.core.model import Position, Waypoint
from taskdb.core.notation import Axis, Notation, format_angle
from taskdb.formats.registry import ReadOptions, read_set, write_set
from tests.benchmarks.figures import Figure, median_s, seconds, told

ROUNDS = 3


def table(rows: int, notation: Notation, decimals: int) -> bytes:
    chance = random.Random(1)
    lines = ["code,name,lat,lon,elevation_m,country"]
    for i in range(rows):
        north, east = chance.randint(400_000_000, 550_000_000), chance.randint(-50_000_000, 200_000_000)
        latitude = format_angle(north, Axis.LATITUDE, notation, decimals)
        longitude = format_angle(east, Axis.LONGITUDE, notation, decimals)
        lines.append(f"P{i:06d},Point number {i},{latitude},{longitude},{chance.randint(0, 3000)},DE")
    return ("\r\n".join(lines) + "\r\n").encode()


def floor(content: bytes) -> None:
    text = io.TextIOWrapper(io.BytesIO(content), "utf-8", newline="")
    reader = csv.reader(text)
    next(reader)
    kept = [(row[0], row[1], float(row[2]), float(row[3])) for row in reader]
    assert kept


def ours(content: bytes) -> None:
    reading = read_set(io.BytesIO(content), options=ReadOptions())
    assert not reading.problems and len(reading.records) == reading.read


def figures(rows: int = 200_000) -> list[Figure]:
    plain = table(rows, Notation.DECIMAL, 6)
    base, said = median_s(lambda: floor(plain), ROUNDS), "csv.reader and two floats"
    made = []
    for name, content in (
        ("decimal degrees", plain),
        ("degrees and minutes", table(rows, Notation.MINUTES, 3)),
        ("degrees, minutes, seconds", table(rows, Notation.SECONDS, 1)),
        ("packed seconds", table(rows, Notation.PACKED_SECONDS, 0)),
    ):
        taken = median_s(lambda: ours(content), ROUNDS)  # noqa: B023
        made.append(Figure(f"{rows:,} rows of a CSV file read, {name}", taken, "s", said, base))
    few = max(rows // 20, 1)
    waypoints = [Waypoint(f"P{i}", f"Point {i}", Position.from_e7(i, -i), 500.0) for i in range(few)]
    for name in ("csv", "gpx", "kml", "geojson"):
        stream = io.BytesIO()
        wrote = seconds(lambda: write_set(stream, waypoints, name))  # noqa: B023
        taken = median_s(lambda: ours(stream.getvalue()), ROUNDS)  # noqa: B023
        made.append(Figure(f"{few:,} waypoints written as {name}", wrote, "s", f"{said}, {rows:,} rows", base))
        made.append(Figure("the same read", taken, "s", f"{said}, {rows:,} rows", base))
    tracemalloc.start()
    reading = read_set(io.BytesIO(plain), options=ReadOptions())
    size, _ = tracemalloc.get_traced_memory()
    made.append(Figure("memory of the records, a row", size / len(reading.records), "bytes"))
    return made


if __name__ == "__main__":
    told(figures(*map(int, sys.argv[1:])))
