"""What paths of pictures draw, as another reader of SVG paths has it: fontTools'."""

from __future__ import annotations

import re
from typing import Any

from fontTools.pens.recordingPen import RecordingPen
from fontTools.svgLib.path import parse_path

Vertex = tuple[float, float]


def pen_of(data: str) -> list[tuple[str, tuple[Any, ...]]]:
    """Return what a pen does along the data of a path: each move, line, curve and closing, with its points."""
    pen = RecordingPen()
    parse_path(data, pen)
    return pen.value


def vertices(data: str) -> list[Vertex]:
    """Return where the pen comes to, step by step."""
    return [points[-1] for what, points in pen_of(data) if what in ("moveTo", "lineTo", "curveTo", "qCurveTo")]


def paths_of(svg: str) -> list[str]:
    """Return the data of every path of a picture."""
    return re.findall(r' d="([^"]*)"', svg)
