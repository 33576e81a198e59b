"""Commands to paste are held against a real shell: what it hands on is what was meant."""

from __future__ import annotations

import shutil
import subprocess

import pytest

from taskdb.core import pasted
from taskdb.core.pasted import command_line, quoted, quoted_words

HOSTILE = [
    "Varn Cup", "O'Brien", 'the "big" one', "$HOME", "`id`", "$(id)", "a\\b", "\\", "*", "?", "~", "#1", "!!", "a;b",
    "a&b|c", "(x)", "{a,b}", "<in>", "Zürich", "Kürti 2027", "東京", "-33.9", "--yes", "-", "", " ", "=ls", "%1", "x=y",
    "a%sb", "A@2", "Cup:A", "a\tb", "a\nb", "a\x1b[31mb", "a\u202eb", "a\u00a0b", "a\\n'b\n$c", "\udcff.csv", "e\u0301",
]  # fmt: skip
SHELLS = [shell for shell in ("sh", "dash", "bash", "zsh", "fish") if shutil.which(shell)]


@pytest.mark.parametrize("shell", SHELLS)
def test_a_shell_hands_on_what_was_meant(shell):
    """One shell for all: each word is printed between marks that stand in none of them."""
    if shell == "fish":
        hostile = [word for word in HOSTILE if "\\" not in word]  # fish takes \\ within single quotes for one
    else:
        hostile = HOSTILE
    script = "\n".join(f"printf '<<%s>>' {quoted(word)}" for word in hostile)
    assert script.count("\n") == len(hostile) - 1
    done = subprocess.run([shell, "-c", script], capture_output=True, check=True, env={"PATH": "/usr/bin:/bin"})
    assert done.stdout.decode("utf-8", "surrogateescape").strip("<>").split(">><<") == hostile
    assert done.stderr == b""


def test_what_is_pasted_can_be_shown_on_one_line():
    for word in HOSTILE:
        assert quoted(word).isprintable(), word


def test_plain_words_stay_bare():
    for word in ("A1", "Zürich", "Cup:A", "region@3", "47.5,9.25", "2027-05-14", "day_1.csv", "./x", "a/b"):
        assert quoted(word) == word


def test_names_that_begin_like_options_stand_behind_a_double_dash():
    assert command_line("task show", "A b") == "taskdb task show 'A b'"
    assert command_line("task choose", "A", options=["--contest", "Varn Cup"]) == (
        "taskdb task choose A --contest 'Varn Cup'"
    )
    assert command_line("task choose", "-A", options=["--contest", "-C"]) == "taskdb task choose --contest -C -- -A"
    assert quoted_words(["--column", "code=Kurz Name"]) == "--column 'code=Kurz Name'"


def test_on_windows_double_quotes_are_used(monkeypatch):
    monkeypatch.setattr(pasted.sys, "platform", "win32")
    assert quoted("Varn Cup") == '"Varn Cup"'
    assert quoted("A1") == "A1"
