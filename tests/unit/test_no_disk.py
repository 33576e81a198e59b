"""That this tier has no disk is watched (conftest.py), and the watch sees it."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

import pytest


def test_whoever_writes_here_fails() -> None:
    place = Path(__file__).with_name("never-written")
    with pytest.raises(AssertionError, match="never-written"):
        place.write_text("x")
    with pytest.raises(AssertionError, match="never-written"):
        place.mkdir()
    with pytest.raises(AssertionError, match="never-written"):
        sqlite3.connect(place)
    with pytest.raises(AssertionError, match="never-written"):
        os.open(place, os.O_CREAT)
    assert not place.exists()
