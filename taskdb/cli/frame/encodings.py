"""Letters for terminals that speak another encoding than UTF-8: minutes, dashes and arrows in what every one can show.

Imported only where such a terminal is written to.
"""

from __future__ import annotations

import codecs

PLAINER = "taskdb.plainer"
"""The name of what is done with letters that an encoding lacks, as `reconfigure` wants it."""

_LIKE = {
    "′": "'", "″": '"', "’": "'", "“": '"', "”": '"', "–": "-", "—": "-", "−": "-", "→": ">", "×": "x", "·": ".",
    "≤": "<", "≥": ">", "…": "...", "°": "d", "\u00a0": " ", "\u202f": " ", "\u2009": " ",
}  # fmt: skip


def _plainer(error: UnicodeError) -> tuple[str | bytes, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lacking = error.object[error.start : error.end]
    if not set(lacking) <= set(_LIKE):
        return codecs.backslashreplace_errors(error)
    return "".join(map(_LIKE.__getitem__, lacking)), error.end


codecs.register_error(PLAINER, _plainer)
