"""1,000 spreadsheets with known positions: none comes in wrong, nearly all right, the rest by the line to paste."""

from __future__ import annotations

import io
import shlex
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from taskdb.errors import InputError
from taskdb.formats.registry import ReadOptions, SetReading, read_set
from tests.cli.conftest import Completed
from tests.formats.split_sheets import Sheet, make_sheet

SHEETS = 1000
Run = Callable[..., Completed]


def wrong_places(sheet: Sheet, found: dict[str, tuple[float, float]]) -> list[str]:
    """Return the codes that came in further off than rounding, and those of rows that nobody could read."""
    return [
        code
        for code, (latitude, longitude) in found.items()
        if code in sheet.spoilt
        or abs(latitude - sheet.places[code][0]) > sheet.places[code][2]
        or abs(longitude - sheet.places[code][1]) > sheet.places[code][2]
    ]


def found_in(reading: SetReading) -> dict[str, tuple[float, float]]:
    waypoints = [record.waypoint for record in reading.records]
    return {w.code: (w.position.latitude_deg, w.position.longitude_deg) for w in waypoints}


@pytest.mark.slow
def test_none_of_1000_spreadsheets_comes_in_wrong_and_nearly_all_come_in_right() -> None:
    told: Counter[str] = Counter()
    for seed in range(SHEETS):
        sheet = make_sheet(seed)
        try:
            reading = read_set(io.BytesIO(sheet.content), options=ReadOptions())
        except InputError as error:
            told["spoilt" if sheet.spoilt else error.code] += 1
            continue
        found = found_in(reading)
        assert wrong_places(sheet, found) == [], (seed, sheet.kind)
        if sheet.spoilt:
            assert len(reading.problems) > 0, (seed, sheet.kind)
            assert set(found) == set(sheet.places) - sheet.spoilt, (seed, sheet.kind)
            told["spoilt"] += 1
        else:
            assert reading.problems == () and set(found) == set(sheet.places), (seed, sheet.kind, reading.problems[:2])
            for record in reading.records:
                metres = sheet.elevations_m.get(record.waypoint.code)
                assert metres is None or abs(record.waypoint.elevation_m - metres) < 0.06, (seed, sheet.kind)
            told["right"] += 1
    sound = SHEETS - told.pop("spoilt")
    assert told.pop("right") >= 0.95 * sound
    # What is left is a lone O, which is never read without being told its side.
    assert set(told) == {"ambiguous-letter"}


