"""`task cover`, and what landable cover brings to `task review`: JSON, screen, picture, refusals, exit codes."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest

from taskdb.errors import ExitCode
from tests.reference.terrain_files import write_hgt

REGION = """\
code,name,latitude_deg,longitude_deg,elevation_m,landable,inspected_on
001,Ormsau,48.8720000,11.8105000,389,aerodrome,2026-05-01
002,Kelmried,48.5610000,11.5220000,467,aerodrome,2024-05-01
003,Mill,48.7000000,11.9000000,,field,2026-05-01
004,Greifenlohe,48.6310000,12.3260000,423,field,2026-05-01
005,Quarry,48.8500000,12.1000000,420,no,
"""
GLIDE = ("--glide", "25", "--working-altitude", "1200m MSL")


@pytest.fixture
def region(built, tmp_path_factory):
    path = tmp_path_factory.getbasetemp() / "cover-region.csv"
    path.write_text(REGION, encoding="utf-8")
    return built(
        ("set", "import", path, "--into", "region"),
        ("contest", "new", "Cup", "--set", "region"),
        ("task", "new", "A", "001", "002", "004", "001", "--contest", "Cup"),
    )


def test_json_holds_every_sample_and_the_stretches_out_of_reach(region):
    done = region("task", "cover", "A", *GLIDE, "--json")
    assert done.exit_code is ExitCode.DONE and done.json()["schema"] == "taskdb.task-cover/1"
    result = done.result()
    assert (result["task"], result["revision"], result["ground"]) == ("A", 1, "grid")
    assert (result["left_out"], result["fields"]) == (["003"], 3)
    first, last = result["samples"][0], result["samples"][-1]
    assert (first["at_m"], first["code"], first["arrival_m"], first["distance_m"]) == (0.0, "001", 811.0, 0.0)
    assert (last["code"], last["reached"]) == ("001", True)
    # 1,200 - 389 - 200 m at 1 in 25 are 15.275 km from the first field: its sixteenth kilometre is out.
    assert [one["reached"] for one in result["samples"][14:17]] == [True, True, False]
    assert result["stretches"][0]["from_m"] == 16_000.0
    assert result["out_of_reach"] == sum(one["samples"] for one in result["stretches"])
    assert result["stretches"][0]["nearest"][0] in {"001", "002"}
    assert result["terms"]["from"] == {
        "glide": "given here", "working_altitude": "given here", "airspeed_kmh": "default", "safety_m": "default",
        "clearance_m": "default", "free_m": "default", "landable": "default", "wind": "none is set",
    }  # fmt: skip
    assert any("left out, without elevation: 003" in warning for warning in done.json()["warnings"])


def test_what_is_not_given_is_the_contests_and_the_days(region):
    region(
        "contest", "limits", "Cup", "--cover-glide", "30", "--cover-safety", "300m", "--working-altitude", "1400m MSL"
    )
    region("contest", "day", "Cup", "1", "--wind", "270/30km/h")
    region("task", "edit", "A", "--day", "1")
    terms = region("task", "cover", "A", "--json").result()["terms"]
    assert (terms["glide"], terms["safety_m"], terms["working_altitude"]) == (30.0, 300.0, "1400m MSL")
    assert (terms["wind"], terms["from"]["wind"]) == ({"from_deg": 270.0, "speed_kmh": 30.0}, "the day")
    given = region(
        "task", "cover", "A", "--glide", "20", "--wind", "090/10kt", "--landable", "field", "--json"
    ).result()
    assert (given["terms"]["glide"], given["terms"]["wind"]["from_deg"], given["fields"]) == (20.0, 90.0, 1)
    assert region("task", "cover", "A", "--inspected-since", "2025-01-01", "--json").result()["fields"] == 2


def test_a_page_for_people_tells_stretches_not_samples_unless_asked(region):
    page = region("task", "cover", "A", *GLIDE).stdout
    assert "A@1: no field in reach at" in page and "no field in reach" in page
    assert "Straight glide, constant wind, no sink, no circuit, fields as last inspected." in page
    assert "not for primary navigation" in page and "1 in 25 (given here) at 100.0 km/h (default)" in page
    assert len(page.splitlines()) < 40
    samples = region("task", "cover", "A", *GLIDE, "--samples", "--units", "nmi").stdout
    assert len(samples.splitlines()) > 150 and "8.1 nmi" in samples


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("--glide", "25"), ExitCode.USAGE, "working altitude"),
        (("--working-altitude", "1200m MSL"), ExitCode.USAGE, "--glide 25"),
        (("--glide", "0", "--working-altitude", "1200m MSL"), ExitCode.USAGE, "glide ratio"),
        (("--glide", "25", "--working-altitude", "1200"), ExitCode.USAGE, "1200"),
        (("--glide", "25", "--working-altitude", "FL65"), ExitCode.USAGE, "--qnh"),
        (("--glide", "25", "--working-altitude", "800m AGL"), ExitCode.USAGE, "--terrain DIR"),
        ((*GLIDE, "--airspeed", "0km/h"), ExitCode.USAGE, "--airspeed"),
        ((*GLIDE, "--safety", "200"), ExitCode.USAGE, "200m"),
        ((*GLIDE, "--landable", "no"), ExitCode.USAGE, "aerodrome"),
        ((*GLIDE, "--to", "cover.png"), ExitCode.USAGE, ".svg"),
        ((*GLIDE, "--terrain", "nowhere"), ExitCode.NOT_FOUND, "nowhere"),
    ],
)
def test_what_cannot_be_reckoned_with_is_refused_with_the_way_out(region, words, code, says):
    done = region("task", "cover", "A", *words)
    assert done.exit_code is code and says in done.stderr


def test_a_flight_level_counts_at_the_pressure_of_the_day(region):
    region("contest", "limits", "Cup", "--qnh", "1003hPa")
    terms = region("task", "cover", "A", "--glide", "25", "--working-altitude", "FL45", "--json").result()["terms"]
    # 4,500 ft are 1,371.6 m; some 8.3 m less for each of the 10.25 hPa below the standard (ICAO Doc 7488).
    assert terms["working_altitude_m"] == pytest.approx(1371.6 - 85.6, abs=0.5)


def test_the_picture_is_written_once_and_says_what_it_shows(region, tmp_path):
    path = tmp_path / "cover.svg"
    assert region("task", "cover", "A", *GLIDE, "--to", path).exit_code is ExitCode.DONE
    drawn = path.read_text(encoding="utf-8")
    words = " ".join(text.strip() for text in ET.fromstring(drawn).itertext() if text.strip())
    for said in ("Landable cover of A", "1200m MSL", "No field in reach.", "001 ", "no summit and no valley",
                 "Straight glide, constant wind, no sink", "Not for primary navigation"):  # fmt: skip
        assert said in words, said
    again = region("task", "cover", "A", *GLIDE, "--to", path)
    assert again.exit_code is ExitCode.REFUSED and "--yes" in again.stderr
    assert region("task", "cover", "A", *GLIDE, "--to", path, "--yes").exit_code is ExitCode.DONE
    assert path.read_text(encoding="utf-8") == drawn


def hills(folder: Path) -> str:
    """A tile of low land at 400 m with a wall of 1,500 m that stands north to south, east of 001."""
    heights = np.full((1201, 1201), 400, dtype=np.int16)
    heights[:, 1178:1184] = 1500
    folder.mkdir()
    write_hgt(folder, "N48E011.hgt", heights)
    write_hgt(folder, "N48E012.hgt", np.full((1201, 1201), 400, dtype=np.int16))
    return str(folder)


def test_with_terrain_a_wall_on_the_way_takes_a_field_out_of_reach(region, tmp_path):
    terrain = hills(tmp_path / "hills")
    flown = ("--glide", "40", "--working-altitude", "1400m MSL", "--landable", "field")
    plain = region("task", "cover", "A", *flown, "--ignore-terrain", "--terrain", terrain, "--json").result()
    held = region("task", "cover", "A", *flown, "--terrain", terrain, "--json").result()
    assert (plain["ground"], held["ground"]) == ("none", "terrain")
    assert held["out_of_reach"] > plain["out_of_reach"] > 0
    assert held["ground_source"].startswith("terrain hills")
    page = region("task", "cover", "A", *flown, "--terrain", terrain, "--to", tmp_path / "c.svg").stdout
    assert "cleared by 100 m (default) but for the last 2.0 km" in page
    above = region(
        "task", "cover", "A", "--glide", "40", "--working-altitude", "800m AGL", "--terrain", terrain, "--json"
    )
    assert above.exit_code is ExitCode.DONE and above.result()["terms"]["working_altitude"] == "800m AGL"


def test_a_review_tells_it_with_options_or_by_the_contests_limits(region):
    def told(*words):
        done = region("task", "review", "A", "--json", *words)
        return [one for one in done.result()["tasks"][0]["findings"] if one["rule"] == "out-of-glide"]

    assert told() == []
    (finding,) = told(*GLIDE)
    assert finding["severity"] == "warning" and finding["evidence"]["ground"] == "grid"
    assert finding["evidence"]["stretches"][0]["from_m"] == 16_000.0
    region("contest", "limits", "Cup", "--cover-glide", "25", "--working-altitude", "1200m MSL")
    assert told()[0]["id"] == finding["id"]
    assert told("--glide", "26")[0]["id"] != finding["id"]
    region("contest", "limits", "Cup", "--cover-longest-out", "60km")
    assert told()[0]["severity"] == "note"
    region("contest", "limits", "Cup", "--working-altitude", "3000m MSL")
    assert told() == []


def test_a_review_says_what_it_could_not_look_at(region):
    region("contest", "limits", "Cup", "--cover-glide", "25")
    notes = region("task", "review", "A", "--json").result()["tasks"][0]["notes"]
    assert any("landable cover was not looked at" in note and "--working-altitude" in note for note in notes)
