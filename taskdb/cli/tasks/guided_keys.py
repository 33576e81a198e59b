"""Single keys from a terminal, by name; knows nothing of what they are for. Restores the terminal whatever happens."""

from __future__ import annotations

import codecs
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from enum import StrEnum


class Key(StrEnum):
    """A key that is no letter. Letters are themselves."""

    UP = "up"
    DOWN = "down"
    ENTER = "enter"
    TAB = "tab"
    BACKSPACE = "backspace"
    ESCAPE = "escape"


_SINGLE = {
    "\r": Key.ENTER, "\n": Key.ENTER, "\t": Key.TAB, "\x7f": Key.BACKSPACE, "\x08": Key.BACKSPACE, "\x04": Key.ESCAPE,
}  # fmt: skip
# As terminals send them (ECMA-48 cursor keys, also in application mode), and as Windows does.
_SEQUENCES = {"\x1b[A": Key.UP, "\x1bOA": Key.UP, "\x1b[B": Key.DOWN, "\x1bOB": Key.DOWN}
_WINDOWS = {"\xe0H": Key.UP, "\x00H": Key.UP, "\xe0P": Key.DOWN, "\x00P": Key.DOWN}
_INTERRUPT = "\x03"
_ESCAPE_WAIT_S = 0.05
"""An escape key sends what an arrow key begins with: what follows this soon belongs to it."""


def split_keys(text: str) -> list[str]:
    """Return the keys that a terminal sent: letters, and names of `Key`; sequences that mean no key are left out."""
    keys: list[str] = []
    at = 0
    while at < len(text):
        letter = text[at]
        if letter == "\x1b":
            length = _sequence_length(text, at)
            if length == 1:
                keys.append(Key.ESCAPE)
            elif (known := _SEQUENCES.get(text[at : at + length])) is not None:
                keys.append(known)
            at += length
            continue
        if letter in _SINGLE:
            keys.append(_SINGLE[letter])
        elif letter.isprintable():
            keys.append(letter)
        at += 1
    return keys


def _sequence_length(text: str, at: int) -> int:
    """Return how long the sequence is that begins with the escape at `at`; 1 for the key alone."""
    if text[at + 1 : at + 2] == "O":
        return min(3, len(text) - at)
    if text[at + 1 : at + 2] != "[":
        return 1
    end = at + 2
    # ECMA-48 5.4: parameter and intermediate bytes, then one final byte from @ to ~.
    while end < len(text) and not "@" <= text[end] <= "~":
        end += 1
    return min(end + 1, len(text)) - at


@contextmanager
def terminal_keys() -> Iterator[Callable[[], list[str]]]:
    """Hand out a reader of the keys typed next, one or more; typed ahead is not lost. An interrupt stays one."""
    try:
        import termios
        import tty
    except ImportError:
        yield _windows_keys
        return
    file = sys.stdin.fileno()
    before = termios.tcgetattr(file)
    decoder = codecs.getincrementaldecoder("utf-8")("replace")

    def read() -> list[str]:
        text = _read(file, decoder)
        if _INTERRUPT in text:
            raise KeyboardInterrupt
        return split_keys(text)

    try:
        # Not click.getchar: it sets and resets the terminal at each key, and what is typed in between is thrown away.
        tty.setcbreak(file, termios.TCSADRAIN)
        # The interrupt comes as a key: a signal that arrives within a callback of a library would be lost there.
        attributes = termios.tcgetattr(file)
        attributes[6][termios.VINTR] = bytes([os.fpathconf(file, "PC_VDISABLE") & 0xFF])
        termios.tcsetattr(file, termios.TCSADRAIN, attributes)
        yield read
    finally:
        termios.tcsetattr(file, termios.TCSADRAIN, before)


def _read(file: int, decoder: codecs.IncrementalDecoder) -> str:
    import select

    content = os.read(file, 1024)
    if not content:
        return "\x04"
    text = decoder.decode(content)
    while text.endswith(("\x1b", "\x1b[")):
        if not select.select([file], [], [], _ESCAPE_WAIT_S)[0]:
            break
        text += decoder.decode(os.read(file, 1024))
    return text


def _windows_keys() -> list[str]:
    import click

    try:
        typed = click.getchar()
    except EOFError:
        return [Key.ESCAPE]
    return [_WINDOWS[typed]] if typed in _WINDOWS else split_keys(typed)
