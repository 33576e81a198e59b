"""Background pictures for a published map: an address of the user's own, or a folder of pictures that are copied.

Nothing is fetched here. The address goes into a page's policy, so it is taken only in a form that cannot widen it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from taskdb.core.numbers import counted
from taskdb.errors import InputError, NotFoundError, UsageError
from taskdb.files.pack import PackedFile
from taskdb.files.reading import open_input
from taskdb.files.standing import is_folder
from taskdb.files.walking import files_below
from taskdb.report.pages.edition import Tiles

MOST_FILES, MOST_BYTES = 20_000, 200_000_000
"""So many pictures, and so much of them, are copied into a publication at most."""
_KINDS = {".png": (b"\x89PNG\r\n\x1a\n",), ".jpg": (b"\xff\xd8\xff",), ".jpeg": (b"\xff\xd8\xff",), ".webp": (b"RIFF",)}
_ADDRESS = re.compile(r"(https?://[A-Za-z0-9.-]+(?::\d{1,5})?)(/[A-Za-z0-9._~!$&()*+=:@%/?{}-]*)")
_PLACES = ("{z}", "{x}", "{y}")
_HINT = "E.g. --tiles https://tiles.example.org/{z}/{x}/{y}.png, or a folder of your own with Z/X/Y.png in it."


@dataclass(frozen=True)
class Background:
    """What the pages are told of the background, and the pictures that go with them."""

    tiles: Tiles
    files: tuple[PackedFile, ...] = ()


def background(given: str | None, attribution: str | None) -> Background | None:
    """Return the background that was asked for; None where none was.

    UsageError without both address and attribution, and for an address that is none; NotFoundError, InputError for a
    folder that is not there, or holds no pictures or too many.
    """
    if given is None and attribution is None:
        return None
    if given is None or attribution is None or not attribution.strip():
        raise UsageError(
            "tiles-and-attribution",
            "--tiles and --attribution go together: whoever made the pictures is named with them.",
            hint='E.g. --tiles DIR --attribution "Survey office of Varn, 2026".',
        )
    if "://" in given:
        return Background(_at_address(given, attribution.strip()))
    return _in_folder(given, attribution.strip())


def _at_address(given: str, attribution: str) -> Tiles:
    match = _ADDRESS.fullmatch(given)
    if match is None or sorted(re.findall(r"\{[^}]*\}?", match[2])) != sorted(_PLACES):
        raise UsageError(
            "bad-tiles", f"{given!r} is no address of background pictures.", hint=_HINT, details={"value": given}
        )
    return Tiles(given, attribution, match[1])


def _in_folder(given: str, attribution: str) -> Background:
    folder = Path(given)
    if not is_folder(folder):
        raise NotFoundError("folder-not-found", f"There is no folder {given}.", hint=_HINT)
    found = [path for path in files_below(given, _KINDS) if _numbers(path.relative_to(folder)) is not None]
    suffixes = {path.suffix for path in found}
    if len(suffixes) != 1:
        what = "no pictures Z/X/Y.png" if not found else f"pictures of several kinds: {', '.join(sorted(suffixes))}"
        raise InputError("no-tiles", f"{given} holds {what}.", hint=_HINT)
    size = sum(path.stat().st_size for path in found)
    if len(found) > MOST_FILES or size > MOST_BYTES:
        raise InputError(
            "too-many-tiles",
            f"{given} holds {counted(len(found), 'picture')} of {size / 1e6:.0f} MB; {MOST_FILES:,} of "
            f"{MOST_BYTES / 1e6:.0f} MB can be published.",
            hint="Take fewer zooms or a smaller region, or put them on a server and give its address.",
        )
    suffix = suffixes.pop()
    zooms = [int(path.relative_to(folder).parts[0]) for path in found]
    files = tuple(_file(folder, path) for path in found)
    return Background(Tiles(f"tiles/{{z}}/{{x}}/{{y}}{suffix}", attribution, "", (min(zooms), max(zooms))), files)


def _numbers(path: Path) -> tuple[int, ...] | None:
    """Return Z, X, Y of a picture's path; None for a file that is none."""
    words = (*path.parts[:-1], path.stem)
    if len(words) != 3 or not all(re.fullmatch(r"0|[1-9]\d{0,7}", word) for word in words):
        return None
    return tuple(map(int, words))


def _file(folder: Path, path: Path) -> PackedFile:
    with open_input(path, MOST_BYTES) as stream:
        content = stream.read()
    if not content.startswith(_KINDS[path.suffix.lower()]):
        raise InputError("not-a-picture", f"{path} is not the picture that its name says.", hint="Take it away.")
    return PackedFile(f"tiles/{path.relative_to(folder).as_posix()}", content, "tile")
