"""Reading tables of waypoints as ratios against the csv module: `python tests/benchmarks/intake.py [ROWS]`.

The floor reads the same bytes with csv.reader and turns two cells a row into numbers. Processor time, so that what
else runs on the machine counts less. Also told: bytes that the records take, and the other formats against the CSV.
"""

from __future__ import annotations

import csv
import io
import random
import statistics
import sys
import time
import tracemalloc
from collections.abc import Callable

from taskdb.core.model import Position, Waypoint
from taskdb.core.notation import Axis, Notation, format_angle
from taskdb.formats.registry import ReadOptions, read_set, write_set

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


def seconds(work: Callable[[bytes], None], content: bytes) -> float:
    times = []
    for _ in range(ROUNDS):
        start = time.process_time()
        work(content)
        times.append(time.process_time() - start)
    return statistics.median(times)


def main(rows: int) -> None:
    plain = table(rows, Notation.DECIMAL, 6)
    base = seconds(floor, plain)
    print(f"{rows:,} rows; floor (csv.reader and two floats) {base:.2f} s")
    for name, content in (
        ("decimal degrees", plain),
        ("degrees and minutes", table(rows, Notation.MINUTES, 3)),
        ("degrees, minutes, seconds", table(rows, Notation.SECONDS, 1)),
        ("packed seconds", table(rows, Notation.PACKED_SECONDS, 0)),
    ):
        taken = seconds(ours, content)
        print(f"{name:28} {taken:6.2f} s   {taken / base:5.2f} of the floor")
    few = max(rows // 20, 1)
    waypoints = [Waypoint(f"P{i}", f"Point {i}", Position.from_e7(i, -i), 500.0) for i in range(few)]
    for name in ("csv", "gpx", "kml", "geojson"):
        stream = io.BytesIO()
        start = time.process_time()
        write_set(stream, waypoints, name)
        wrote = time.process_time() - start
        taken = seconds(ours, stream.getvalue())
        print(f"{name:8} {few:,} waypoints: written in {wrote:.2f} s, read in {taken:.2f} s")
    tracemalloc.start()
    reading = read_set(io.BytesIO(plain), options=ReadOptions())
    size, _ = tracemalloc.get_traced_memory()
    print(f"records take {size / len(reading.records):.0f} bytes a row")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200_000)
