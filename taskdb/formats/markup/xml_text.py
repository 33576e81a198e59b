"""Writing XML as text: the same bytes for the same values, whatever the XML library of the machine.

Elements are lines of text with a fixed indent; letters that XML 1.0 cannot hold become U+FFFD.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from taskdb.formats.markup.xml_reading import Node

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


def node_lines(node: Node, within: str) -> list[str]:
    """Return the lines of an element that was read, declaring its namespace where it is not the one around it."""
    declared: dict[str, str | None] = {} if node.namespace == within else {"xmlns": node.namespace}
    for i, (key, value) in enumerate(node.attributes.items()):
        namespace, brace, name = key.removeprefix("{").rpartition("}")
        if not brace:
            declared[key] = value
        elif namespace == "http://www.w3.org/XML/1998/namespace":
            declared[f"xml:{name}"] = value
        else:
            declared[f"xmlns:a{i}"] = namespace
            declared[f"a{i}:{name}"] = value
    if node.children:
        inner = [line for child in node.children for line in node_lines(child, node.namespace)]
        return element(node.name, inner, declared)
    return element(node.name, node.text or None, declared)
