"""Take each defence out, in a copy, and see that its test fails: a test that passes without what it is for is none.

    python -m tests.faults.undefended [WORD]        (only defences whose threat or file holds the word)

The checkout is copied into a private folder and never touched. A defence is a piece of the code and what stands there
without it; one whose piece is no longer in its file is told, so that the list cannot rot unseen.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Defence:
    """A threat, the file and the piece of it that defends, what stands there without, and the tests that must fail."""

    threat: str
    file: str
    piece: str
    without: str
    tests: str


ENDLESS = "tests/faults/test_files_without_end.py"
PACKS = "tests/faults/test_packs_made_to_harm.py"
LINKS = "tests/faults/test_targets_that_lead_elsewhere.py"
LEFT = "tests/faults/test_left_behind.py"
NAMES = "tests/cli/test_hostile_names.py"
PATHS = "tests/cli/test_paths_of_every_kind.py"
SIGNS = "tests/services/test_signs_that_searches_know.py"
DEEP = "tests/cli/test_documents_too_deep.py"
INTAKE = "tests/formats/test_intake_gpx_kml_geojson.py"
FORMULAS = "tests/formats/test_formula_cells.py"
TOML = "tests/unit/test_toml_bounds.py"
PAGES = "tests/report/test_published_pages.py"
LINE = f"{ENDLESS}::test_a_file_that_is_too_much_of_something_is_refused"

DEFENCES = (
    Defence("a page that lets foreign scripts run", "taskdb/report/pages/writing.py",
            "script-src {_OWN}", "script-src {_OWN} 'unsafe-inline'", f"{PAGES} -k allows_no_script"),
    Defence("an address of background pictures that widens a policy", "taskdb/services/handing_out/tiles.py",
            "if match is None or sorted", "if match is not None and sorted",
            "tests/report/test_published_map.py -k refused"),
    Defence("entities", "taskdb/formats/markup/xml.py",
            "self.parser.EntityDeclHandler = self._entity", "pass", INTAKE),
    Defence("external references", "taskdb/formats/markup/xml.py",
            "self.parser.StartDoctypeDeclHandler = self._doctype", "pass", INTAKE),
    Defence("XML without end of nesting", "taskdb/formats/markup/xml.py",
            "if len(self.stack) >= DEEPEST:", "if False:", INTAKE),
    Defence("a tag without end", "taskdb/formats/markup/xml.py",
            "if fed - self.parser.CurrentByteIndex > LONGEST_TOKEN_BYTES:", "if False:", f"{LINE}[one tag.gpx]"),
    Defence("elements without end", "taskdb/formats/markup/xml.py",
            "if self.kept > self.most_kept:", "if False:", f"{LINE}[elements.gpx]"),
    Defence("200 MB in one line", "taskdb/formats/limits.py",
            'if b"\\n" not in piece and b"\\r" not in piece:', "if False:", f"{LINE}[one line of commas.csv]"),
    Defence("JSON without end", "taskdb/formats/waypoints/geojson.py",
            "    require_size(", "    (lambda *_: None)(", f"{LINE}[brackets.geojson]"),
    Defence("lists without end", "taskdb/formats/limits.py", "    if count > most:", "    if False:",
            f"{ENDLESS}::test_documents_that_are_held_as_a_whole_are_refused_by_size_or_lists"),
    Defence("an area of edges that all cross each other", "taskdb/core/airspace/edges.py",
            "if int(counts.sum()) > MOST_PAIRS:", "if False:", "tests/unit/test_airspace_rings.py -k tangle"),
    Defence("an area of points without end", "taskdb/core/airspace/rings.py",
            "if len(raw) > MOST_VERTICES:", "if False:", "tests/unit/test_airspace_rings.py -k tangle"),
    Defence("a gigabyte of junk", "taskdb/formats/text/decode.py",
            'if b"\\x00" in piece:', "if False:", f"{ENDLESS}::test_a_gigabyte_of_junk_is_refused_by_its_first_bytes"),
    Defence("a file too large", "taskdb/files/reading.py", "if status.st_size > limit_bytes:", "if False:",
            f"{ENDLESS}::test_more_than_a_gigabyte_is_refused_unread"),
    Defence("a pipe", "taskdb/files/reading.py", 'getattr(os, "O_NONBLOCK", 0)', "0", f"{PATHS} -k not_read"),
    Defence("a device", "taskdb/files/reading.py", "if not stat.S_ISREG(status.st_mode):", "if False:",
            f"{PATHS} -k not_read"),
    Defence("a pipe as a pack", "taskdb/files/zips.py", "with open_input(path) as stream:",
            'with path.open("rb") as stream:', f"{PACKS} -k pipe"),
    Defence("a path too long", "taskdb/files/standing.py", "os.path.exists(path)", "Path(path).exists()",
            f"{PATHS} -k written"),
    Defence("a bomb as KMZ", "taskdb/formats/markup/kml.py", "if self._left < 0:", "if False:", INTAKE),
    Defence("entries without end in a KMZ", "taskdb/formats/markup/kml.py",
            "    require_small_directory(stream)\n", "",
            f"{ENDLESS}::test_a_kmz_of_a_million_entries_is_refused"),
    Defence("entries without end in a pack", "taskdb/files/zips.py",
            "if directory_bytes(stream.read()) > _LARGEST_DIRECTORY_BYTES:", "if False:", PACKS),
    Defence("records that only readers find", "taskdb/untrusted/zip_directory.py",
            "max(_largest(tail, _END, 12, 4), _largest(tail, _END_64, 40, 8))", "_largest(tail, _END, 12, 4)", PACKS),
    Defence("a bomb as pack", "taskdb/files/pack.py",
            "if archive.getinfo(name).file_size != size:", "if False:", LINKS),
    Defence("a bomb as manifest", "taskdb/files/pack.py",
            " or archive.getinfo(MANIFEST).file_size > _MANIFEST_LIMIT", "", LINKS),
    Defence("a path out of the target", "taskdb/disk/paths.py",
            "    return all(part and", "    return True or all(part and", LINKS),
    Defence("a name that is a path", "taskdb/files/safe_names.py",
            '_FORBIDDEN.sub("_", letters)', "letters", LINKS),
    Defence("a linked folder in the target", "taskdb/files/pack.py",
            "    _require_no_links(target, files)\n", "", PACKS),
    Defence("a link under a private name", "taskdb/disk/private.py",
            "own.mkdir(mode=0o700)", "own.mkdir(mode=0o700, exist_ok=True)", LINKS),
    Defence("a plan that leads out of its folder", "taskdb/disk/putting_back.py",
            "    if not _is_inside(target, swap.path):\n        return\n", "", LEFT),
    Defence("taking away what is in use", "taskdb/disk/private.py",
            "if is_free is False or not (", "if not (is_free is False or ", LEFT),
    Defence("others who read what is being written", "taskdb/files/writing.py",
            "os.open(path, FRESH, 0o600)", "os.open(path, FRESH, 0o666)", PACKS),
    Defence("others who read what is staged", "taskdb/files/staging.py",
            "os.open(path, FRESH, 0o600)", "os.open(path, FRESH, 0o666)", PACKS),
    Defence("LIKE", "taskdb/store/task_search.py",
            'func.replace(column, part, "") != column', 'column.like("%" + part + "%")', SIGNS),
    Defence("signs that find everything", "taskdb/core/filters/waypoints.py",
            'return "" if self.words or self.text is None else self.text.strip()', 'return ""', SIGNS),
    Defence("SQL in a code", "taskdb/store/waypoints.py", "_state.code == text)",
            "__import__('sqlalchemy').text(f\"waypoint_state.code = '{text}'\"))", SIGNS),
    Defence("a terminal that is steered", "taskdb/cli/render/console.py",
            'return _STEERING.sub(lambda match: match[0].encode("unicode_escape").decode("ascii"), text)',
            "return text", NAMES),
    Defence("a terminal that is steered by JSON", "taskdb/cli/frame/answer.py",
            "return re.sub(_STEERING,", "return re.sub('(?!)',", NAMES),
    Defence("direction marks", "taskdb/cli/render/console.py", "\\u061c\\u200e\\u200f", "", NAMES),
    Defence("formulas", "taskdb/formats/text/cells.py",
            "return \"'\" + text if _FORMULA.match(text) else text", "return text", FORMULAS),
    Defence("formulas in rows given back", "taskdb/formats/waypoints/rejects.py",
            "map(neutralise_as_typed, cells[:width])", "cells[:width]", FORMULAS),
    Defence("formulas in flown records", "taskdb/formats/tasks/flown_csv.py",
            "neutralise(value) if isinstance(value, str) else value", "value",
            "tests/services/test_flown_and_found.py"),
    Defence("formulas in profiles", "taskdb/formats/text/profile_text.py", "neutralise(", "str(", FORMULAS),
    Defence("script in GPX and KML", "taskdb/formats/markup/xml.py", '("<", "&lt;"), ', "", NAMES),
    Defence("script in a sheet", "taskdb/report/page_template.py", "autoescape=True", "autoescape=False",
            "tests/unit/test_sheet_page.py"),
    Defence("script in a notice", "taskdb/report/page_template.py", "autoescape=True", "autoescape=False",
            "tests/unit/test_history_words_and_pages.py"),
    Defence("script in a map", "taskdb/report/svg.py", 'escape(text, quote=False)', "text",
            "tests/unit/test_map_drawing.py"),
    Defence("TOML keys of many parts", "taskdb/untrusted/toml_text.py",
            "if len(line) > LONGEST_LINE:", "if False:", TOML),
    Defence("TOML too large", "taskdb/untrusted/toml_text.py", "if len(text) > LARGEST_LETTERS:", "if False:", TOML),
    Defence("TOML too deep", "taskdb/untrusted/toml_text.py", "    _require_shallow(values)\n", "", TOML),
    Defence("GeoJSON too deep", "taskdb/formats/markup/geojson.py", "except RecursionError:",
            "except ZeroDivisionError:", DEEP),
    Defence("a patch too deep", "taskdb/services/sets/patches.py", "except (ValueError, RecursionError)",
            "except ValueError", DEEP),
    Defence("a plan too deep", "taskdb/services/checks/fixing.py", "TypeError, RecursionError)", "TypeError)", DEEP),
    Defence("a dump too deep", "taskdb/store/dump.py", "except (ValueError, RecursionError):", "except ValueError:",
            DEEP),
    Defence("a length without end", "taskdb/core/facilities.py", 'if metres == float("inf"):', "if False:",
            "tests/unit/test_facilities_text.py"),
)  # fmt: skip


def without(defence: Defence, copy: Path) -> bool:
    """Take a defence out of the copy; say whether it was there."""
    path = copy / defence.file
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(defence.piece, defence.without), encoding="utf-8")
    return defence.piece in text


def fails(defence: Defence, copy: Path) -> bool:
    """Say whether the defence's tests fail in the copy; a test that cannot even be collected does not count."""
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *_arguments(defence.tests)],
        cwd=copy,
        env={**os.environ, "PYTHONPATH": str(copy)},
        capture_output=True,
        check=False,
    )
    return done.returncode == 1 and b"error" not in done.stdout.splitlines()[-1]


def _arguments(tests: str) -> list[str]:
    files, _, word = tests.partition(" -k ")
    return [files, "-k", word] if word else [files]


def main() -> int:
    word = sys.argv[1] if len(sys.argv) > 1 else ""
    chosen = [one for one in DEFENCES if word in one.threat or word in one.file]
    unseen = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".*", "__pycache__", "build", "dist"))
        for defence in chosen:
            whole = (copy / defence.file).read_text(encoding="utf-8")
            there = without(defence, copy)
            seen = there and fails(defence, copy)
            (copy / defence.file).write_text(whole, encoding="utf-8")
            unseen += not seen
            told = "its test fails" if seen else "NOT SEEN" if there else "NOT THERE"
            print(f"{told:15} without the defence against {defence.threat} ({defence.file})", flush=True)
    print(f"{len(chosen)} defences, {unseen} unseen")
    return 1 if unseen else 0


if __name__ == "__main__":
    sys.exit(main())
