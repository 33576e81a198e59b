"""Every reader and parser takes spoilt input or refuses it in words: twenty thousand cases, and each good one is read.

The same with two million cases: `python -m tests.faults.fuzzing`.
"""

from __future__ import annotations

import pytest

from taskdb.errors import TaskdbError
from tests.faults.fuzzing import Fuzzed, Target, fuzz, targets, try_one

pytestmark = pytest.mark.slow

CASES = 20_000
PARTS = 4


# What rasterio cannot tell of a broken file it says on standard error, from within its library.
@pytest.mark.filterwarnings("ignore:Exception ignored in.*rasterio:pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize("part", range(PARTS))
def test_spoilt_input_is_read_or_refused_in_words(part: int, seed: int) -> None:
    found = fuzz(CASES // PARTS, seed + part)
    assert found.failures == [], f"seed {seed + part}"
    assert found.read > CASES // PARTS // 10, "hardly anything was read: the cases say little"
    assert found.refused > CASES // PARTS // 10


@pytest.mark.parametrize("target", targets(), ids=lambda target: target.name)
def test_each_target_reads_some_of_what_it_starts_from(target: Target) -> None:
    read = 0
    for seed in target.seeds:
        try:
            target.read(seed)
        except TaskdbError:
            continue
        read += 1
    assert read > 0


def test_a_crash_a_hang_and_a_refusal_without_words_would_be_seen() -> None:
    def crash(_: bytes) -> None:
        raise IndexError("past the end")

    def hang(_: bytes) -> None:
        while True:
            pass

    def refuse(_: bytes) -> None:
        raise TaskdbError("x", "")

    found = Fuzzed()
    for read in (crash, hang, refuse):
        try_one(Target("x", (b"",), read), b"", found)
    assert [failure.split("\n")[0] for failure in found.failures] == [
        "x: IndexError: past the end",
        "x: longer than 2 s",
        "x: a refusal without a message",
    ]
