"""The main job on real input: the airfields of three neighbouring countries, from file to sheet.

Data: the `airportsdata` package (MIT licence), an open list of airfields with positions and elevations in feet.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import gpxpy
import pytest
from geographiclib.geodesic import Geodesic

from taskdb.errors import ExitCode

airportsdata = pytest.importorskip("airportsdata")
COUNTRIES = ("DE", "AT", "CH")


@pytest.fixture(scope="module")
def airfields() -> list[dict]:
    rows = airportsdata.load("ICAO").values()
    chosen = [row for row in rows if row["country"] in COUNTRIES]
    assert len(chosen) > 500
    return sorted(chosen, key=lambda row: row["icao"])


@pytest.fixture
def catalogue(tmp_path: Path, airfields: list[dict]) -> Path:
    path = tmp_path / "airfields.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(["code", "name", "latitude", "longitude", "elevation_ft", "country"])
        for row in airfields:
            # The list writes 0 feet where it does not know: an empty cell says so.
            elevation = row["elevation"] or ""
            writer.writerow([row["icao"], row["name"], row["lat"], row["lon"], elevation, row["country"]])
    return path


def test_the_whole_job_runs_on_the_airfields_of_three_countries(taskdb, catalogue, airfields, tmp_path):
    done = taskdb("set", "import", str(catalogue), "--into", "alps", "--json")
    assert done.exit_code is ExitCode.DONE, done.stderr
    result = done.json()["result"]
    assert result["added"] == result["read"] == len(airfields)

    shown = taskdb("set", "show", "alps", "--json").json()["result"]
    by_code = {w["code"]: w for w in shown["waypoints"]}
    for row in airfields:
        assert by_code[row["icao"]]["latitude_deg"] == pytest.approx(row["lat"], abs=5.1e-8)
        assert by_code[row["icao"]]["longitude_deg"] == pytest.approx(row["lon"], abs=5.1e-8)
        if row["elevation"]:
            # 1 ft = 0.3048 m (ICAO Annex 5); the store keeps 0.1 m.
            assert by_code[row["icao"]]["elevation_m"] == pytest.approx(row["elevation"] * 0.3048, abs=0.051)

    found = taskdb("waypoint", "find", "zurich", "--json").json()["result"]
    assert "LSZH" in {w["code"] for w in found["waypoints"]}

    checked = taskdb("check", "run", "alps", "--fail-on", "never", "--json")
    assert checked.exit_code is ExitCode.DONE
    assert checked.json()["result"]["checked"] == len(airfields)

    assert taskdb("contest", "new", "Alps", "--set", "alps", "--finish", "cylinder 3km").exit_code is ExitCode.DONE
    made = taskdb("task", "new", "A", "EDDM", "LOWI", "EDDS", "EDDM", "--contest", "Alps", "--time", "4:00", "--json")
    task = made.json()["result"]
    assert task["shape"]["kind"] == "triangle"
    # Against GeographicLib, a general reference library for geodesics.
    for leg, (a, b) in zip(task["legs"], (("EDDM", "LOWI"), ("LOWI", "EDDS"), ("EDDS", "EDDM")), strict=True):
        p, q = by_code[a], by_code[b]
        line = Geodesic.WGS84.Inverse(p["latitude_deg"], p["longitude_deg"], q["latitude_deg"], q["longitude_deg"])
        assert leg["distance_m"] == pytest.approx(line["s12"], abs=0.002)
        assert leg["course_true_deg"] == pytest.approx(line["azi1"] % 360, abs=1e-4)
    assert task["distance"]["task_m"] == pytest.approx(task["distance"]["centres_m"] - 3000, abs=0.002)

    out = tmp_path / "out"
    packed = taskdb("export", "task", "A", "--format", "gpx,geojson,csv", "--to", str(out), "--json")
    assert [file["format"] for file in packed.json()["result"]["files"]] == ["csv", "geojson", "gpx"]
    assert taskdb("export", "verify", str(out)).exit_code is ExitCode.DONE
    (gpx_path,) = out.glob("*.gpx")
    (route,) = gpxpy.parse(gpx_path.read_text(encoding="utf-8")).routes
    assert [(p.latitude, p.longitude) for p in route.points] == [
        (by_code[c]["latitude_deg"], by_code[c]["longitude_deg"]) for c in ("EDDM", "LOWI", "EDDS", "EDDM")
    ]
    features = json.loads(next(out.glob("*.geojson")).read_text(encoding="utf-8"))["features"]
    assert features

    sheet = tmp_path / "A.html"
    assert taskdb("sheet", "A", "--to", str(sheet)).exit_code is ExitCode.DONE
    page = sheet.read_text(encoding="utf-8")
    assert "radius 3 km" in page and "EDDM" in page and "<svg" in page
