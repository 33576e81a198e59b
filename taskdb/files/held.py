"""What was made and is about to be written somewhere: in memory while it is small, else in a file without a name.

So that what is handed out may be as large as the disk is; read in pieces, as often as is needed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from tempfile import SpooledTemporaryFile, gettempdir
from typing import BinaryIO, TypeVar, cast
from weakref import finalize

from taskdb.files.writing import unwritable

T = TypeVar("T")
IN_MEMORY_BYTES = 1 << 20
_PIECE = 1 << 20


class Held:
    """Bytes that were written once, with their number; `chunks` gives them again and again."""

    def __init__(self, stream: BinaryIO) -> None:
        """Hold what a stream has, which is not written to any more."""
        self._stream = stream
        finalize(self, stream.close)
        self._size = stream.seek(0, 2)

    def __len__(self) -> int:
        return self._size

    def chunks(self) -> Iterator[bytes]:
        """Yield the bytes in order, in pieces."""
        self._stream.seek(0)
        while piece := self._stream.read(_PIECE):
            yield piece


Content = bytes | Held


def held(write: Callable[[BinaryIO], T]) -> tuple[Held, T]:
    """Return what a function writes into a stream, and what it returns. RefusedError where the disk is full."""
    stream = cast(BinaryIO, SpooledTemporaryFile(IN_MEMORY_BYTES))  # noqa: SIM115 - it goes with what is held
    try:
        result = write(stream)
        return Held(stream), result
    except BaseException as error:
        stream.close()
        if isinstance(error, OSError):
            raise unwritable(gettempdir(), error) from None
        raise


def chunks_of(content: Content) -> Iterator[bytes]:
    """Yield the bytes of a content, in pieces."""
    return iter((content,)) if isinstance(content, bytes) else content.chunks()


def sha256_of(content: Content) -> str:
    """Return the SHA-256 of a content, 64 hexadecimal digits."""
    digest = hashlib.sha256()
    for piece in chunks_of(content):
        digest.update(piece)
    return digest.hexdigest()


def bytes_of(content: Content) -> bytes:
    """Return the bytes of a content as a whole."""
    return content if isinstance(content, bytes) else b"".join(content.chunks())
