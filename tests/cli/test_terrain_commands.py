"""Terrain of the user's own at the command line: what it finds, what it fills in, and that it is named each time."""

from __future__ import annotations

import numpy as np
import pytest

from taskdb.errors import ExitCode
from tests.reference.terrain_files import write_hgt

STEP = 1 / 1200
FILLING = ("--into", "region", "--fill-elevation", "--terrain")


def ridges() -> np.ndarray:
    """Parallel ridges from north to south, 12 km apart, 400 to 1,600 m."""
    east = np.arange(1201) * STEP
    heights = 1000 + 600 * np.cos(2 * np.pi * east / 0.16)
    return np.broadcast_to(np.round(heights), (1201, 1201)).astype(np.int16)


def height_at(longitude: float) -> float:
    return 1000 + 600 * float(np.cos(2 * np.pi * (longitude - 11) / 0.16))


def rows_of(count: int = 30) -> list[tuple[str, float, float]]:
    return [(f"P{k:02d}", 47.2137 + 0.0217 * k, 11.1143 + 0.0253 * k) for k in range(count)]


@pytest.fixture
def terrain(tmp_path):
    folder = tmp_path / "alps"
    folder.mkdir()
    write_hgt(folder, "N47E011.hgt", ridges())
    return str(folder)


def csv(path, rows, elevations):
    lines = [
        f"{code},Place {code},{lat:.4f},{lon:.4f},{high}"
        for (code, lat, lon), high in zip(rows, elevations, strict=True)
    ]
    path.write_text("\n".join(["code,name,latitude_deg,longitude_deg,elevation_m", *lines, ""]), encoding="utf-8")
    return str(path)


def test_terrain_finds_a_slip_inside_the_region_and_what_was_typed(taskdb, tmp_path, terrain):
    rows = rows_of()
    elevations = [round(height_at(lon)) for _, _, lon in rows]
    code, lat, lon = rows[9]
    rows[9] = (code, lat, lon + 0.1)  # 11.342 typed as 11.442
    file = csv(tmp_path / "region.csv", rows, elevations)
    assert taskdb("set", "import", file, "--into", "region").exit_code is ExitCode.DONE
    blind = taskdb("check", "run", "region", "--json").result()
    assert not [f for f in blind["findings"] if f["codes"] == [code]]
    assert blind["ground"].startswith("the shipped grid, a height every 9.3 km")
    seen = taskdb("check", "run", "region", "--terrain", terrain, "--json").result()
    (finding,) = seen["findings"]
    assert (finding["rule"], finding["severity"], finding["codes"]) == ("off-terrain", "warning", [code])
    assert finding["suggestion"] is None
    places = [(mend["latitude_deg"], mend["longitude_deg"]) for mend in finding["alternatives"]]
    # Two hundred metres off at most: nearer ones are offered once.
    assert (pytest.approx(lat, abs=1e-4), pytest.approx(lon, abs=0.0027)) in places
    assert seen["ground"] == "terrain alps, a height every 93 m, metres above mean sea level"
    shown = taskdb("check", "run", "region", env={"TASKDB_TERRAIN": terrain}).stdout
    assert "off-terrain" in shown and "Ground: terrain alps, a height every 93 m" in shown
    mended = taskdb("check", "fix", "region", f"{finding['id']}=1", "--terrain", terrain, "--yes")
    assert mended.exit_code is ExitCode.DONE, mended.stderr


def test_missing_elevations_are_filled_in_and_marked_and_give_way_to_what_is_stated(taskdb, tmp_path, terrain):
    rows = [*rows_of(3), ("FAR", 48.5, 11.5)]
    file = csv(tmp_path / "region.csv", rows, ["", "1234", "", ""])
    words = ("set", "import", file, *FILLING, terrain)
    done = taskdb(*words, "--json").result()
    source = "terrain alps, a height every 93 m, metres above mean sea level"
    assert done["filled"] == {"count": 2, "source": source, "unknown": ["FAR"]}
    listed = {one["code"]: one for one in taskdb("set", "show", "region", "--json").result()["waypoints"]}
    for code, _, lon in (rows[0], rows[2]):
        assert listed[code]["elevation_m"] == pytest.approx(height_at(lon), abs=4)
        assert listed[code]["elevation_from"] == "terrain alps"
    assert listed["P01"]["elevation_m"] == 1234 and "elevation_from" not in listed["P01"]
    assert listed["FAR"]["elevation_m"] is None
    shown = taskdb("waypoint", "show", "P00", "--set", "region").stdout
    assert "filled in by terrain alps" in " ".join(shown.split())
    # The same again changes nothing; a statement, however coarse, takes the place of what was filled in.
    assert taskdb(*words, "--json").result()["revision"] == done["revision"]
    stated = csv(tmp_path / "stated.csv", rows[:1], [f"{listed['P00']['elevation_m'] // 10 * 10:.0f}"])
    assert taskdb("set", "import", stated, "--into", "region", "--json").result()["changed"] == 1
    now = taskdb("waypoint", "show", "P00", "--set", "region", "--json").result()
    assert "elevation_from" not in str(now)


