"""A day of flights as files: logs of an invented club round a task of the demo's region, with headers that name names.

Whoever flew and in what is invented; each name, mark and number is one of `SECRETS`, and none may come out of taskdb.

    python -m tests.logbook             writes the demo's own logs, demo/flights: a fix every 40 s and no names
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from pathlib import Path

from tests.flying import Spot, Way, away, log

ORMSAU: Spot = (48.872, 11.8105)
GREIFENLOHE: Spot = (48.631, 12.326)
TANNWOEHR: Spot = (49.051, 12.473)
COURSE = (ORMSAU, GREIFENLOHE, TANNWOEHR, ORMSAU)
"""Task A1 of the tests: 001, 004, 003, 001."""

SECRETS = ("Zarathustra", "Quillon", "D-9Q71", "9Q71", "QX7", "K7J")
"""A pilot, a second one, the glider's mark, its competition sign, the recorder's number."""


def head(date: str = "140627") -> tuple[str, ...]:
    """Return headers that say all that headers can say of who flew."""
    return (
        "AXXXK7J invented", f"HFDTE{date}", "HFPLTPILOTINCHARGE:Zarathustra", "HFCM2CREW2:Quillon",
        "HFGTYGLIDERTYPE:Wood", "HFGIDGLIDERID:D-9Q71", "HFCIDCOMPETITIONID:QX7", "HFDTM100GPSDATUM:WGS84",
        "LXXXPILOT Zarathustra",
    )  # fmt: skip


def flight(
    course: Sequence[Spot] = COURSE,
    *,
    at_s: float = 36_000.0,
    speed_m_s: float = 30.0,
    legs: int | None = None,
    stand_at: Spot | None = None,
    land_at: Spot | None = None,
    date: str = "140627",
    interval_s: float = 10.0,
    elevation_m: float = 389.0,
) -> bytes:
    """Return the log of a flight that stands 5 minutes, flies round a course, and stands 5 minutes where it landed.

    `legs` cuts it off in the middle of the leg that would come next; it lands there, or at `land_at`.
    """
    stand = stand_at or away(course[0], 300.0, 400.0)
    way = Way(stand, at_s)
    way.heights[0] = elevation_m
    way.stand(300).to(away(course[0], 300.0, 6_000.0), 25.0, 1200.0).to(course[0], speed_m_s)
    whole = len(course) - 1
    for spot in course[1 : 1 + (whole if legs is None else legs)]:
        way.to(spot, speed_m_s)
    if legs is not None and legs < whole:
        before, after = course[legs], course[legs + 1]
        way.to(((before[0] + after[0]) / 2, (before[1] + after[1]) / 2), speed_m_s)
    way.to(land_at or way.spots[-1], 25.0, elevation_m).stand(300)
    return log(way.fixes(interval_s), head(date))


def day_of_flights() -> dict[str, bytes]:
    """Return the logs of a day under the names that clubs find them by: three finish, one ends after the first turn."""
    home = away(ORMSAU, 300.0, 400.0)
    return {
        "76EXK7J1.IGC": flight(at_s=36_000.0, speed_m_s=30.0, land_at=home),
        "2027-06-14-XXX-K7J-02.igc": flight(at_s=37_000.0, speed_m_s=25.0, land_at=home),
        "D-9Q71.igc": flight(at_s=38_000.0, speed_m_s=28.0, land_at=home),
        "zarathustra.igc": flight(at_s=39_000.0, speed_m_s=28.0, legs=1),
    }


def written(folder: Path, logs: dict[str, bytes]) -> Path:
    """Write logs into a folder and return it."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in logs.items():
        (folder / name).write_bytes(content)
    return folder


def zipped(path: Path, logs: dict[str, bytes]) -> Path:
    """Write logs into a zip and return it."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in logs.items():
            archive.writestr(f"some club/{name}", content)
    path.write_bytes(buffer.getvalue())
    return path


# -- the demo's day ----------------------------------------------------------------------------------------------------

DEMO = Path(__file__).parents[1] / "demo" / "flights"
_WITHOUT_NAMES = ("AXXX001 invented", "HFDTE080527", "HFDTM100GPSDATUM:WGS84")


def demo_flights() -> dict[str, bytes]:
    """Return four flights of the demo's area task on its first day: three come home, one lands out."""
    home = away(ORMSAU, 300.0, 400.0)
    plans = (
        (42_300.0, 19.5, away(GREIFENLOHE, 160.0, 12_000.0), away(TANNWOEHR, 70.0, 9_000.0), None),
        (42_900.0, 18.0, away(GREIFENLOHE, 110.0, 6_000.0), away(TANNWOEHR, 20.0, 12_000.0), None),
        (43_600.0, 20.5, away(GREIFENLOHE, 130.0, 16_000.0), away(TANNWOEHR, 80.0, 13_000.0), None),
        (
            43_900.0,
            17.0,
            away(GREIFENLOHE, 150.0, 3_000.0),
            away(TANNWOEHR, 260.0, 4_000.0),
            away(TANNWOEHR, 250.0, 21_000.0),
        ),
    )
    logs = {}
    for number, (at_s, speed_m_s, first, second, field) in enumerate(plans, start=1):
        way = Way(home, at_s)
        way.heights[0] = 389.0
        way.stand(240).to(away(ORMSAU, 300.0, 5_000.0), 22.0, 1300.0).to(away(ORMSAU, 120.0, 3_000.0), 28.0)
        way.to(first, speed_m_s).to(second, speed_m_s)
        way.to(field, speed_m_s, 430.0) if field is not None else way.to(ORMSAU, speed_m_s).to(home, 20.0, 389.0)
        logs[f"{number}.igc"] = log(way.stand(240).fixes(40.0), _WITHOUT_NAMES)
    return logs


if __name__ == "__main__":
    written(DEMO, demo_flights())
