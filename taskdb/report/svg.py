"""Writing SVG as text: elements, attributes, numbers with fixed decimals, and the escaping of every text.

The only place of the report layer where markup is put together by hand; it knows nothing of maps.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

Point = tuple[float, float]


def number(value: float) -> str:
    """Return millimetres on paper with at most two decimals, never a negative zero."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def element(tag: str, content: str = "", **attributes: str | float | None) -> str:
    """Return an element; `content` is markup already. In attribute names `_` stands for `-`; None leaves one out."""
    written = "".join(
        f' {name.rstrip("_").replace("_", "-")}="{escape(value) if isinstance(value, str) else number(value)}"'
        for name, value in attributes.items()
        if value is not None
    )
    return f"<{tag}{written}>{content}</{tag}>" if content else f"<{tag}{written}/>"


def text_element(text: str, x: float, y: float, size_mm: float, **attributes: str | float | None) -> str:
    """Return a text element; the text is escaped here."""
    return element("text", escape(text, quote=False), x=x, y=y, font_size=size_mm, **attributes)


def path_data(points: Iterable[Point], *, closed: bool = False) -> str:
    """Return the path through points, closed where it is an outline; empty for no points."""
    steps = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    if not steps:
        return ""
    return f"M{steps}{'Z' if closed else ''}"


def group(content: Iterable[str], **attributes: str | float | None) -> str:
    """Return a group of elements, or nothing where there are none."""
    joined = "".join(content)
    return element("g", joined, **attributes) if joined else ""
