"""A file name from any name of a task or set: one that stays in its folder and that every file system takes.

Safe on FAT and Windows too (instruments are fed from such sticks): no reserved names or letters, no trailing dot,
at most 80 letters and 180 bytes, and different from its neighbours whatever the case.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

LONGEST_LETTERS = 80
LONGEST_BYTES = 180
NAMELESS = "unnamed"

# Names of devices on Windows, with any suffix (Microsoft, "Naming Files, Paths, and Namespaces"; from memory).
_DEVICE = re.compile(r"(?i)(con|prn|aux|nul|conin\$|conout\$|com[0-9¹²³]|lpt[0-9¹²³])\s*(\..*)?")
_FORBIDDEN = re.compile(r"[\"*/:<>?\\|\x00-\x1f\x7f-\x9f]+")


def safe_name(name: str) -> str:
    """Return a file name without suffix for any text; never empty."""
    letters = unicodedata.normalize("NFC", name)
    # Letters that are not seen (direction marks, joiners) or that no file system takes (lone surrogates).
    letters = "".join("_" if unicodedata.category(c) in ("Cs", "Co", "Cn") else c for c in letters)
    letters = "".join(c for c in letters if unicodedata.category(c) != "Cf")
    letters = re.sub(r"\s+", " ", _FORBIDDEN.sub("_", letters))
    letters = _shortened(letters.strip(" .").removeprefix("~"), LONGEST_LETTERS, LONGEST_BYTES).strip(" .")
    if not letters.strip("_-. "):
        return NAMELESS
    if letters.startswith("-") or _DEVICE.fullmatch(letters):
        return "_" + letters
    return letters


def _shortened(text: str, letters: int, size: int) -> str:
    text = text[:letters]
    while len(text.encode("utf-8", "replace")) > size:
        text = text[:-1]
    return text


def _key(name: str) -> str:
    """Return what two names must not share: file systems fold case and forms of letters in different ways."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())


def safe_names(names: Iterable[str]) -> tuple[str, ...]:
    """Return a file name without suffix for each name, in order; later ones that clash end in `-2`, `-3` …"""
    taken: set[str] = set()
    result = []
    for name in names:
        base = candidate = safe_name(name)
        count = 1
        while _key(candidate) in taken:
            count += 1
            ending = f"-{count}"
            candidate = (
                _shortened(base, LONGEST_LETTERS - len(ending), LONGEST_BYTES - len(ending)).rstrip(" .") + ending
            )
        taken.add(_key(candidate))
        result.append(candidate)
    return tuple(result)
