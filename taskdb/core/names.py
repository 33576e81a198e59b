"""Names and codes: which are allowed, and how they are folded so that Zürich is found from zurich and zuerich.

A folded key is lower-case words without marks; letters of other scripts stay. Umlauts have two foldings (ä → a and
ä → ae), and both are searched.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from functools import lru_cache

from taskdb.errors import UsageError

NAME_LIMIT = 200
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]+")
_WORD = re.compile(r"[^\W_]+")
_NO_WORD_IN_LINE = re.compile(r"(?:[^\w\n]|_)+")
_FOREIGN = re.compile(r"(?<!\S)[^\s\x80-\U0010ffff]*+[^\x00-\x7f]\S*")
"""A word with a letter beyond ASCII, or a blank beyond it with what follows."""
_FORBIDDEN_IN_CODE = re.compile(r"[\s:,@=]")

_MARKED_LATIN = re.compile("[\u00c0-\u024f]")

# Letters that have no decomposition in Unicode, and what a person types for them.
_PLAIN = str.maketrans(
    {"ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "đ": "d", "ð": "d", "ł": "l", "þ": "th", "ı": "i", "ħ": "h"}
)
_GERMAN = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ø": "oe", "å": "aa"})
_ESZETT = str.maketrans({"ẞ": "ss", "ß": "ss"})


def clean_text(text: str) -> str:
    """Return `text` in NFC, trimmed, each run of control characters made one blank. Never refuses."""
    if text.isascii() and text.isprintable():
        return text.strip()
    return unicodedata.normalize("NFC", _CONTROL.sub(" ", text)).strip()


def clean_all(texts: Sequence[str]) -> list[str]:
    """Return what `clean_text` gives for each text, several times as fast where all of them are clean."""
    joined = "".join(texts)
    if (not joined.isprintable() and _CONTROL.search(joined)) or not unicodedata.is_normalized("NFC", joined):
        return [clean_text(text) for text in texts]
    return [text.strip() for text in texts]  # a part of a text in NFC is in NFC


def fold(text: str) -> str:
    """Return the folded key: lower case, marks dropped (ä → a, ß → ss), words parted by one blank; may be empty."""
    if text.isascii():
        lowered = text.lower()
        return lowered if lowered.isalnum() else " ".join(_WORD.findall(lowered))
    return " ".join(filter(None, map(_fold_word, text.split())))


def fold_all(texts: Sequence[str]) -> list[str]:
    """Return what `fold` gives for each text, several times as fast: all of them are folded as one text of lines."""
    joined = as_given = "\n".join(texts)
    if joined.count("\n") != len(texts) - 1:  # no text at all, or one with a line end in it
        return [fold(text) for text in texts]
    if not joined.isascii():
        for letter in set(_MARKED_LATIN.findall(joined)):
            joined = joined.replace(letter, _fold_letter(letter))
    if not joined.isascii():
        # Words with yet other letters are few and repeated; what they fold to is lower case already and stays.
        joined = _FOREIGN.sub(lambda found: _fold_foreign(found[0]), joined)
    folded = joined.lower()
    if "  " in folded or not folded.replace(" ", "").replace("\n", "").isalnum():
        folded = _NO_WORD_IN_LINE.sub(" ", folded)
    elif folded == as_given and " " not in folded:
        return list(texts)  # numbers, as codes often are
    lines = folded.split("\n")
    if folded[:1] == " " or folded[-1:] == " " or "\n " in folded or " \n" in folded:
        return [line.strip(" ") for line in lines]
    return lines


@lru_cache(maxsize=1 << 10)
def _fold_letter(letter: str) -> str:
    """Return what a letter folds to wherever it stands; itself where that is no plain letter."""
    folded = _fold_word(f"x{letter}x")[1:-1]  # within a word: some letters part it
    return folded if folded.isascii() and folded.isalnum() else letter


@lru_cache(maxsize=1 << 15)
def _fold_foreign(text: str) -> str:
    folded = fold(text)
    return folded if text == text.strip() else f" {folded} "


@lru_cache(maxsize=1 << 15)  # names repeat their words: a large catalogue folds each but once
def _fold_word(word: str) -> str:
    lowered = word.translate(_ESZETT).lower().translate(_PLAIN)
    bare = "".join(c for c in unicodedata.normalize("NFKD", lowered) if not unicodedata.combining(c))
    # NFKD can bring back what was folded (a letter within a ligature), so the plain letters are taken once more.
    return " ".join(_WORD.findall(bare.lower().translate(_PLAIN)))


def fold_german(text: str) -> str:
    """Return the folded key in which umlauts are written out (ä → ae, ö → oe, ü → ue, å → aa)."""
    return fold(text) if text.isascii() else " ".join(filter(None, map(_fold_german_word, text.split())))


def german_words(text: str) -> list[str]:
    """Return the words of `fold_german` that `fold` of the same word does not have; none where all is ASCII."""
    if text.isascii():
        return []
    return [word for part in text.split() if not part.isascii() for word in _german_words_of(part)]


@lru_cache(maxsize=1 << 15)
def _german_words_of(word: str) -> tuple[str, ...]:
    plain = _fold_word(word).split()
    return tuple(other for other in _fold_german_word(word).split() if other not in plain)


@lru_cache(maxsize=1 << 15)
def _fold_german_word(word: str) -> str:
    return fold(unicodedata.normalize("NFC", word).lower().translate(_GERMAN))


def search_words(name: str, code: str = "") -> tuple[str, ...]:
    """Return the distinct folded words under which a waypoint is found, in both foldings, sorted."""
    words = set(fold(name).split())
    if not name.isascii():
        words.update(fold_german(name).split())
    if code:
        words.update(fold(code).split())
    return tuple(sorted(words))


def search_keys(name: str) -> tuple[str, ...]:
    """Return the folded keys of a name, one or two, for comparing whole names."""
    plain, german = fold(name), fold_german(name)
    return (plain,) if plain == german else (plain, german)


def code_problem(code: str) -> str | None:
    """Say why `code` cannot be a waypoint's code, or None. Leading zeros and case are kept."""
    if not code:
        return "the code is empty"
    if code.startswith("-"):
        return "a code cannot begin with a minus sign"
    if _FORBIDDEN_IN_CODE.search(code):
        return "a code cannot hold blanks or any of : , @ ="
    if _CONTROL.search(code):
        return "a code cannot hold control characters"
    if len(code) > NAME_LIMIT:
        return f"a code cannot be longer than {NAME_LIMIT} characters"
    return None


def require_name(name: str, *, what: str, colon: bool = False) -> str:
    """Return `name` trimmed and in NFC; raise UsageError where it cannot name a set, contest or task.

    `what` names the kind of thing for the message; `colon` says whether `:` is allowed (it is in a task's name).
    """
    trimmed = unicodedata.normalize("NFC", name).strip()
    reason = None
    if not trimmed:
        reason = "it is empty"
    elif len(trimmed) > NAME_LIMIT:
        reason = f"it is longer than {NAME_LIMIT} characters"
    elif "@" in trimmed:
        reason = "it holds @, which stands before a revision number"
    elif _CONTROL.search(trimmed):
        reason = "it holds control characters"
    elif ":" in trimmed and not colon:
        reason = "it holds :, which stands between a set and a code"
    if reason is not None:
        raise UsageError(
            "bad-name", f"{trimmed!r} cannot be the name of a {what}: {reason}.", hint="Choose another name."
        )
    return trimmed
