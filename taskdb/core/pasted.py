"""Commands that a person copies out of what we say and pastes into a shell: the one place that makes and quotes them.

Quoted by the rules of POSIX shells (IEEE 1003.1, Shell Command Language, 2.2 Quoting), which zsh and fish read alike;
on Windows in double quotes, where `%` and `$` of a name may still be read by the shell.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable

_PLAIN = "%+,-./:=@_"
"""What no shell reads as its own, besides letters and digits."""


def quoted(word: str) -> str:
    """Return one word as a shell has to be given it: bare where it can be, else in quotes, always on one line.

    What could steer a terminal or reorder a line is written as octal bytes that the shell's printf turns back.
    """
    if word.isprintable():
        bare = word[:1] not in {"=", "%"} and all(letter.isalnum() or letter in _PLAIN for letter in word)
        if bare and word:
            return word
        if sys.platform == "win32":
            return '"' + word.replace('"', '\\"') + '"'
        return "'" + word.replace("'", "'\"'\"'") + "'"
    shown = "".join(letter if letter.isalnum() or letter in " ,./:=@_" else _octal(letter) for letter in word)
    return f"\"$(printf '{shown}')\""


def _octal(letter: str) -> str:
    return "".join(f"\\{byte:03o}" for byte in letter.encode("utf-8", "surrogateescape"))


def quoted_words(given: Iterable[str]) -> str:
    """Return words as they are pasted, blanks between them."""
    return " ".join(map(quoted, given))


def command_line(verb: str, *names: str, options: Iterable[str] = ()) -> str:
    """Return `taskdb VERB NAMES OPTIONS` as it is pasted; `options` are words, `names` what stands without an option.

    A name that begins with `-` would be taken for an option: then the options come first, and `--` before the names.
    """
    bare = any(name.startswith("-") for name in names)
    return quoted_words(["taskdb", *verb.split(), *([*options, "--", *names] if bare else [*names, *options])])
