"""A small picture of few greys as PNG, the same bytes on every machine.

Source: W3C, Portable Network Graphics (Third Edition); RFC 1950 and 1951. The data are stored and not deflated: builds
of zlib differ in what they make of them.
"""

from __future__ import annotations

import struct
import zlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LEVELS = 16
_MOST_STORED = 0xFFFF


def grey_png(levels: NDArray[np.uint8], darkest: int) -> bytes:
    """Return a picture of 16 greys, a level a pixel: 15 is white, 0 the grey of `darkest` (0 to 255), rows from above.

    ValueError for levels beyond or no pixels.
    """
    import numpy as np

    if levels.ndim != 2 or not levels.size or int(levels.max()) >= LEVELS:
        raise ValueError("a picture of levels 0 to 15 has rows and columns")
    height, width = levels.shape
    even = np.zeros((height, width + width % 2), dtype=np.uint8)
    even[:, :width] = levels
    rows = np.zeros((height, 1 + even.shape[1] // 2), dtype=np.uint8)  # the first byte of a row says: no filter
    rows[:, 1:] = (even[:, ::2] << 4) | even[:, 1::2]
    greys = [round(darkest + (255 - darkest) * level / (LEVELS - 1)) for level in range(LEVELS)]
    header = struct.pack(">IIBBBBB", width, height, 4, 3, 0, 0, 0)
    palette = bytes(grey for grey in greys for _ in range(3))
    chunks = ((b"IHDR", header), (b"PLTE", palette), (b"IDAT", _stored(rows.tobytes())), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(kind, data) for kind, data in chunks)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def _stored(data: bytes) -> bytes:
    """Return data as a zlib stream of stored blocks."""
    pieces = [data[start : start + _MOST_STORED] for start in range(0, len(data), _MOST_STORED)]
    blocks = [
        struct.pack("<BHH", number == len(pieces), len(piece), len(piece) ^ 0xFFFF) + piece
        for number, piece in enumerate(pieces, start=1)
    ]
    return b"\x78\x01" + b"".join(blocks) + struct.pack(">I", zlib.adler32(data))
