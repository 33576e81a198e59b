"""Processes that edit one store at once: every edit lands, none fails, no number comes twice, readers go on.

The same with 8 processes of 200 edits: `python -m tests.faults.writers`; with 16 on a server: `… 16 200 --store URL`.
"""

from __future__ import annotations

import pytest

from tests.faults.writers import crowd

pytestmark = pytest.mark.slow


def test_edits_of_many_processes_all_land_beside_a_reader(empty_store_url: str, seed: int) -> None:
    # On a server without the lock that writers wait for, the first edits of sixteen collide.
    processes, edits = (16, 6) if "://" in empty_store_url else (8, 12)
    found = crowd(empty_store_url, processes, edits, seed)
    assert found.edits == processes * edits
    assert found.reads > 0


def test_nobody_gives_up_while_many_measure_tasks_of_areas_with_the_processor_kept_busy(
    empty_store_url: str, seed: int
) -> None:
    found = crowd(empty_store_url, 6, 3, seed, tasks=True, busy=1)
    assert (found.edits, found.refused) == (18, 0)