@pytest.mark.parametrize("part", range(4))
def test_what_is_refused_comes_in_right_by_a_line_of_the_refusal(taskdb: Run, tmp_path: Path, part: int) -> None:
    tried = 0
    for seed in range(part * SHEETS // 4, (part + 1) * SHEETS // 4):
        sheet = make_sheet(seed)
        if sheet.spoilt or not needs_help(sheet):
            continue
        path = tmp_path / f"sheet {seed}'s.csv"
        path.write_bytes(sheet.content)
        refused = taskdb("set", "import", str(path), "--into", f"S {seed}")
        assert refused.exit_code == 4, (seed, sheet.kind)
        lines = [line.strip() for line in refused.stderr.splitlines() if line.strip().startswith("taskdb set import")]
        assert lines, (seed, refused.stderr)
        outcomes = [pasted(taskdb, sheet, line, f"S {seed}") for line in lines]
        assert "right" in outcomes, (seed, sheet.kind, refused.stderr)
        tried += 1
    assert tried > 2


def needs_help(sheet: Sheet) -> bool:
    try:
        read_set(io.BytesIO(sheet.content), options=ReadOptions())
    except InputError:
        return True
    return False


def pasted(taskdb: Run, sheet: Sheet, line: str, name: str) -> str:
    """Paste a line into a set of its own and say what came of it."""
    words = shlex.split(line)
    into = f"{name} by {line[-20:]}".replace(":", " ").replace("@", " ")
    words[words.index("--into") + 1] = into
    done = taskdb(*words[1:])
    if done.exit_code != 0:
        return "refused"
    shown = taskdb("set", "show", into, "--json").result()["waypoints"]
    found = {w["code"]: (w["latitude_deg"], w["longitude_deg"]) for w in shown}
    return "right" if set(found) == set(sheet.places) and not wrong_places(sheet, found) else "wrong"


def test_rows_with_spoilt_cells_are_left_out_by_the_line_of_the_refusal(taskdb: Run, tmp_path: Path) -> None:
    seeds = [seed for seed in range(SHEETS) if make_sheet(seed).spoilt][:12]
    came_in = 0
    for seed in seeds:
        sheet = make_sheet(seed)
        path = tmp_path / f"spoilt {seed}.csv"
        path.write_bytes(sheet.content)
        refused = taskdb("set", "import", str(path), "--into", f"S {seed}")
        assert refused.exit_code == 4, (seed, sheet.kind)
        line = refused.stderr[refused.stderr.rindex("taskdb set import") :].strip()
        if "--on-error" not in line:
            continue  # the file as a whole is open
        words = shlex.split(line)
        words[-1] = str(tmp_path / words[-1])
        done = taskdb(*words[1:])
        assert done.exit_code == 1
        shown = taskdb("set", "show", f"S {seed}", "--json").result()["waypoints"]
        found = {w["code"]: (w["latitude_deg"], w["longitude_deg"]) for w in shown}
        assert set(found) == set(sheet.places) - sheet.spoilt and wrong_places(sheet, found) == []
        came_in += 1
    assert came_in >= 5


def test_the_line_of_a_refusal_is_quoted_for_a_shell(taskdb: Run, tmp_path: Path) -> None:
    path = tmp_path / "the club's $list.csv"
    path.write_text(
        "Code,Name,Lat °,Lat ',a \"b\" $x,Lon °,Lon ',`y`\nA,Alm,47,15.6,N,11,20.4,E\n".replace(
            'a "b" $x', '"a ""b"" $x"'
        )
    )
    refused = taskdb("set", "import", str(path), "--into", "R", "--on-error", "skip")
    line = next(line.strip() for line in refused.stderr.splitlines() if line.strip().startswith("taskdb set import"))
    assert "--on-error skip" in line
    script = f'set -- {line}\nfor word in "$@"; do printf \'%s\\n\' "$word"; done'
    words = subprocess.run(["sh", "-c", script], capture_output=True, text=True, check=True).stdout.splitlines()
    assert words == shlex.split(line)
    done = taskdb(*words[1:], "--json").result()
    assert done["added"] == 1 and done["decided"]["joined"]["latitude_deg"] == ["Lat °", "Lat '", 'a "b" $x']


def test_a_join_typed_in_a_shell_comes_in_right(tmp_path: Path) -> None:
    path = tmp_path / "split.csv"
    path.write_text("Code,Name,Lat °,Lat ',N/S,Lon °,Lon ',E/W\nA,Alm,47,15.6,N,11,20.4,E\n", encoding="utf-8")
    line = (
        f"{shlex.quote(sys.executable)} -m taskdb --store s.db set import split.csv --into R "
        "--column latitude_deg='Lat °'+\"Lat '\"+'N/S' --column longitude_deg='Lon °'+\"Lon '\"+'E/W' --json"
    )
    done = subprocess.run(["sh", "-c", line], cwd=tmp_path, capture_output=True, text=True, check=True)
    assert '"latitude_deg":"Lat °+Lat \'+N/S"' in done.stdout


def test_adding_and_editing_show_the_position_that_was_understood(taskdb: Run, tmp_path: Path) -> None:
    path = tmp_path / "one.csv"
    path.write_text("code,name,lat,lon\nA,Alm,47.26,11.34\n", encoding="utf-8")
    taskdb("set", "import", str(path), "--into", "R")
    added = taskdb("waypoint", "add", "R", "B", "--name", "Berg", "--at", "48 30 12 5.25")
    assert "position 48°30.000′N 012°05.250′E (48.500000,12.087500), read as degrees-minutes" in added.stdout
    edited = taskdb("waypoint", "edit", "B", "--at", "47.26,11.34", "--json").result()
    assert edited["understood"] == {
        "typed": "47.26,11.34",
        "notation": "decimal-degrees",
        "position": "47°15.600′N 011°20.400′E",
    }
    assert taskdb("waypoint", "edit", "B", "--name", "Hof", "--json").result()["understood"] is None
    refused = taskdb("waypoint", "edit", "B", "--at", "48,30,11,30")
    assert refused.exit_code == 2 and "48.3, 11.3 or 48°30′N 011°30′E" in refused.stderr
