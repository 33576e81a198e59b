"""Commands that are killed at random moments lose and halve nothing: forty kills of eleven kinds of command.

The same with five hundred: `python -m tests.faults.kills`.
"""

from __future__ import annotations

import random
import signal

import pytest

from tests.faults.kills import kill

KILLS = 40


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_commands_killed_at_random_moments_lose_and_halve_nothing() -> None:
    tally = kill(KILLS, random.randrange(10**6))
    assert tally.kills == KILLS
    assert any("nothing kept" in fell for fell in tally.fell), tally.fell
