"""Writing SVG as text: elements, attributes, numbers with fixed decimals, and the escaping of every text.

The only place of the report layer where markup is put together by hand; it knows nothing of maps.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from itertools import pairwise

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
    """Return the path through points, closed where it is an outline; empty for no points.

    Written as steps from point to point, in hundredths of a millimetre so that none is lost on the way.
    """
    hundredths = [(round(100 * x), round(100 * y)) for x, y in points]
    if not hundredths:
        return ""
    steps = [pair(to_x - x, to_y - y) for (x, y), (to_x, to_y) in pairwise(hundredths)]
    # A letter or a minus parts two numbers as well as a blank.
    line = "l" + " ".join(steps).replace(" -", "-") if steps else ""
    return f"M{pair(*hundredths[0])}{line}{'Z' if closed else ''}"


def pair(x: int, y: int) -> str:
    """Return two numbers of a path, each given in hundredths of a millimetre."""
    return f"{_short(x)} {_short(y)}".replace(" -", "-")


def _short(hundredths: int) -> str:
    """Return hundredths of a millimetre as a number of a path: `.5`, `-12`, `3.25`."""
    text = f"{hundredths / 100:.2f}".rstrip("0").rstrip(".")
    return text.replace("0.", ".", 1) if text.startswith(("0.", "-0.")) else text


def group(content: Iterable[str], **attributes: str | float | None) -> str:
    """Return a group of elements, or nothing where there are none."""
    joined = "".join(content)
    return element("g", joined, **attributes) if joined else ""
