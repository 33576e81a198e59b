"""Bytes to text: a byte order mark decides, then strict UTF-8, else Windows-1252; what holds NUL bytes is no text.

The stream is looked through once in pieces, so that a large file need not stand in memory to know its encoding.
"""

from __future__ import annotations

import codecs
from typing import BinaryIO

from taskdb.errors import InputError

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8 with byte order mark"),
    (codecs.BOM_UTF32_LE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF32_BE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)
_PIECE = 1 << 20


def decide_encoding(stream: BinaryIO, told: str | None) -> tuple[str, str]:
    """Return Python's name of a stream's encoding and the name for people; the stream is left at its beginning.

    Raises InputError where the bytes are no text, or not in the encoding that was told.
    """
    stream.seek(0)
    head = stream.read(4)
    stream.seek(0)
    if not head:
        raise InputError("empty-file", "The file is empty.", hint="Check that it was saved, and give another file.")
    if told is not None:
        return _told(stream, told)
    for mark, codec, name in _MARKS:
        if head.startswith(mark):
            _check(stream, codec, name)
            return codec, name
    decoder = codecs.getincrementaldecoder("utf-8")("strict")
    is_utf8 = True
    while piece := stream.read(_PIECE):
        if b"\x00" in piece:
            raise InputError(
                "not-text",
                "The file holds NUL bytes: it is no text, or UTF-16 without its mark.",
                hint="Save it as CSV in UTF-8, or name its encoding with --encoding utf-16-le.",
            )
        if is_utf8:
            try:
                decoder.decode(piece)
            except UnicodeDecodeError:
                is_utf8 = False
    if is_utf8:
        try:
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            is_utf8 = False
    stream.seek(0)
    if is_utf8:
        return "utf-8", "UTF-8"
    _check(stream, "cp1252", "Windows-1252")
    return "cp1252", "Windows-1252"


def _told(stream: BinaryIO, told: str) -> tuple[str, str]:
    try:
        codec = codecs.lookup(told).name
        "".encode(codec)
    except (LookupError, TypeError, UnicodeError):
        raise InputError(
            "unknown-encoding", f"The encoding {told!r} is not known.", hint="For example: --encoding utf-8 or cp1252."
        ) from None
    if codec == "utf-8":
        codec = "utf-8-sig"
    _check(stream, codec, told)
    return codec, told


def _check(stream: BinaryIO, codec: str, name: str) -> None:
    """Decode the whole stream once; InputError where that cannot be done."""
    try:
        decoder = codecs.getincrementaldecoder(codec)("strict")
        while piece := stream.read(_PIECE):
            decoder.decode(piece)
        decoder.decode(b"", final=True)
    except (UnicodeError, LookupError, TypeError, AttributeError):
        raise InputError(
            "not-text",
            f"The file is no text in {name}.",
            hint="Name its encoding with --encoding, e.g. --encoding cp1252 or utf-16.",
        ) from None
    stream.seek(0)
