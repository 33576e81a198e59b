"""DEVELOPERS.md and the README name files that are there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
NAMED = re.compile(r"`([\w./-]+\.(?:py|sh|md|txt|html|toml|csv))`")
ABOUT_OTHERS = {"x.html", "x.pdf", "x.svg", "plain.py", "handout", "flown.csv", "region.csv", "NAME.py"}
"""Files that an example makes, or one in each of several rooms."""
UNDER = ("", "taskdb/", "tests/", "tests/unit/", "taskdb/core/")


@pytest.mark.parametrize("page", ["DEVELOPERS.md", "README.md"])
def test_every_file_that_is_named_is_there(page: str) -> None:
    names = NAMED.findall((ROOT / page).read_text(encoding="utf-8"))
    assert page == "README.md" or len(names) > 100
    known = {path.name for room in ("taskdb", "tests", "demo") for path in (ROOT / room).rglob("*.*")}
    known |= {path.name for path in ROOT.iterdir()}
    missing = [
        name
        for name in names
        if name.rpartition("/")[2] not in ABOUT_OTHERS
        and not any((ROOT / under / name).exists() for under in UNDER)
        and ("/" in name or name not in known)
    ]
    assert missing == []
