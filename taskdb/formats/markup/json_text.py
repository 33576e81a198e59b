"""GeoJSON as text: one feature a line, members in the order they are given, the same bytes every time."""

from __future__ import annotations

import json
from typing import Any


def feature_lines(collection: dict[str, Any]) -> bytes:
    """Return a FeatureCollection as UTF-8 text with one feature a line."""
    head = {name: value for name, value in collection.items() if name != "features"}
    features = ",\n".join(_json(feature) for feature in collection["features"])
    return f'{_json(head)[:-1]},"features":[\n{features}\n]}}\n'.encode()


def _json(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text if text.isascii() else text.encode("utf-8", "replace").decode()


def feature(geometry: dict[str, Any] | None, properties: dict[str, Any]) -> dict[str, Any]:
    """Return a Feature."""
    return {"type": "Feature", "geometry": geometry, "properties": properties}
