"""The demo runs from its one command to its last line, and leaves what it promises."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]


@pytest.mark.skipif(not (ROOT / ".venv/bin/taskdb").exists(), reason="the demo would install into .venv first")
def test_the_demo_runs_through_and_says_where_everything_lies():
    done = subprocess.run(["sh", "demo/run.sh"], cwd=ROOT, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr
    out = ROOT / "demo/out"
    assert "Everything lies in demo/out" in done.stdout
    manifest = json.loads((out / "files/MANIFEST.json").read_text(encoding="utf-8"))
    assert len({file["task"] for file in manifest["files"]}) == 4
    day = json.loads((out / "day-3/MANIFEST.json").read_text(encoding="utf-8"))
    assert "Day 3 1 B@2" in {file.get("task") for file in day["files"]}
    assert all((out / name).stat().st_size > 1000 for name in ("proposals.html", "cover.svg"))
    sheet = (out / "sheet.html").read_text(encoding="utf-8")
    assert sheet.count("<svg") >= 4
    assert "not for primary navigation" in sheet.lower()
