"""What an open format holds beyond our fields: kept as it is under the format's name, and written out again by it.

The text is canonical JSON, an object keyed by format; no other part of the program looks into it.
"""

from __future__ import annotations

import json
from typing import Any

from taskdb.core.model import Waypoint
from taskdb.core.plain import canonical_json
from taskdb.formats.markup.xml import Node

DEEPEST_KEPT = 20


def extras_text(format: str, value: Any) -> str:
    """Return the text to keep for a format's extras; empty where there are none."""
    return canonical_json({format: value}) if value else ""


def extras_of(waypoint: Waypoint, format: str) -> Any:
    """Return the extras of one format, None where there are none or the text is none of ours."""
    if waypoint.extras is None:
        return None
    try:
        held = json.loads(waypoint.extras)
    except (ValueError, RecursionError):
        return None
    return held.get(format) if isinstance(held, dict) else None


def others_lost(waypoints: list[Waypoint], format: str) -> tuple[str, ...]:
    """Return what a format cannot hold of the extras of others, for its list of losses."""
    for waypoint in waypoints:
        if waypoint.extras is not None and waypoint.extras != "{}":
            try:
                held = json.loads(waypoint.extras)
            except (ValueError, RecursionError):
                held = {"": None}
            if not isinstance(held, dict) or set(held) - {format}:
                return ("what other formats held beyond our fields",)
    return ()


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
