"""Work on very many values without the collector of cyclic garbage: columns and rows make no cycles.

Holds nothing but the pause; what is worked on is the caller's.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def without_collecting() -> Iterator[None]:
    """Let the collector rest: walking growing columns again and again is up to two fifths of a large import."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
