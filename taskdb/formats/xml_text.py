"""Writing XML as text: the same bytes for the same values, whatever the XML library of the machine.

Elements are lines of text with a fixed indent; letters that XML 1.0 cannot hold become U+FFFD.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_DECLARATION = '<?xml version="1.0" encoding="UTF-8"?>'


def escape(text: str) -> str:
    """Return text as it stands between tags or in a quoted attribute."""
    clean = _FORBIDDEN.sub("\ufffd", text)
    for letter, entity in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")):
        clean = clean.replace(letter, entity)
    return clean.replace("\r", "&#13;").replace("\n", "&#10;").replace("\t", "&#9;")


def element(
    name: str, content: str | Iterable[str] | None = None, attributes: Mapping[str, str | None] | None = None
) -> list[str]:
    """Return the lines of an element: with text, with the lines of its children, or empty.

    Attributes that are None are left out.
    """
    told = "".join(f' {key}="{escape(value)}"' for key, value in (attributes or {}).items() if value is not None)
    if content is None:
        return [f"<{name}{told}/>"]
    if isinstance(content, str):
        return [f"<{name}{told}>{escape(content)}</{name}>"]
    children = [f"  {line}" for line in content]
    return [f"<{name}{told}>", *children, f"</{name}>"] if children else [f"<{name}{told}/>"]


def maybe(name: str, text: str | None) -> list[str]:
    """Return the lines of an element with text, none where there is no text."""
    return [] if text is None or text == "" else element(name, text)


def document(root: list[str]) -> bytes:
    """Return the bytes of a document: UTF-8, one line end (LF), whatever the machine."""
    return ("\n".join([_DECLARATION, *root]) + "\n").encode("utf-8")
