"""What the system says when a disk, a folder or its rights are at fault: each fault in its own words, with the way out.

A full disk, a missing right and a failing device look alike to a person and are mended in different ways.
"""

from __future__ import annotations

import errno
from typing import NamedTuple


class Fault(NamedTuple):
    """A fault: what it is, as the end of a sentence without its full stop, and what to do."""

    words: str
    hint: str


_ELSEWHERE = "or choose another place"
_RIGHTS = f"Ask whoever owns the file and its folder for the right to write there, {_ELSEWHERE}."
_FAULTS = {
    "ENOSPC": ("the disk is full", f"Make free space on that disk, {_ELSEWHERE}."),
    "EDQUOT": (
        "your share of the disk (its quota) is used up",
        f"Make free space within your quota, ask for a larger one, {_ELSEWHERE}.",
    ),
    "EFBIG": (
        "the file would be larger than the system or the disk allows",
        f"Raise the limit (ulimit -f), {_ELSEWHERE}; the disk may have free space all the same.",
    ),
    "EACCES": ("you have no right to do that there", _RIGHTS),
    "EPERM": ("the system does not permit it; the file or its folder may be protected against changes", _RIGHTS),
    "EROFS": ("the disk is write-protected", f"Make the disk writable, {_ELSEWHERE}."),
    "EIO": (
        "the disk itself fails to read or write",
        "Copy away from that disk what matters, put the newest backup on another, and have the disk looked at.",
    ),
    "EMFILE": ("too many files are open", "Raise the limit (ulimit -n), or end other programs."),
    "ENFILE": ("too many files are open on this machine", "End other programs, then try again."),
    "ESTALE": ("the network folder has lost its server", "Connect it again, then try again."),
}
_BY_NUMBER = {getattr(errno, name): Fault(*said) for name, said in _FAULTS.items() if hasattr(errno, name)}


def told(error: OSError) -> Fault:
    """Return what an error of the system says, with the system's own words, and the way out."""
    fault = _BY_NUMBER.get(error.errno or 0)
    if fault is None:
        return Fault(error.strerror or str(error), f"Look at the rights and the free space there, {_ELSEWHERE}.")
    return Fault(f"{fault.words} ({error.strerror})" if error.strerror else fault.words, fault.hint)


def reason(error: OSError) -> str:
    """Return the system's name for an error (ENOSPC), for programs."""
    return errno.errorcode.get(error.errno or 0, "unknown")
