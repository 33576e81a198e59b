"""A zip of one file, deflated so that its bytes are the same on every machine."""

from __future__ import annotations

import struct
import zlib

from taskdb.files.deflate import deflate

_MADE_1980 = 0x21
"""The date of every entry, as `pack` has it: 1 January 1980, the first that a zip can tell."""
_UTF8, _DEFLATED, _VERSION = 0x800, 8, 20


def small_zip(name: str, content: bytes) -> bytes:
    """Return a zip that holds one file under a name (APPNOTE.TXT 6.3, from memory; read back by tests)."""
    packed, title = deflate(content), name.encode("utf-8")
    told = struct.pack(
        "<HHHHHIIIHH", _VERSION, _UTF8, _DEFLATED, 0, _MADE_1980, zlib.crc32(content), len(packed), len(content),
        len(title), 0,
    )  # fmt: skip
    local = b"PK\x03\x04" + told + title
    # Made on Unix, an ordinary file that everybody may read.
    central = (
        b"PK\x01\x02" + struct.pack("<H", 3 << 8 | _VERSION) + told + struct.pack("<HHHII", 0, 0, 0, 0o100644 << 16, 0)
    )
    central += title
    end = b"PK\x05\x06" + struct.pack("<HHHHIIH", 0, 0, 1, 1, len(central), len(local) + len(packed), 0)
    return local + packed + central + end
