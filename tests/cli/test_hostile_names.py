"""Names that would steer a terminal, reorder what is read, or run in a browser, through all that is shown and written.

The set and the task are made of them; every look at them, every error that quotes them and every page is searched.
"""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest
from lxml import etree, html

from taskdb.errors import ExitCode

pytestmark = pytest.mark.both_engines

ESCAPES = "\x1b[31mred\x1b]0;title\x07\x9b2J"
BIDI = "\u202egnp\u202c\u2066x\u2069\u061c\u200f"
MARKUP = "<script>alert(1)</script><img src=x onerror=alert(1)>\"'&]]>{{7*7}}[bold]"
FORMULA = '=HYPERLINK("http://x","y")'
STEERING = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")

NAMES = {"E": f"Ormsau {ESCAPES}", "B": f"Kelmried {BIDI}", "M": f"Linde {MARKUP}", "F": FORMULA}


RING = [[11.0, 48.0], [13.0, 48.0], [13.0, 49.5], [11.0, 48.0]]
AIR = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "properties": {"name": name, "kind": name, "times": name, "frequency": name},
            "geometry": {"type": "Polygon", "coordinates": [RING]},
        }
        for name in NAMES.values()
    ],
}


def rows() -> str:
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(["code", "name", "latitude_deg", "longitude_deg", "elevation_m", "description", "source"])
    for n, (code, name) in enumerate(NAMES.items()):
        writer.writerow([code, name, 48.5 + n / 10, 11.5 + n / 7, 400 + n, name, name])
    return text.getvalue()


