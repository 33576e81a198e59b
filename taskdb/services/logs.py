"""Flight logs as a command takes them: from files, folders and zips, one at a time, under names that say nobody's.

A log's file stays where it is. What is handed on is what it tells of the flight, and a checksum by which it is known.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.flown import LOG_CHECKSUM_DIGITS
from taskdb.core.numbers import counted
from taskdb.errors import InputError, TaskdbError
from taskdb.files.gathering import Gathered, gather

if TYPE_CHECKING:
    from taskdb.core.flights.fixes import Log
    from taskdb.core.flights.places import StoodPlace

SUFFIX = ".igc"
LARGEST_LOG_BYTES = 64_000_000
"""A day at ten fixes a second, with every extension that there is, stays below this."""
_SHOWN_DIGITS = 8


@dataclass(frozen=True, slots=True)
class LogFile:
    """A log as it was read: its number, the name under which it is told, its checksum (None: not read), what it tells.

    Where `log` is None, `problem` says why: it cannot be read, or is the same file as one before it.
    """

    number: int
    name: str
    checksum: str | None
    log: Log | None
    problem: str | None = None


def read_logs(paths: Sequence[str], progress: Callable[[str], None] | None = None) -> Iterator[LogFile]:
    """Yield the logs that paths lead to, in their order; `progress` is told which is read.

    Raises NotFoundError for a path that is not there and InputError for one that holds no log, before any is read;
    InputError where none of them can be read.
    """
    from taskdb.formats.registry import read_flight

    seen: dict[str, str] = {}
    problems: list[str] = []
    count = 0
    for file in gather(paths, SUFFIX, LARGEST_LOG_BYTES):
        count += 1
        if progress is not None:
            progress(f"log {file.number:,} of {file.total:,}")
        name, checksum = _told(file)
        if checksum is not None and checksum in seen:
            yield LogFile(file.number, name, checksum, None, f"It is the same file as {seen[checksum]}.")
            continue
        try:
            if file.content is None:
                assert file.error is not None  # one of both is there
                raise file.error
            log = read_flight(io.BytesIO(file.content))
        except TaskdbError as error:
            problems.append(f"{name}: {error.message}")
            yield LogFile(file.number, name, checksum, None, error.message)
            continue
        assert checksum is not None  # it was read
        seen[checksum] = name
        yield LogFile(file.number, name, checksum, log)
    if not seen:
        raise _none_read(count, problems)


@dataclass(frozen=True, slots=True)
class StandsRead:
    """Where the gliders of many logs stood, how many logs were read, and what is to be said of the others."""

    places: tuple[StoodPlace, ...]
    logs: int
    left_out: tuple[str, ...]

    @property
    def words(self) -> str:
        """Say how much was read: `31 logs, gliders stood at 3 places; 1 log told nothing`."""
        told = f"{counted(self.logs, 'log')}, gliders stood at {counted(len(self.places), 'place')}"
        return told + (f"; {counted(len(self.left_out), 'log')} told nothing" if self.left_out else "")


def read_stands(paths: Sequence[str], progress: Callable[[str], None] | None = None) -> StandsRead:
    """Return where gliders stood before take-off and after landing; a log without a date or a stand says nothing.

    Raises what `read_logs` does.
    """
    from taskdb.core.flights.airborne import Motion, stood
    from taskdb.core.flights.places import Stood, gather_places

    found: list[Stood] = []
    left_out: list[str] = []
    count = 0
    for file in read_logs(paths, progress):
        count += file.log is not None
        if file.log is None or file.log.date is None:
            left_out.append(f"{file.name}: {file.problem or 'It has no date.'}")
            continue
        for stand, is_take_off in zip(stood(Motion.of(file.log.track)), (True, False), strict=True):
            if stand is not None:
                found.append(Stood(stand.position, file.log.date, is_take_off, stand.gnss_altitude_m))
    return StandsRead(gather_places(found), count, tuple(left_out))


def _told(file: Gathered) -> tuple[str, str | None]:
    """Return the name under which a log is told, and its checksum."""
    from taskdb.formats.recorder.whose import may_say_whose

    if file.content is None:
        return (f"log {file.number}" if may_say_whose(file.name, b"") else file.name), None
    checksum = hashlib.sha256(file.content).hexdigest()[:LOG_CHECKSUM_DIGITS]
    if may_say_whose(file.name, file.content):
        return f"log {file.number} ({checksum[:_SHOWN_DIGITS]})", checksum
    return file.name, checksum


def _none_read(count: int, problems: Sequence[str]) -> InputError:
    message = problems[0] if count == 1 else f"None of {counted(count, 'log')} can be read. {problems[0]}"
    return InputError("no-log", message, hint="Give flight recorder files (.igc).", details={"lines": list(problems)})
