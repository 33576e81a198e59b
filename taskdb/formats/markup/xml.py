"""XML read and written. Of what strangers made no entities, no external references, no endless nesting are read.

Lines are kept for messages; readers ask for local names within a namespace that they know. Written are lines of text
with a fixed indent: the same bytes for the same values, whatever the XML library of the machine.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain, islice
from typing import BinaryIO
from xml.parsers import expat

from taskdb.errors import InputError
from taskdb.formats.limits import LONGEST_TEXT, LONGEST_TOKEN_BYTES, MOST_KEPT_ELEMENTS, require_points, too_large

DEEPEST = 200
"""No format that is read nests deeper; a document that does is built to exhaust whoever reads it."""
_SEPARATOR = "\x1f"
_PIECE = 1 << 20


@dataclass(slots=True)
class Node:
    """An element: namespace and local name, attributes by local name (or `{namespace}name`), text, children, line."""

    namespace: str
    name: str
    attributes: dict[str, str]
    line: int
    text: str = ""
    children: list[Node] = field(default_factory=list)

    def find(self, name: str) -> Node | None:
        """Return the first child of the same namespace with a local name."""
        return next((c for c in self.children if c.name == name and c.namespace == self.namespace), None)

    def value(self, name: str) -> str:
        """Return the text of the first child with a local name, trimmed; empty where there is none."""
        child = self.find(name)
        return "" if child is None else child.text.strip()

    def every(self) -> Iterator[Node]:
        """Yield all descendants in document order."""
        for child in self.children:
            yield child
            yield from child.every()

    def each(self, *names: str) -> Iterator[Node]:
        """Yield the descendants of the same namespace with one of the names, in document order."""
        for child in self.children:
            if child.namespace == self.namespace and child.name in names:
                yield child
            yield from child.each(*names)


Take = Callable[[Node, Sequence[Node]], bool]


class _Builder:
    """Builds nodes from what the parser says, and refuses what a plain document has no need of."""

    def __init__(self, take: Take, most_kept: int) -> None:
        self.take, self.most_kept = take, most_kept
        self.parser = expat.ParserCreate(namespace_separator=_SEPARATOR)
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._text
        self.parser.EntityDeclHandler = self._entity
        self.parser.UnparsedEntityDeclHandler = self._unparsed
        self.parser.ExternalEntityRefHandler = self._external
        self.parser.StartDoctypeDeclHandler = self._doctype
        self.root: Node | None = None
        self.kept = 0  # elements that stand in the tree
        self.taken = 0
        self.kept_before: list[int] = []
        self.letters: list[int] = []
        self.stack: list[Node] = []
        self.texts: list[list[str]] = []

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        if len(self.stack) >= DEEPEST:
            raise _forbidden(f"elements nested more than {DEEPEST} deep", self.parser.CurrentLineNumber)
        namespace, _, name = tag.rpartition(_SEPARATOR)
        named = {_attribute(key): value for key, value in attributes.items()}
        node = Node(namespace, name, named, self.parser.CurrentLineNumber)
        if self.stack:
            self.stack[-1].children.append(node)
        else:
            self.root = node
        self.stack.append(node)
        self.texts.append([])
        self.kept_before.append(self.kept)
        self.letters.append(0)
        self.kept += 1
        if self.kept > self.most_kept:
            raise self._too_much(f"more than {self.most_kept:,} elements that are no points")

    def _end(self, _: str) -> None:
        node, texts = self.stack.pop(), self.texts.pop()
        node.text = "".join(texts)
        before = self.kept_before.pop()
        self.letters.pop()
        # What was taken is let go of, so that a large document never stands in memory as a tree.
        if self.take(node, self.stack) and self.stack:
            self.stack[-1].children.pop()
            self.kept = before
            self.taken += 1
            if self.taken % 1024 == 0:
                require_points(self.taken)

    def _text(self, text: str) -> None:
        self.letters[-1] += len(text)
        if self.letters[-1] > LONGEST_TEXT:
            raise self._too_much(f"a text of more than {LONGEST_TEXT:,} letters")
        self.texts[-1].append(text)

    def _too_much(self, what: str) -> InputError:
        line = self.parser.CurrentLineNumber
        return too_large(f"holds {what}, on line {line}", "Give the points alone, as GPX, KML or CSV.")

    def require_short(self, fed: int) -> None:
        """Refuse a tag or comment that goes on and on: the parser holds it, and looks at it again with each piece."""
        if fed - self.parser.CurrentByteIndex > LONGEST_TOKEN_BYTES:
            raise self._too_much(f"a tag of more than {LONGEST_TOKEN_BYTES:,} bytes")

    def _entity(self, name: str, *_: object) -> None:
        raise _forbidden(f"the entity declaration {name!r}", self.parser.CurrentLineNumber)

    def _unparsed(self, name: str, *_: object) -> None:
        raise _forbidden(f"the entity declaration {name!r}", self.parser.CurrentLineNumber)

    def _external(self, _: object, __: object, system_id: str | None, ___: object) -> int:
        raise _forbidden(f"the external reference {system_id!r}", self.parser.CurrentLineNumber)

    def _doctype(self, _: str, system_id: str | None, public_id: str | None, has_internal_subset: int) -> None:
        if system_id or public_id:
            raise _forbidden(f"the external reference {system_id or public_id!r}", self.parser.CurrentLineNumber)


def _attribute(key: str) -> str:
    namespace, _, name = key.rpartition(_SEPARATOR)
    return f"{{{namespace}}}{name}" if namespace else name


def _forbidden(what: str, line: int) -> InputError:
    return InputError(
        "forbidden-xml",
        f"Line {line} holds {what}, which is not read: it can be used to exhaust a machine or to read other files.",
        hint="Take it out of the file, or save the file anew in another program.",
        details={"line": line},
    )


def read_xml(stream: BinaryIO | io.RawIOBase, take: Take, *, most_kept: int = MOST_KEPT_ELEMENTS) -> tuple[Node, str]:
    """Return the root of a document and its encoding's name. `take` is shown each element when it ends, with those
    around it, the outermost first.

    An element for which `take` says True is dropped from the tree, which holds up to `most_kept`. Raises InputError for
    what is no well-formed XML, and by name for entity declarations and external references.
    """
    builder = _Builder(take, most_kept)
    head, fed = b"", 0
    try:
        while piece := stream.read(_PIECE):
            head = head or piece[:200]
            builder.parser.Parse(piece, False)
            fed += len(piece)
            builder.require_short(fed)
        builder.parser.Parse(b"", True)
    except expat.ExpatError as error:
        raise InputError(
            "bad-xml",
            f"The file is no well-formed XML: {expat.ErrorString(error.code)} on line {error.lineno}.",
            hint="Save it anew in the program that made it.",
            details={"line": error.lineno},
        ) from None
    except (LookupError, ValueError) as error:
        raise InputError("bad-xml", f"The file cannot be read as XML: {error}.", hint="Save it in UTF-8.") from None
    if builder.root is None:
        raise InputError("bad-xml", "The file has no XML element.", hint="Save it anew in the program that made it.")
    declared = re.match(rb"[^<]{0,8}<\?xml[^>]*encoding=[\"']([A-Za-z0-9._-]+)", head)
    return builder.root, declared[1].decode("ascii") if declared else "UTF-8"


# Writing; letters that XML 1.0 cannot hold become U+FFFD.

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


_HERE = "\x00"  # stands in no escaped text
_LINES_AT_ONCE = 4096


def write_document(
    stream: BinaryIO, around: Sequence[tuple[str, Mapping[str, str | None]]], lines: Iterable[str]
) -> None:
    """Write what `document` gives for lines within elements, name and attributes, the outermost first.

    The lines are written as they come: they are never held as a whole.
    """
    coming = iter(lines)
    first = list(islice(coming, _LINES_AT_ONCE))
    inner = [_HERE] if first else []
    for name, attributes in reversed(around):
        inner = element(name, inner, attributes)
    if not first:
        stream.write(document(inner))
        return
    indent = "  " * len(around)
    head, _, tail = document(inner).decode("utf-8").partition(f"{indent}{_HERE}\n")
    stream.write(head.encode("utf-8"))
    for some in chain((first,), iter(lambda: list(islice(coming, _LINES_AT_ONCE)), [])):
        stream.write("".join(f"{indent}{line}\n" for line in some).encode("utf-8"))
    stream.write(tail.encode("utf-8"))


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
