"""A mutation fuzzer over every reader and parser: what is spoilt is read, or refused in the tool's own words.

    python -m tests.faults.fuzzing [CASES] [--seed N] [--only NAME] [--processes N]     (2,000,000 by default)

Each case must end within two seconds, in a result or in a `TaskdbError` with a message; anything else is a failure,
printed with the bytes that bring it about. At the end stand the cases a second and the greatest memory.
"""

from __future__ import annotations

import argparse
import base64
import contextlib
import multiprocessing
import random
import resource
import signal
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field

from taskdb.errors import TaskdbError
from tests.faults.fuzz_targets import Target, targets

LONGEST_S = 2.0
"""No input of a few kilobytes takes longer to read or to refuse."""

MOST_MEMORY_BYTES = 3 << 30


@dataclass
class Fuzzed:
    """What a run found: cases read, refused, and the failures with what brings them about."""

    read: int = 0
    refused: int = 0
    slowest_s: float = 0.0
    slowest: str = ""
    failures: list[str] = field(default_factory=list)


class _TooLong(BaseException):
    pass


# -- how it is spoilt --------------------------------------------------------------------------------------------

PIECES = (
    b"", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b'"', b"'", b"<", b"&", b"]]>", b"<!DOCTYPE x [<!ENTITY a 'b'>]>",
    b"&a;", b"<!--", b"<![CDATA[", b"1e999", b"-1e-999", b"NaN", b"Infinity", b"[", b"{", b"null", b"true", b"\\ud800",
    b"\r", b"\n", b"\r\n", b"\t", b",", b";", b":", b"@", b"=", b"..", b"9" * 400, b"-", b"+", b"1_0", b"0x10", b"%s",
    "°".encode(), "′".encode(), "″".encode(), "Ω\u0301".encode(), "\u202e".encode(), "\u2028".encode(), b"\xf0\x9f\x9b",
    "١٢".encode(), "²".encode(), "\ufeff".encode(), b"N", b"E", b"deg", b"km", b"PK\x03\x04", b"\x1b[2J",
)  # fmt: skip


def spoilt(source: random.Random, seeds: tuple[bytes, ...]) -> bytes:
    """Return a good input with some of its bytes changed, cut out, doubled, joined to another, or many times over."""
    content = bytearray(source.choice(seeds))
    for _ in range(source.choice((0, 1, 1, 1, 2, 2, 3, 5, 9))):
        at = source.randrange(len(content) + 1)
        size = source.choice((0, 1, 1, 2, 4, 8, 30, 200))
        kind = source.randrange(9)
        if kind == 0 and content:
            content[at % len(content)] ^= 1 << source.randrange(8)
        elif kind == 1:
            content[at : at + size] = source.choice(PIECES)
        elif kind == 2:
            content[at:at] = source.choice(PIECES)
        elif kind == 3:
            del content[at : at + size]
        elif kind == 4:
            content[at:at] = content[at : at + size] * source.choice((1, 2, 30))
        elif kind == 5:
            other = source.choice(seeds)
            content[at:] = other[source.randrange(len(other) + 1) :]
        elif kind == 6:
            content[at : at + size] = source.randbytes(size)
        elif kind == 7:
            content[at : at + 1] = str(source.choice((-1, 0, 60, 90, 91, 180, 181, 359.99999, 10**9, 2**63))).encode()
        else:
            del content[at:]
        if len(content) > 20_000:
            del content[20_000:]
    return bytes(content)


# -- running -----------------------------------------------------------------------------------------------------


@contextlib.contextmanager
def _limited() -> Iterator[None]:
    def stop(*_: object) -> None:
        raise _TooLong

    before = signal.signal(signal.SIGPROF, stop)
    # Of the processor: another busy process is no hang. Again each half second: one may fall where it is swallowed.
    signal.setitimer(signal.ITIMER_PROF, LONGEST_S, 0.5)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def try_one(target: Target, content: bytes, result: Fuzzed) -> None:
    """Let a target read; note how that ended."""
    began = time.perf_counter()
    try:
        with _limited():
            target.read(content)
        result.read += 1
    except TaskdbError as error:
        result.refused += 1
        if not error.message:
            result.failures.append(_told(target, content, "a refusal without a message"))
    except _TooLong:
        result.failures.append(_told(target, content, f"longer than {LONGEST_S:g} s"))
    except Exception as error:
        result.failures.append(_told(target, content, f"{type(error).__name__}: {error}"[:300]))
    took = time.perf_counter() - began
    if took > result.slowest_s:
        result.slowest_s, result.slowest = took, target.name


def _told(target: Target, content: bytes, what: str) -> str:
    return f"{target.name}: {what}\n    base64 {base64.b64encode(content).decode()}"


def fuzz(cases: int, seed: int, only: str | None = None) -> Fuzzed:
    """Run a number of cases; the same seed gives the same ones."""
    source = random.Random(seed)
    chosen = [target for target in targets() if only is None or target.name == only]
    drawn = source.choices(chosen, [target.weight for target in chosen], k=cases)
    result = Fuzzed()
    for target in drawn:
        content = source.randbytes(source.randrange(60)) if source.random() < 0.02 else spoilt(source, target.seeds)
        try_one(target, content, result)
    return result


def _run(given: tuple[int, int, str | None]) -> tuple[Fuzzed, int]:
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY_BYTES, MOST_MEMORY_BYTES))
    result = fuzz(*given)
    return result, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0] if __doc__ else None)
    parser.add_argument("cases", nargs="?", type=int, default=2_000_000)
    parser.add_argument("--seed", type=int, default=random.randrange(10**6))
    parser.add_argument("--only", help="one target by name")
    parser.add_argument("--processes", type=int, default=2)
    given = parser.parse_args()
    began = time.perf_counter()
    share = 20_000
    work = [
        (min(share, given.cases - start), given.seed + number, given.only)
        for number, start in enumerate(range(0, given.cases, share))
    ]
    total, most_kb = Fuzzed(), 0
    with multiprocessing.Pool(given.processes) as pool:
        for result, memory_kb in pool.imap_unordered(_run, work):
            total.read += result.read
            total.refused += result.refused
            total.failures += result.failures
            if result.slowest_s > total.slowest_s:
                total.slowest_s, total.slowest = result.slowest_s, result.slowest
            most_kb = max(most_kb, memory_kb)
            for failure in result.failures:
                print(failure, flush=True)
    took = time.perf_counter() - began
    print(
        f"seed {given.seed}: {given.cases:,} cases in {took:.0f} s ({given.cases / took:,.0f} a second); "
        f"{total.read:,} read, {total.refused:,} refused, {len(total.failures):,} failures; "
        f"slowest {total.slowest_s * 1000:.0f} ms ({total.slowest}); at most {most_kb / 1024:.0f} MB a process"
    )
    return 1 if total.failures else 0


if __name__ == "__main__":
    sys.exit(main())
