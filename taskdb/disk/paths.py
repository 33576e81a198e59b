"""Paths that a manifest or a plan lists: whether they stay below their folder, whatever system reads them."""

from __future__ import annotations


def stays_inside(path: str) -> bool:
    r"""Say whether a path with `/` between its parts names something below its folder, as its parts say it.

    Windows parts at `\`, takes what stands before or behind a `:` for a drive or a stream, and drops dots and blanks at
    the end: `.. ` is `..` there (Microsoft, "Naming Files, Paths, and Namespaces"; from memory).
    """
    parts = path.split("/")
    return all(part and part == part.rstrip(" .") and not any(sign in part for sign in "\\:\0") for part in parts)
