"""How large a zip's list of entries says it is, from the end of the file alone: before anything takes it into memory.

The layout is that of PKWARE's APPNOTE.TXT 6.3, clauses 4.3.14 (with 64 bits) and 4.3.16. Every record that a reader
might take for the last one counts: readers differ in which they choose, and a file can be made to hold several.
"""

from __future__ import annotations

TAIL_BYTES = (1 << 16) + 22 + 20 + 56
"""The end of a file in which these records can stand: the longest comment, and the records before it."""

_END, _END_64 = b"PK\x05\x06", b"PK\x06\x06"


def directory_bytes(tail: bytes) -> int:
    """Return the largest size of a list of entries that the end of a file tells; 0 where it is the end of no zip."""
    return max(_largest(tail, _END, 12, 4), _largest(tail, _END_64, 40, 8))


def _largest(tail: bytes, mark: bytes, offset: int, width: int) -> int:
    found, at = 0, tail.find(mark)
    while at >= 0:
        found = max(found, int.from_bytes(tail[at + offset : at + offset + width], "little"))
        at = tail.find(mark, at + 1)
    return found
