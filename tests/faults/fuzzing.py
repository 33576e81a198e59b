"""A mutation fuzzer over every reader and parser: what is spoilt is read, or refused in the tool's own words.

    python -m tests.faults.fuzzing [CASES] [--seed N] [--part K/N] [--only NAME] [--processes N]     (2,000,000 cases)

Each case must end within two seconds of the processor and without much memory, in a result or in a `TaskdbError` with a
message; anything else is a failure, printed with the bytes that bring it about. What is done is kept in
`.fuzzing/SEED.jsonl`: stop with Ctrl-C and give the same line again to go on, or split it with `--part 1/4` to
`--part 4/4`. At the end stands what each reader was given, refused, took longest for, and where it failed.
"""

from __future__ import annotations

import argparse
import base64
import contextlib
import json
import multiprocessing
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from multiprocessing.sharedctypes import Synchronized
from pathlib import Path
from typing import Any

from taskdb.errors import TaskdbError
from tests.faults.fuzz_targets import Target, targets

LONGEST_S = 2.0
"""No input of a few kilobytes takes longer to read or to refuse."""

MOST_GROWN_KB = 200 << 10
"""So much more memory than the process ever took, at most, for one such input; legs through airspace are measured in
portions of half of that."""

MOST_MEMORY_BYTES = 3 << 30

SHARE = 10_000
"""So many cases go to one process, which is then done: share K of a seed is the same cases in every run."""

STUCK_S = 120.0
"""A process without a new case for so long is ended from outside: what hangs in C never comes back to be told."""

FOLDER = Path(".fuzzing")
_STOPS = (signal.SIGINT, signal.SIGTERM)


@dataclass
class Met:
    """What one reader was given, and how that ended."""

    read: int = 0
    refused: int = 0
    failed: int = 0
    slowest_s: float = 0.0
    grown_kb: int = 0

    def add(self, other: Met) -> None:
        self.read += other.read
        self.refused += other.refused
        self.failed += other.failed
        self.slowest_s = max(self.slowest_s, other.slowest_s)
        self.grown_kb = max(self.grown_kb, other.grown_kb)


@dataclass
class Fuzzed:
    """What a run found: how each reader fared, and the failures with what brings them about."""

    met: dict[str, Met] = field(default_factory=dict)
    failures: list[str] = field(default_factory=list)

    @property
    def read(self) -> int:
        return sum(one.read for one in self.met.values())

    @property
    def refused(self) -> int:
        return sum(one.refused for one in self.met.values())

    def add(self, other: Fuzzed) -> None:
        for name, one in other.met.items():
            self.met.setdefault(name, Met()).add(one)
        self.failures += other.failures


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


# -- one case ----------------------------------------------------------------------------------------------------


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


def _most_kb() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def try_one(target: Target, content: bytes, result: Fuzzed) -> None:
    """Let a target read; note how that ended."""
    met = result.met.setdefault(target.name, Met())
    before_kb, began = _most_kb(), time.process_time()
    what = None
    try:
        with _limited():
            target.read(content)
        met.read += 1
    except TaskdbError as error:
        met.refused += 1
        what = None if error.message else "a refusal without a message"
    except _TooLong:
        what = f"longer than {LONGEST_S:g} s"
    except Exception as error:
        what = f"{type(error).__name__}: {error}"[:300]
    met.slowest_s = max(met.slowest_s, time.process_time() - began)
    grown_kb = _most_kb() - before_kb
    met.grown_kb = max(met.grown_kb, grown_kb)
    if grown_kb > MOST_GROWN_KB:
        what = what or f"{grown_kb >> 10} MB more"
    if what is not None:
        met.failed += 1
        result.failures.append(told(target, content, what))


def told(target: Target, content: bytes, what: str) -> str:
    """Return a failure in words, with the bytes that bring it about."""
    return f"{target.name}: {what}\n    base64 {base64.b64encode(content).decode()}"


def drawn(cases: int, seed: int | str, only: str | None = None) -> Iterator[tuple[Target, bytes]]:
    """Yield a number of cases; the same seed gives the same ones."""
    source = random.Random(seed)
    chosen = [target for target in targets() if only is None or target.name == only]
    for target in source.choices(chosen, [target.weight for target in chosen], k=cases):
        yield target, source.randbytes(source.randrange(60)) if source.random() < 0.02 else spoilt(source, target.seeds)


def fuzz(cases: int, seed: int | str, only: str | None = None) -> Fuzzed:
    """Run a number of cases."""
    result = Fuzzed()
    for target, content in drawn(cases, seed, only):
        try_one(target, content, result)
    return result


# -- many, in shares ---------------------------------------------------------------------------------------------


