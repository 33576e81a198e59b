"""Publishing: a set or a contest as a folder of plain files, for those who look things up and use no command line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from taskdb.errors import UsageError
from taskdb.files.pack import Pack, PackedFile, write_pack
from taskdb.files.safe_names import safe_name
from taskdb.formats.known import SETS_HANDED_OUT, SUFFIX_OF
from taskdb.formats.registry import write_set
from taskdb.reference.leaflet import load_leaflet
from taskdb.report.pages.contest_pages import contest_pages, map_path
from taskdb.report.pages.edition import Manner
from taskdb.report.pages.set_pages import set_pages
from taskdb.report.pages.texts import Language
from taskdb.services.desk import Desk
from taskdb.services.handing_out.contest_editions import contest_edition, download_of
from taskdb.services.handing_out.editions import edition_of
from taskdb.services.handing_out.pages import map_text
from taskdb.services.handing_out.smaller import made_small
from taskdb.services.handing_out.tiles import Background, background
from taskdb.services.references import resolve_set

if TYPE_CHECKING:
    from taskdb.core.model import Waypoint
    from taskdb.core.quantities import Units


@dataclass(frozen=True)
class PublishRequest:
    """What to publish and how: a set or a contest."""

    to: str
    set_reference: str | None = None
    contest: str | None = None
    language: Language = Language.EN
    title: str | None = None
    findings: bool = False
    """Publish what the check of the set finds, too."""
    tiles: str | None = None
    """Background pictures of the user's own for the map: an address with {z}, {x} and {y}, or a folder."""
    attribution: str | None = None
    overwrite: bool = False
    units: Units | None = None


@dataclass(frozen=True)
class Published:
    """What was published: SET@R or CONTEST@R, the pack, how many waypoints or tasks it holds, whether its maps move."""

    what: str
    pack: Pack
    count: int
    has_moving_maps: bool
    entry: str = "index.html"


_FORMATS = {".html": "html", ".js": "js", ".css": "css", ".svg": "svg", ".txt": "text"}


def publish(desk: Desk, request: PublishRequest) -> Published:
    """Write a publication into a folder or zip: what its manifest lists is replaced, whatever else lies there stays.

    UsageError where neither a set nor a contest is named, or both; what `background` raises.
    """
    if (request.set_reference is None) == (request.contest is None):
        both = request.contest is not None
        raise UsageError(
            "what-to-publish",
            "A set and a contest are published apart." if both else "It is not said what to publish.",
            hint="taskdb publish SET --to DIR, or taskdb publish --contest C --to DIR",
        )
    files, what, count = (
        _contest_files(desk, request, request.contest)
        if request.contest is not None
        else _set_files(desk, request, request.set_reference or "")
    )
    pack = write_pack(request.to, files, overwrite=request.overwrite, whole=True)
    return Published(what, pack, count, load_leaflet() is not None)


def _set_files(desk: Desk, request: PublishRequest, reference: str) -> tuple[list[PackedFile], str, int]:
    """Return the files of a set's publication, what it is called, and how many waypoints are in it."""
    behind = background(request.tiles, request.attribution)
    with desk.store.reading() as c:
        at = resolve_set(c, reference)
        edition = edition_of(c, at, today=desk.now().date().isoformat(), with_findings=request.findings)
    taken = made_small(_taken(str(at), edition.waypoints, safe_name(at.head.name)))
    downloads = [download_of(file) for file in taken]
    pages = set_pages(edition, _manner(request, behind), downloads)
    return [*_packed(pages), *taken, *_pictures(behind)], str(at), len(edition.waypoints)


def _contest_files(desk: Desk, request: PublishRequest, name: str) -> tuple[list[PackedFile], str, int]:
    """Return the files of a contest's publication, what it is called, and how many tasks are in it."""
    behind = background(request.tiles, request.attribution)
    manner = _manner(request, behind)
    with desk.store.reading() as c:
        gathered = contest_edition(c, name, units=request.units, with_findings=request.findings)
    edition = gathered.edition
    pages = contest_pages(edition, manner)
    if manner.library is None:
        pages |= {map_path(task): map_text(task.page).encode("utf-8") for task in edition.tasks}
    what = f"{edition.name}@{edition.revision}"
    return [*_packed(pages), *gathered.files, *_pictures(behind)], what, len(edition.tasks)


def _pictures(behind: Background | None) -> Sequence[PackedFile]:
    return behind.files if behind is not None else ()


def _manner(request: PublishRequest, behind: Background | None) -> Manner:
    tiles = behind.tiles if behind is not None else None
    manner = Manner(request.language, request.title, library=load_leaflet(), tiles=tiles)
    return manner if request.units is None else replace(manner, units=request.units)


def _taken(reference: str, waypoints: Sequence[Waypoint], name: str) -> list[PackedFile]:
    import io

    found = []
    for format_name in SETS_HANDED_OUT:
        buffer = io.BytesIO()
        lost = write_set(buffer, waypoints, format_name)
        path = f"files/{name}{SUFFIX_OF[format_name]}"
        found.append(PackedFile(path, buffer.getvalue(), format_name, set=reference, lost=tuple(lost)))
    return found


def _packed(pages: dict[str, bytes]) -> list[PackedFile]:
    return [PackedFile(path, content, _FORMATS[path[path.rindex(".") :]]) for path, content in pages.items()]
