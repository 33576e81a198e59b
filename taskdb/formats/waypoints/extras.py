"""What an open format holds beyond our fields: kept as it is under the format's name, and written out again by it.

The text is canonical JSON, an object keyed by format; no other part of the program looks into it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from taskdb.core.model import Waypoint
from taskdb.core.plain import canonical_json
from taskdb.formats.markup.xml import Node, node_lines

DEEPEST_KEPT = 20


def extras_text(format: str, value: Any) -> str:
    """Return the text to keep for a format's extras; empty where there are none."""
    return canonical_json({format: value}) if value else ""


def _held(waypoint: Waypoint) -> Any:
    """Return the extras of all formats; None where there are none, or the text is none of ours."""
    try:
        return json.loads(waypoint.extras or "null")
    except (ValueError, RecursionError):
        return None


def extras_of(waypoint: Waypoint, format: str) -> dict[str, Any]:
    """Return the extras of one format by name; empty where there are none or the text is none of ours."""
    held = _held(waypoint)
    kept = held.get(format) if isinstance(held, dict) else None
    return kept if isinstance(kept, dict) else {}


def kept_values(kept: dict[str, Any], name: str) -> dict[str, Any]:
    """Return what is kept under a name, by its own names; empty for what is no object."""
    values = kept.get(name)
    return values if isinstance(values, dict) else {}


def kept_nodes(kept: dict[str, Any], name: str) -> list[Node]:
    """Return the elements that are kept under a name; what is none is left out."""
    values = kept.get(name)
    return [n for value in (values if isinstance(values, list) else []) if (n := plain_node(value)) is not None]


_OTHERS_LOST = "what other formats held beyond our fields"


def noting_others(waypoints: Iterable[Waypoint], format: str, lost: set[str]) -> Iterator[Waypoint]:
    """Yield waypoints, and note in `lost` what a format cannot hold of the extras of others, for its list of losses."""
    for waypoint in waypoints:
        if waypoint.extras is not None and not lost and waypoint.extras != "{}":
            held = _held(waypoint)
            if not isinstance(held, dict) or set(held) - {format}:
                lost.add(_OTHERS_LOST)
        yield waypoint


def node_plain(node: Node, depth: int = 0) -> list[Any]:
    """Return an XML element as `[namespace, name, attributes, text, children]`."""
    children = [node_plain(child, depth + 1) for child in node.children] if depth < DEEPEST_KEPT else []
    return [node.namespace, node.name, dict(node.attributes), node.text if not children else "", children]


def plain_node(value: Any, depth: int = 0) -> Node | None:
    """Return the element of its plain form, None where it is none."""
    try:
        namespace, name, attributes, text, children = value
    except (TypeError, ValueError):
        return None
    if not (isinstance(namespace, str) and isinstance(name, str) and isinstance(text, str)) or depth > DEEPEST_KEPT:
        return None
    if not isinstance(attributes, dict) or not isinstance(children, list):
        return None
    known = {str(key): str(item) for key, item in attributes.items()}
    inner = [node for child in children if (node := plain_node(child, depth + 1)) is not None]
    return Node(namespace, name, known, 0, text, inner)


def lines_among(
    nodes: Sequence[Node], names: Sequence[str], is_known: Callable[[str], Any], namespace: str
) -> list[str]:
    """Return the lines of those elements that have one of the names, in the names' order.

    They are of any version of a format, of whose namespaces `is_known` says that it is one, and written as of
    `namespace`.
    """

    def as_written(node: Node) -> Node:
        own = namespace if is_known(node.namespace) else node.namespace
        return Node(own, node.name, node.attributes, 0, node.text, list(map(as_written, node.children)))

    chosen = [node for name in names for node in nodes if node.name == name and is_known(node.namespace)]
    return [line for node in chosen for line in node_lines(as_written(node), namespace)]