@dataclass
class Run:
    """A number of cases of a seed, and the file in which stands what is done of them."""

    cases: int
    seed: int
    only: str | None

    @property
    def file(self) -> Path:
        return FOLDER / f"{self.seed}{'' if self.only is None else '-' + self.only.replace(' ', '-')}.jsonl"

    def size(self, share: int) -> int:
        return min(SHARE, self.cases - share * SHARE)

    def shares(self) -> range:
        return range(-(-self.cases // SHARE))

    def done(self) -> dict[int, Fuzzed]:
        """Return what the file says of shares that were run whole; a line that a kill cut off is none."""
        found = {}
        for line in self.file.read_bytes().splitlines() if self.file.exists() else ():
            with contextlib.suppress(ValueError):
                kept = json.loads(line)
                if kept["cases"] == self.size(kept["share"]):
                    met = {name: Met(**values) for name, values in kept["met"].items()}
                    found[kept["share"]] = Fuzzed(met, kept["failures"])
        return found

    def keep(self, share: int, result: Fuzzed) -> None:
        met = {name: vars(one) for name, one in result.met.items()}
        line = {"share": share, "cases": self.size(share), "met": met, "failures": result.failures}
        FOLDER.mkdir(exist_ok=True)
        with self.file.open("ab", buffering=0) as stream:  # in one write: several parts may share the file
            stream.write(b"\n" + json.dumps(line).encode())


def _work(run: Run, share: int, folder: Path, at: Synchronized[int], answer: Connection) -> None:
    for stop in _STOPS:
        signal.signal(stop, signal.SIG_IGN)  # who started it ends it
    tempfile.tempdir = str(folder)
    os.environ["TASKDB_CACHE"] = str(folder / "cache")
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY_BYTES, MOST_MEMORY_BYTES))
    warnings.simplefilter("error")
    sys.unraisablehook = lambda _: None  # as the command has it
    result = Fuzzed()
    for number, (target, content) in enumerate(drawn(run.size(share), f"{run.seed}/{share}", run.only)):
        at.value = number
        try_one(target, content, result)
    answer.send(result)


class _Share:
    """A process with its share, and where it is."""

    def __init__(self, run: Run, share: int, folder: Path) -> None:
        self.run, self.share = run, share
        self._at: Synchronized[int] = multiprocessing.Value("q", 0)
        self._seen, self._since = -1, time.monotonic()
        self.answer, theirs = multiprocessing.Pipe(duplex=False)
        self.process: BaseProcess = multiprocessing.Process(target=_work, args=(run, share, folder, self._at, theirs))
        self.process.start()
        theirs.close()

    def is_stuck(self) -> bool:
        if self._at.value != self._seen:
            self._seen, self._since = self._at.value, time.monotonic()
        return time.monotonic() - self._since > STUCK_S

    def result(self) -> Fuzzed:
        """Return what the process found; where it died, the case on which it did."""
        with contextlib.suppress(EOFError):
            found: Fuzzed = self.answer.recv()
            self.process.join()
            return found
        self.process.join()
        cases = drawn(self.run.size(self.share), f"{self.run.seed}/{self.share}", self.run.only)
        target, content = next(case for number, case in enumerate(cases) if number == self._at.value)
        return Fuzzed({target.name: Met(failed=1)}, [told(target, content, f"ended by {self.process.exitcode}")])


def run_shares(run: Run, shares: Sequence[int], processes: int) -> Iterator[tuple[int, Fuzzed]]:
    """Yield the result of each share as it ends; those under way are let go of when the caller stops."""
    left, busy, folder = list(reversed(shares)), list[_Share](), Path(tempfile.mkdtemp(prefix="fuzzing-"))
    try:
        while left or busy:
            while left and len(busy) < processes:
                busy.append(_Share(run, left.pop(), folder))
            ended: Any = wait([one.answer for one in busy], timeout=5.0)
            for one in [one for one in busy if one.answer in ended]:
                busy.remove(one)
                yield one.share, one.result()
            for one in busy:
                if one.is_stuck():
                    one.process.kill()
    finally:
        for one in busy:
            one.process.kill()
            one.process.join()
        shutil.rmtree(folder)


def table(result: Fuzzed) -> str:
    """Return the summary: a line a reader."""
    lines = ["| reader | inputs | read | refused | failed | slowest, ms | most memory, MB |", "| --- " * 7 + "|"]
    for name, one in sorted(result.met.items()):
        given = one.read + one.refused + one.failed
        lines.append(
            f"| {name} | {given:,} | {one.read:,} | {one.refused:,} | {one.failed:,} | {one.slowest_s * 1000:.0f} "
            f"| {one.grown_kb / 1024:.0f} |"
        )
    return "\n".join(lines)


def _part(text: str) -> tuple[int, int]:
    number, _, of = text.partition("/")
    if not 1 <= int(number) <= int(of):
        raise ValueError(text)
    return int(number), int(of)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0] if __doc__ else None)
    parser.add_argument("cases", nargs="?", type=int, default=2_000_000)
    parser.add_argument("--seed", type=int, default=random.randrange(10**6))
    parser.add_argument("--part", type=_part, default=(1, 1), metavar="K/N", help="only the Kth of N parts")
    parser.add_argument("--only", help="one target by name")
    parser.add_argument("--processes", type=int, default=2)
    given = parser.parse_args()
    for stop in _STOPS:  # in the background a shell has SIGINT ignored
        signal.signal(stop, signal.default_int_handler)
    run = Run(given.cases, given.seed, given.only)
    number, of = given.part
    total, wanted = Fuzzed(), list(run.shares())[number - 1 :: of]
    done = {share: result for share, result in run.done().items() if share in wanted}
    for result in done.values():
        total.add(result)
    began, count = time.perf_counter(), sum(map(run.size, done))
    print(f"seed {run.seed}: {count:,} of {sum(map(run.size, wanted)):,} cases stand in {run.file}", flush=True)
    ended = "all done"
    try:
        for share, result in run_shares(run, [share for share in wanted if share not in done], given.processes):
            run.keep(share, result)
            total.add(result)
            count += run.size(share)
            for failure in result.failures:
                print(failure, flush=True)
    except KeyboardInterrupt:
        ended = f"stopped; go on with --seed {run.seed}"
    print(table(total))
    took = time.perf_counter() - began
    print(
        f"seed {run.seed}: {count:,} cases, {took:.0f} s now; {total.read:,} read, {total.refused:,} refused, "
        f"{len(total.failures):,} failures; {ended}"
    )
    return 1 if total.failures or ended != "all done" else 0


if __name__ == "__main__":
    sys.exit(main())
