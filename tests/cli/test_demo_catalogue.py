"""The invented region: it is taken in as it stands, bears the faults that it says, and its mends mend them."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Callable
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic

DEMO = Path(__file__).parents[2] / "demo"
HEADER = (
    "code,name,latitude_deg,longitude_deg,elevation_m,landable,feature,country,radio,runways,description,source,"
    "inspected_on"
)
MENDED = {
    "005": {"radio"},
    "006": {"runways"},
    "022": {"elevation_m"},
    "106": {"latitude_deg", "longitude_deg"},
    "116": {"latitude_deg"},
    "141": {"name"},
    "271": {"longitude_deg"},
    "272": {"latitude_deg", "longitude_deg"},
    "304": {"longitude_deg"},
}
Row = dict[str, str]
Run = Callable[..., Any]


def _rows(name: str) -> dict[str, Row]:
    with (DEMO / name).open(encoding="utf-8", newline="") as file:
        return {row["code"]: row for row in csv.DictReader(file)}


REGION, MENDS = _rows("region.csv"), _rows("mends.csv")
WHOLE = {**REGION, **MENDS}


def _distance_m(a: Row, b: Row) -> float:
    line = Geodesic.WGS84.Inverse(*(float(row[key]) for row in (a, b) for key in ("latitude_deg", "longitude_deg")))
    return float(line["s12"])


@pytest.mark.parametrize("name", ["region.csv", "mends.csv"])
def test_the_files_have_the_form_in_which_a_set_is_written(name: str) -> None:
    raw = (DEMO / name).read_bytes()
    text = raw.decode("utf-8")
    lines = text.split("\r\n")
    assert lines[0] == HEADER
    assert not text.startswith("\ufeff")
    assert lines[-1] == ""
    assert "\n" not in text.replace("\r\n", "")
    codes = [line.split(",")[0] for line in lines[1:-1]]
    assert codes == sorted(set(codes))
    assert all(
        re.fullmatch(r"-?\d+\.\d{7}", row[key]) for row in _rows(name).values() for key in lines[0].split(",")[2:4]
    )


def test_a_regional_list_has_all_kinds_of_places_and_codes_with_leading_zeros() -> None:
    features = Counter(row["feature"] for row in WHOLE.values())
    assert len(REGION) == 155
    assert all(features[kind] >= 10 for kind in ("settlement", "crossing", "water", "relief", "structure", "transport"))
    assert features["contest-point"] >= 10
    assert Counter(row["landable"] for row in WHOLE.values())["aerodrome"] == 10
    assert "001" in REGION


def test_start_points_lie_a_few_hundred_metres_apart() -> None:
    starts = [row for row in WHOLE.values() if re.fullmatch(r"Start Ormsau \d", row["name"])]
    nearest = [min(_distance_m(a, b) for b in starts if b is not a) for a in starts]
    assert len(starts) == 8
    assert all(300 < distance < 900 for distance in nearest)


def test_the_mends_change_exactly_what_was_planted() -> None:
    differing = {code: {key for key in row if row[key] != REGION[code][key]} for code, row in MENDS.items()}
    assert differing == MENDED
    assert (DEMO / "faults.md").read_text(encoding="utf-8").count("| mends.csv |") == len(MENDED)


def test_the_two_slips_inside_the_region_are_typing_errors_and_the_feet_are_feet() -> None:
    def minutes(value: str) -> tuple[int, float]:
        degrees = float(value)
        return int(degrees), round((degrees - int(degrees)) * 60, 3)

    # 31.622 became 13.622: the two digits of the minutes exchanged.
    assert minutes(WHOLE["304"]["longitude_deg"]) == (12, 31.622)
    assert minutes(REGION["304"]["longitude_deg"]) == (12, 13.622)
    # 26.391 became 36.391.
    assert minutes(WHOLE["116"]["latitude_deg"]) == (48, 26.391)
    assert minutes(REGION["116"]["latitude_deg"]) == (48, 36.391)
    assert round(float(WHOLE["022"]["elevation_m"]) / 0.3048) == int(REGION["022"]["elevation_m"])


def test_once_mended_only_the_silo_stands_twice() -> None:
    near = [(a["code"], b["code"]) for a, b in combinations(WHOLE.values(), 2) if _distance_m(a, b) < 250]
    assert near == [("278", "280")]
    assert not [name for name, count in Counter(row["name"] for row in WHOLE.values()).items() if count > 1]


def test_elevations_agree_with_a_coarse_grid_of_the_place() -> None:
    # Limits: stated elevations against this grid, 0.5 % and 99.5 % of about 49,000 airfields, by relief about them
    # (measured once from open airfield data); widened to the widest band that the region's relief reaches.
    numpy = pytest.importorskip("numpy")
    path = Path(__file__).parents[2] / "taskdb/reference/data/elevation-5arcmin.npz"
    if not path.exists():
        pytest.skip("the elevation grid is not shipped here")
    with numpy.load(path) as packed:
        cells = packed[packed.files[0]].astype(float) * 28 - 450
    for row in WHOLE.values():
        line = int((90 - float(row["latitude_deg"])) * 12)
        column = int((float(row["longitude_deg"]) + 180) * 12)
        around = cells[line - 1 : line + 2, column - 1 : column + 2]
        relief = float(around.max() - around.min())
        low, high = (-110, 138) if relief < 60 else (-211, 208) if relief < 150 else (-443, 325)
        assert low <= float(row["elevation_m"]) - float(cells[line, column]) <= high, row["name"]


def test_a_runway_is_painted_as_its_magnetic_heading_says_but_for_the_planted_one() -> None:
    # Variation about 4.4° east in 2026 (WMM2025, computed); designators are tens of degrees magnetic (ICAO Annex 14
    # Volume I, 5.2.2.4), one step of tolerance since variation drifts.
    def is_odd(row: Row) -> bool:
        off = []
        for designator, heading in re.findall(r"(\d\d)/\d\d (\d{3})deg", row["runways"]):
            off.append(abs((int(designator) * 10 - (int(heading) - 4.4) + 180) % 360 - 180))
        return any(angle > 10 for angle in off)

    assert [code for code, row in REGION.items() if is_odd(row)] == ["006"]
    assert not [code for code, row in WHOLE.items() if is_odd(row)]


def test_the_region_is_taken_in_as_it_stands_and_the_mends_change_nine(taskdb: Run) -> None:
    first = taskdb("set", "import", DEMO / "region.csv", "--into", "region", "--json").result()
    assert (first["revision"], first["added"], first["rejected"]) == (1, 155, [])
    second = taskdb("set", "import", DEMO / "mends.csv", "--into", "region", "--json").result()
    assert (second["revision"], second["added"], second["changed"], second["retired"]) == (2, 0, 9, 0)


def test_the_check_sees_the_doubled_places_before_and_only_the_silo_after(taskdb: Run) -> None:
    taskdb("set", "import", DEMO / "region.csv", "--into", "region")
    before = taskdb("check", "run", "region", "--json").result()["findings"]
    found = {(finding["rule"], frozenset(finding["codes"])) for finding in before}
    assert ("same-place", frozenset({"272", "303"})) in found
    assert ("same-place", frozenset({"278", "280"})) in found
    assert ("one-name-two-places", frozenset({"135", "141"})) in found
    taskdb("set", "import", DEMO / "mends.csv", "--into", "region")
    after = taskdb("check", "run", "region", "--json").result()["findings"]
    assert [sorted(finding["codes"]) for finding in after] == [["278", "280"]]


def test_a_set_written_from_the_region_is_the_region(taskdb: Run, tmp_path: Path) -> None:
    taskdb("set", "import", DEMO / "region.csv", "--into", "region")
    taskdb("set", "export", "region", "--format", "csv", "--to", tmp_path / "again.csv")
    assert (tmp_path / "again.csv").read_bytes() == (DEMO / "region.csv").read_bytes()
