"""Whether the name of a flight log says whose it is, so that it is not shown.

IGC Technical Specification for GNSS Flight Recorders, Appendix A (from memory): 2.5 the names that recorders give
their files, with the recorder's number; 3.1 the A record, with the same; 3.3 the H records, with names and marks. What
is read here is held against the name and forgotten.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from taskdb.core.names import fold, fold_german

_BY_RECORDER = re.compile(
    r"\d[1-9abc][1-9a-v][a-z\d]{4}[\da-z]"  # 2.5: year, month, day, maker, three signs of the number, flight
    r"|\d{4}-?[01]\d-?[0-3]\d-[a-z\d]{3}-[a-z\d]{3,}(-\d.*)?"  # 2.5: date, maker, number, flight, in full
)
_COMPETITION_SIGN = re.compile(r"(?=.{1,3}$)[A-Z\d]*[A-Z][A-Z\d]*")
"""Up to three capitals or digits: what is painted on a fin (common practice, no source)."""
_MARK = re.compile(r"(?<![a-z\d])(?:[a-z]{1,2}-[a-z\d]{3,5}|n\d{1,5}[a-z]{0,2}|\d[a-z]-[a-z]{3})(?![a-z\d])")
"""Nationality and registration marks (ICAO Annex 7, from memory)."""
_PART = re.compile(r"[\W_]+")
_RECORDER = re.compile(r"A[A-Z\d]{3}([A-Za-z\d]{3,6})")  # 3.1: the number behind the maker's three letters
_PERSON = ("PLT", "CM2")
_GLIDER = ("GID", "CID")
_HEADERS_BYTES = 1 << 16
_SHORTEST_WORD = 3


def may_say_whose(name: str, content: bytes) -> bool:
    """Say whether a log's file name may tell who flew, in which glider or with which recorder.

    It does where it is one that recorders give, a mark or a competition sign, or holds what the log's own headers say.
    """
    stem = name.rpartition(".")[0] or name
    lowered = stem.lower()
    if _BY_RECORDER.fullmatch(lowered) or _COMPETITION_SIGN.fullmatch(stem) or _MARK.search(lowered):
        return True
    spellings = {_joined(stem), _joined_german(stem)}
    return any(word in spelling for word in _words(content) for spelling in spellings)


def _words(content: bytes) -> Iterator[str]:
    """Yield what the headers say of persons, glider and recorder: names word by word, marks and numbers whole."""
    for line in _headers(content):
        if recorder := _RECORDER.match(line):
            yield from _long_enough(recorder[1], recorder[1][:3])
        elif line.startswith("H") and line[2:5] in _PERSON + _GLIDER:
            value = line.partition(":")[2] or line[5:]
            # Of a name each word, of a mark the whole, and what stands behind its nationality.
            yield from _long_enough(*(_PART.split(value) if line[2:5] in _PERSON else [value, value.partition("-")[2]]))


def _headers(content: bytes) -> list[str]:
    """Return the first lines; 2.1 allows ASCII, and recorders write names in whatever they were given."""
    beginning = content[:_HEADERS_BYTES]
    try:
        return beginning.decode("utf-8").splitlines()
    except UnicodeDecodeError:
        return beginning.decode("latin-1").splitlines()


def _long_enough(*texts: str) -> Iterator[str]:
    for text in texts:
        for word in {_joined(text), _joined_german(text)}:
            # Three digits, as some recorders are numbered, are in many a name that says nothing.
            if len(word) > _SHORTEST_WORD or (len(word) == _SHORTEST_WORD and not word.isdigit()):
                yield word


def _joined(text: str) -> str:
    return fold(text).replace(" ", "")


def _joined_german(text: str) -> str:
    return fold_german(text).replace(" ", "")