@pytest.fixture
def hostile(taskdb, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    # As a newline is, other controls are made blanks on the way in; direction marks stay in a name.
    Path("rows.csv").write_text(rows(), encoding="utf-8", newline="")
    Path("air.geojson").write_text(json.dumps(AIR), encoding="utf-8")
    name = f"T {MARKUP} {BIDI}"
    for words in (
        ("set", "import", "rows.csv", "--into", f"set {BIDI}{MARKUP}"),
        ("contest", "new", f"Cup {MARKUP}{BIDI}".replace(":", ""), "--set", f"set {BIDI}{MARKUP}"),
        ("airspace", "import", "air.geojson", "--into", f"air {BIDI}{MARKUP}"),
        ("airspace", "add", f"air {BIDI}{MARKUP}", f"x {ESCAPES}{MARKUP}", "--round", "B", "--radius", "9km"),
        ("contest", "edit", f"Cup {MARKUP}{BIDI}", "--airspace", f"air {BIDI}{MARKUP}@1"),
        ("task", "new", name, "E", "B", "M", "F", "E", "--contest", f"Cup {MARKUP}{BIDI}", "--tag", f"{MARKUP}{BIDI}"),
        ("task", "flown", name, "--on", "2027-05-14", "--remarks", f"{FORMULA}{ESCAPES}"),
        ("waypoint", "edit", "M", "--name", f"Linde 2 {MARKUP}{BIDI}", "--note", f"{ESCAPES}{BIDI}"),
    ):
        done = taskdb(*words, "--yes")
        assert done.exit_code is ExitCode.DONE, done.stderr
    return taskdb, name


LOOKS = (
    ("set", "list"), ("set", "show", "SET"), ("set", "log", "SET"), ("set", "diff", "SET@1", "SET@2"), ("log",),
    ("waypoint", "find", "linde"), ("waypoint", "find"), ("waypoint", "show", "M"), ("check", "run", "SET"),
    ("check", "run", "SET", "--against", "SET@1"), ("contest", "list"), ("contest", "show", "CUP"), ("task", "list"),
    ("airspace", "list"), ("airspace", "show", "AIR"), ("airspace", "log", "AIR"), ("airspace", "diff", "AIR@1", "AIR"),
    ("task", "find", "--avoid", "AIR"),
    ("task", "find", "--text", "T"), ("task", "show", "TASK"), ("task", "log", "TASK"), ("task", "review", "TASK"),
    ("task", "flown", "TASK"), ("store", "info"), ("set", "import", "rows.csv", "--into", "SET", "--preview"),
)  # fmt: skip

QUOTED = (
    ("waypoint", "show", f"x{ESCAPES}{BIDI}"), ("task", "show", f"x{ESCAPES}{BIDI}"), ("set", "show", f"x{BIDI}"),
    ("set", "import", f"no {ESCAPES}{BIDI}.csv", "--into", "x"),
    ("set", "import", f"bad {ESCAPES}{BIDI}.csv", "--into", "x"),
    ("airspace", "show", f"x{ESCAPES}{BIDI}"), ("airspace", "retire", "AIR", f"x{ESCAPES}{BIDI}"),
    ("airspace", "import", f"bad {ESCAPES}{BIDI}.csv", "--into", "x"),
    ("export", "verify", f"no {ESCAPES}{BIDI}.zip"),
    ("task", "import", f"bad {ESCAPES}{BIDI}.csv", "--set", "SET"),
    ("contest", "new", "C", "--set", "SET", "--preset", f"p {ESCAPES}{BIDI}"), (f"no{ESCAPES}{BIDI}",),
    ("set", f"no{ESCAPES}{BIDI}"), ("set", "list", f"--no{ESCAPES}{BIDI}"),
    ("task", "new", "x", f"A{ESCAPES}{BIDI}", "B"),
    ("waypoint", "edit", "M", "--elevation", f"5{ESCAPES}{BIDI}"), ("task", "check", "TASK", f"{BIDI}{ESCAPES}"),
    ("set", "list", "--store", f"nowhere{ESCAPES}{BIDI}://x"), ("set", "import", "rows.csv", "--into", f"a{ESCAPES}"),
)  # fmt: skip


def given(words: tuple[str, ...], task: str) -> list[str]:
    named = {"SET": f"set {BIDI}{MARKUP}", "CUP": f"Cup {MARKUP}{BIDI}", "TASK": task, "AIR": f"air {BIDI}{MARKUP}"}
    return [re.sub("^(SET|CUP|TASK|AIR)", lambda found: named[found[0]], word) for word in words]


@pytest.mark.parametrize("terminal", [False, True])
@pytest.mark.parametrize("as_json", [False, True])
def test_nothing_that_is_shown_steers_a_terminal_or_reorders_a_line(hostile, terminal, as_json):
    taskdb, task = hostile
    Path(f"bad {ESCAPES}{BIDI}.csv".replace("/", "")).write_text(
        f"code,name,lat,lon\n1,{BIDI}{ESCAPES[1:]},99{BIDI},x\n"
    )
    for words in (*LOOKS, *QUOTED):
        more = ["--no-color", *(["--json"] if as_json else [])]
        done = taskdb(*given(words, task), *more, terminal=terminal)
        if words in LOOKS:
            assert done.exit_code in (ExitCode.DONE, ExitCode.ACT), (words, done.stderr)
        else:
            assert done.exit_code not in (ExitCode.DONE, ExitCode.BUG), (words, done.stdout, done.stderr)
        shown = done.stdout + done.stderr
        assert shown and STEERING.findall(shown) == [], (words, shown)
        if as_json:
            json.loads(done.stdout)


def test_nothing_that_is_handed_out_runs(hostile, tmp_path):
    taskdb, task = hostile
    for words in (
        ("sheet", "TASK", "--to", "sheet.html"),
        ("sheet", "TASK", "--to", "map.svg"),
        ("set", "notice", "SET@1", "SET@2", "--to", "notice.html"),
        ("export", "task", "TASK", "--format", "gpx,kml,geojson,csv,igc", "--to", "out", "--yes"),
        ("export", "set", "SET", "--format", "gpx,kml,geojson,csv", "--to", "out", "--yes"),
        ("airspace", "export", "AIR", "--to", "out/air.kml"),
        ("task", "flown", "--to-file", "out/flown.csv"),
    ):
        done = taskdb(*given(words, task))
        assert done.exit_code is ExitCode.DONE, (words, done.stderr)
    for page in ("sheet.html", "notice.html"):
        document = html.document_fromstring(Path(page).read_text(encoding="utf-8"))
        assert document.xpath("//script | //img[not(starts-with(@src,'data:'))] | //*[@onerror] | //iframe") == []
        assert "<script>alert(1)" in document.text_content()
    files = sorted(path for path in Path("out").iterdir())
    assert len(files) >= 11
    for path in (Path("map.svg"), *files):
        assert STEERING.search(path.name) is None and path.resolve().parent.parent in (tmp_path, tmp_path.parent)
        if path.suffix in (".svg", ".gpx", ".kml"):
            root = etree.fromstring(path.read_bytes())
            tags = {etree.QName(one).localname for one in root.iter() if isinstance(one.tag, str)}
            assert not tags & {"script", "img", "iframe", "foreignObject"}
        elif path.suffix == ".csv":
            for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")):
                assert not [cell for cell in row if re.match(r"[=+\-@\t\r](?![\d.]+$)", cell)], path
        elif path.suffix == ".igc":
            assert re.fullmatch(rb"[\x20-\x7e\r\n]*", path.read_bytes())
    # A description in KML is shown as HTML by those who follow the letter: it must be text there too.
    (kml,) = [path for path in files if path.name.startswith("set") and path.suffix == ".kml"]
    assert b"<script" not in kml.read_bytes()
