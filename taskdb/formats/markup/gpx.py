"""What GPX of sets and of tasks has in common: its namespaces and its root."""

from __future__ import annotations

from taskdb.errors import InputError
from taskdb.formats.markup.xml import Node

GPX_11 = "http://www.topografix.com/GPX/1/1"
GPX_10 = "http://www.topografix.com/GPX/1/0"
GPX_NAMESPACES = (GPX_11, GPX_10, "")


def require_gpx(root: Node, hint: str) -> None:
    """Raise InputError unless this is the root of GPX, 1.1 or 1.0, also without a namespace."""
    if root.name != "gpx" or root.namespace not in GPX_NAMESPACES:
        raise InputError("not-gpx", f"The file's root is {root.name!r} and not gpx.", hint=hint)
