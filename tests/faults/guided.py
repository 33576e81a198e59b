"""Inputs that are led by what they reach: a fuzzer that keeps what runs new lines, by hand.

    python3.11 -m venv guided && guided/bin/pip install atheris '.[test]'     (no dependency of the tests, not in CI)
    guided/bin/python -m tests.faults.guided ["airspace aixm" "profile" …] [--seconds 60]     (all, a minute each)

What is kept stays in `.fuzzing/guided/NAME`, and the next run goes on from there. A failure is printed as `fuzzing`
prints it, and the search goes on; what was found becomes a fixed case of a test with its mend.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import sys
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["taskdb"], enable_loader_override=False):
    from tests.faults.fuzz_targets import Target, targets
    from tests.faults.fuzzing import Fuzzed, try_one

MOST_BYTES = 20_000


def search(target: Target, seconds: int, seed: int) -> None:
    """Search for a time; ends the process."""
    result = Fuzzed()
    corpus = Path(".fuzzing", "guided", target.name.replace(" ", "-"))
    corpus.mkdir(parents=True, exist_ok=True)
    for content in target.seeds:
        (corpus / hashlib.sha256(content).hexdigest()[:16]).write_bytes(content)

    def one(content: bytes) -> None:
        try_one(target, content, result)
        for failure in result.failures:
            print(failure, flush=True)
        result.failures.clear()

    how = [f"-max_total_time={seconds}", f"-max_len={MOST_BYTES}", f"-seed={seed}", "-timeout=60", "-verbosity=0"]
    atheris.Setup([sys.argv[0], *how, "-rss_limit_mb=3000", "-print_final_stats=1", str(corpus)], one)
    atheris.Fuzz()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0] if __doc__ else None)
    parser.add_argument("names", nargs="*", help="readers as the table of `fuzzing` names them; all without one")
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    for target in targets():
        if given.names and target.name not in given.names:
            continue
        print(f"-- {target.name}", flush=True)
        child = os.fork()
        if child == 0:
            search(target, given.seconds, given.seed)
            os._exit(0)
        _, status = os.waitpid(child, 0)
        if status:
            print(f"{target.name}: ended by status {status}", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
