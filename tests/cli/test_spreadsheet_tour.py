"""Export, edit in a spreadsheet, import again: identities, leading zeros and untouched cells survive."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from taskdb.errors import ExitCode

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]


@pytest.fixture
def region(built):
    return built(("set", "import", str(ROOT / "demo/region.csv"), "--into", "region"))


def as_a_spreadsheet_saves(path: Path, edit) -> None:
    """Rewrite a CSV as a German spreadsheet would: semicolons, decimal commas, a BOM, numbers without leading zeros."""
    with path.open(encoding="utf-8-sig", newline="") as stream:
        header, *rows = list(csv.reader(stream))
    numbers = {header.index(name) for name in ("latitude_deg", "longitude_deg", "elevation_m")}
    code = header.index("code")
    rows = edit([dict(zip(header, row, strict=True)) for row in rows])
    with path.open("w", encoding="utf-8-sig", newline="") as stream:
        writer = csv.writer(stream, delimiter=";")
        writer.writerow(header)
        for row in rows:
            cells = [row[name] for name in header]
            cells[code] = str(int(cells[code])) if cells[code].isdigit() else cells[code]
            cells = [c.replace(".", ",") if i in numbers else c for i, c in enumerate(cells)]
            writer.writerow(cells)


def waypoints(run):
    return {w["code"]: w for w in run("set", "show", "region", "--json").result()["waypoints"]}


@pytest.mark.parametrize("identity", [["--identity"], []], ids=["with identities", "without"])
def test_a_catalogue_edited_in_a_spreadsheet_comes_back_whole(region, tmp_path, identity):
    before = waypoints(region)
    sheet = tmp_path / "region.csv"
    assert region("set", "export", "region", "--to", str(sheet), *identity).exit_code is ExitCode.DONE

    def edit(rows):
        for row in rows:
            if row["code"] == "002":
                row["name"] = "Kelmried Süd"
            if row["code"] == "003":
                row["elevation_m"] = "501.5"
        return [row for row in rows if row["code"] != "005"]

    as_a_spreadsheet_saves(sheet, edit)
    done = region("set", "import", str(sheet), "--into", "region", "--mode", "replace", "--json")
    assert done.exit_code is ExitCode.DONE, done.stdout
    result = done.result()
    assert (result["changed"], result["retired"], result["added"]) == (2, 1, 0)
    assert result["restored_codes"] > 0
    after = waypoints(region)
    assert set(after) == set(before) - {"005"}
    assert {code: w["identity"] for code, w in after.items()} == {
        code: w["identity"] for code, w in before.items() if code != "005"
    }
    untouched = set(after) - {"002", "003"}
    strip = ("revision",)
    assert all(
        {k: v for k, v in after[code].items() if k not in strip}
        == {k: v for k, v in before[code].items() if k not in strip}
        for code in untouched
    )
    assert after["002"]["name"] == "Kelmried Süd" and after["003"]["elevation_m"] == 501.5


def test_a_layout_of_ones_own_goes_out_and_comes_in(region, tmp_path):
    profile = str(ROOT / "demo/profiles/club-spreadsheet.toml")
    out = tmp_path / "mine.csv"
    written = region("set", "export", "region", "--profile", profile, "--to", str(out), "--json")
    assert written.exit_code is ExitCode.DONE
    assert "radio" in written.result()["lost"]
    assert out.read_text(encoding="utf-8").splitlines()[1] == "001;Ormsau;48°52,320′N;011°48,630′E;1276;Platz"
    back = region("set", "import", str(out), "--into", "again", "--profile", profile, "--json")
    assert back.exit_code is ExitCode.DONE, back.stdout
    assert back.result()["added"] == 155
    ormsau = region("waypoint", "show", "again:001", "--json").result()
    assert ormsau["landable"] == "aerodrome"
    # 1276 ft are 388.9 m; a thousandth of a minute of latitude is 1.9 m.
    assert ormsau["elevation_m"] == pytest.approx(388.9, abs=0.06)
    assert ormsau["latitude_deg"] == pytest.approx(48.872, abs=1e-5)


def test_a_mistake_in_a_profile_is_told_with_its_line(region, tmp_path):
    bad = tmp_path / "bad.toml"
    columns = '[[column]]\nfield = "code"\n\n[[column]]\nfield = "colour"\n'
    bad.write_text(f'rows = "waypoints"\n\n{columns}', encoding="utf-8")
    done = region("set", "export", "region", "--profile", str(bad), "--to", str(tmp_path / "x.csv"))
    assert done.exit_code is ExitCode.INPUT_UNUSABLE
    assert "line 7" in done.stderr
