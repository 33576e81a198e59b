"""Rows of a table that are not read to their end are thrown away in silence, before or after the file is closed."""

from __future__ import annotations

import gc
import io
import sys
from typing import Any

import pytest

from taskdb.formats.text.delimited import open_table
from taskdb.formats.text.intake import ReadOptions
from taskdb.formats.text.table import BATCH


@pytest.mark.parametrize("is_closed_before", [True, False])
def test_a_table_left_half_read_is_thrown_away_in_silence(
    monkeypatch: pytest.MonkeyPatch, is_closed_before: bool
) -> None:
    unraisable: list[Any] = []
    monkeypatch.setattr(sys, "unraisablehook", unraisable.append)
    rows = b"".join(b"%05d,Field,48.5,11.5\n" % number for number in range(2 * BATCH))
    stream = io.BytesIO(b"code,name,latitude_deg,longitude_deg\n" + rows)
    table = open_table(stream, ReadOptions())
    assert len(next(iter(table.batches)).rows) == BATCH
    if is_closed_before:
        stream.close()
    del table
    gc.collect()
    assert unraisable == []
    assert stream.closed is is_closed_before
