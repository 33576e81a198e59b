"""Commands that are killed at random moments lose and halve nothing: kills of all kinds on a file, some on a server.

The same with five hundred: `python -m tests.faults.kills`; on a server: `… --store URL`.
"""

from __future__ import annotations

import signal

import pytest

from tests.faults.kills import kill

pytestmark = pytest.mark.slow

KILLS = {"sqlite": 19, "postgresql": 11}
"""Each kind of command once."""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_commands_killed_at_random_moments_lose_and_halve_nothing(empty_store_url: str, seed: int) -> None:
    url = empty_store_url if "://" in empty_store_url else None
    kills = KILLS["postgresql" if url else "sqlite"]
    tally = kill(kills, seed, url)
    assert tally.kills == kills
    assert any("nothing kept" in fell for fell in tally.fell), tally.fell
