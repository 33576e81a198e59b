"""The README's pictures show what is made today: what was photographed is made anew and its sums compared."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

DEMO = Path(__file__).parents[2] / "demo"


def pictures() -> ModuleType:
    spec = importlib.util.spec_from_file_location("demo_pictures", DEMO / "pictures.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_pictures_are_of_what_is_made_today(tmp_path: Path) -> None:
    made = pictures()
    kept = dict(line.split() for line in made.SOURCES.read_text("utf-8").splitlines())
    today = dict(line.split() for line in made.sums(made.made(tmp_path)).splitlines())
    old = [name for name in made.NAMES if kept.get(name) != today[name]]
    assert old == [], "these pictures are old: run .venv/bin/python demo/pictures.py, and look at them"


def test_the_pictures_are_there_small_and_in_the_readme() -> None:
    readme = (DEMO.parent / "README.md").read_text("utf-8")
    for name in pictures().NAMES:
        picture = DEMO / "pictures" / f"{name}.png"
        assert picture.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n" and picture.stat().st_size < 120_000
        assert f"demo/pictures/{name}.png" in readme
