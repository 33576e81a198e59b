"""The keyboard's interrupt around a commit: "interrupted, nothing kept" must always be true.

Imported only by commands that keep something: the signal module costs start-up a millisecond.
"""

from __future__ import annotations

import signal
from contextlib import suppress
from typing import Any

_before: list[Any] = []


def ignore_interrupts() -> None:
    """Ignore the interrupt from here on: the command is about to commit.

    `main` restores what stood before; the console script does not, since its process ends. Outside the main thread
    nothing can be set, and no interrupt arrives.
    """
    with suppress(ValueError):
        _before.append(signal.signal(signal.SIGINT, signal.SIG_IGN))


def restore_interrupts() -> None:
    """Put back what stood before the first `ignore_interrupts`."""
    if _before:
        with suppress(ValueError, TypeError):
            signal.signal(signal.SIGINT, _before[0])
        _before.clear()