def test_what_stands_without_elevation_is_filled_in_by_importing_it_again(taskdb, tmp_path, terrain):
    rows = rows_of(3)
    file = csv(tmp_path / "region.csv", rows, ["", "", "800"])
    taskdb("set", "import", file, "--into", "region")
    words = ("set", "import", file, *FILLING, terrain, "--json")
    preview = taskdb(*words, "--preview").result()
    done = taskdb(*words).result()
    assert (done["revision"], done["changed"], done["unchanged"]) == (2, 2, 1)
    assert preview["filled"] == done["filled"]
    # Moved, its elevation goes along, unless a list stated it.
    moved = csv(tmp_path / "moved.csv", [(code, lat, lon + 0.04) for code, lat, lon in rows], ["", "", ""])
    done = taskdb("set", "import", moved, *FILLING, terrain, "--json").result()
    assert done["filled"]["count"] == 2
    listed = {one["code"]: one for one in taskdb("set", "show", "region", "--json").result()["waypoints"]}
    assert listed["P00"]["elevation_m"] == pytest.approx(height_at(rows[0][2] + 0.04), abs=4)
    assert listed["P02"]["elevation_m"] == 800


def test_terrain_that_is_not_there_or_damaged_is_refused_by_name(taskdb, tmp_path, terrain):
    file = csv(tmp_path / "region.csv", rows_of(3), ["", "", ""])
    refused = taskdb("set", "import", file, "--into", "region", "--fill-elevation")
    assert refused.exit_code is ExitCode.USAGE and "--terrain DIR" in refused.stderr
    taskdb("set", "import", file, "--into", "region")
    missing = taskdb("check", "run", "region", "--terrain", str(tmp_path / "nowhere"), "--json")
    assert missing.exit_code is ExitCode.NOT_FOUND and missing.error()["code"] == "terrain-not-found"
    (tmp_path / "alps" / "N48E011.hgt").write_bytes(b"cut")
    damaged = taskdb("check", "run", "region", "--terrain", terrain, "--json")
    assert damaged.exit_code is ExitCode.INPUT_UNUSABLE and "N48E011.hgt" in damaged.error()["message"]


def test_a_sheet_has_relief_and_profile_from_terrain_and_the_same_each_time(taskdb, tmp_path, terrain):
    rows = rows_of(4)
    file = csv(tmp_path / "region.csv", rows, [round(height_at(lon)) for _, _, lon in rows])
    taskdb("set", "import", file, "--into", "region")
    made = taskdb("task", "new", "A", "P00", "P02", "P03", "P00", "--set", "region")
    assert made.exit_code is ExitCode.DONE, made.stderr
    written = {}
    for name, more in (
        ("with.html", ["--terrain", terrain]),
        ("without.html", []),
        ("map.svg", ["--terrain", terrain]),
    ):
        to = tmp_path / name
        assert taskdb("sheet", "A", "--to", to, *more).exit_code is ExitCode.DONE
        written[name] = to.read_text(encoding="utf-8")
        assert taskdb("sheet", "A", "--to", tmp_path / f"again-{name}", *more).exit_code is ExitCode.DONE
        assert (tmp_path / f"again-{name}").read_text(encoding="utf-8") == written[name]
    assert "relief: terrain alps" in written["map.svg"]
    assert 'class="profile"' in written["with.html"] and "<image" in written["with.html"]
    assert "From terrain alps, a height every 93 m, metres above mean sea level; may be old." in written["with.html"]
    assert "<image" not in written["without.html"] and 'class="profile"' not in written["without.html"]


def test_a_handout_has_them_on_its_sheet_and_its_maps(taskdb, tmp_path, terrain):
    rows = rows_of(4)
    file = csv(tmp_path / "region.csv", rows, [round(height_at(lon)) for _, _, lon in rows])
    taskdb("set", "import", file, "--into", "region")
    taskdb("contest", "new", "Cup", "--set", "region", "--from", "2027-05-14", "--to", "2027-05-16")
    taskdb("task", "new", "A", "P00", "P02", "P03", "P00", "--contest", "Cup", "--day", "1")
    day = tmp_path / "day"
    done = taskdb("handout", "--contest", "Cup", "--day", "1", "--to", day, "--terrain", terrain, "--yes")
    assert done.exit_code is ExitCode.DONE, done.stderr
    (sheet,) = day.glob("*.html")
    (drawn,) = day.glob("**/*.svg")
    assert "relief: terrain alps" in sheet.read_text("utf-8") and "relief: terrain alps" in drawn.read_text("utf-8")
    # Relief changes nothing of what the page says: without it the next handout tells of no change.
    again = taskdb("handout", "--contest", "Cup", "--day", "1", "--to", day, "--yes")
    assert again.exit_code is ExitCode.DONE, again.stderr
    assert "Changed" not in sheet.read_text("utf-8")
