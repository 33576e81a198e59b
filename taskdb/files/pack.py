"""Many files handed out at once, in a folder or a zip, with a manifest by which they can be verified later.

All or nothing: what fails leaves the target as it was. A zip stores its entries uncompressed under one fixed time,
since packing libraries differ in their output; so the same files make the same bytes on every machine.
"""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any, BinaryIO

from taskdb.core.numbers import some_of
from taskdb.disk.paths import stays_inside
from taskdb.disk.private import clear_left_behind, is_private
from taskdb.errors import InputError, NotFoundError, RefusedError, TaskdbError
from taskdb.files.held import Content, chunks_of, held, sha256_of
from taskdb.files.reading import open_input
from taskdb.files.staging import made, replace_all
from taskdb.files.standing import is_file, is_folder, is_there
from taskdb.files.writing import unwritable, write_chunks
from taskdb.files.zips import UNREADABLE, opened_zip

MANIFEST = "MANIFEST.json"
MANIFEST_SCHEMA = "taskdb.manifest/1"
_ZIP_TIME = (1980, 1, 1, 0, 0, 0)
_MANIFEST_LIMIT = 64 << 20
_PIECE = 1 << 20


@dataclass(frozen=True, slots=True)
class PackedFile:
    """A file to be handed out: its path in the target (with /), what it is of, and what its format could not hold."""

    path: str
    content: Content
    format: str
    task: str | None = None
    set: str | None = None
    lost: tuple[str, ...] = ()
    fingerprint: str | None = None
    on_set: str | None = None
    """For a task: its fingerprint, and the set revision that its points are of."""


@dataclass(frozen=True, slots=True)
class Written:
    """A file as it was handed out, as the manifest lists it."""

    path: str
    format: str
    bytes: int
    sha256: str
    task: str | None = None
    set: str | None = None
    lost: tuple[str, ...] = ()
    fingerprint: str | None = None
    on_set: str | None = None

    def plain(self) -> dict[str, Any]:
        """Return the JSON form; `task` or `set`, whichever it is of."""
        of = {name: value for name, value in self._of() if value is not None}
        result: dict[str, Any] = {"path": self.path, "format": self.format, "bytes": self.bytes, "sha256": self.sha256}
        return {**result, **of, "lost": list(self.lost)}

    def _of(self) -> tuple[tuple[str, str | None], ...]:
        return (
            ("task", self.task),
            ("set", self.set),
            ("fingerprint", self.fingerprint),
            ("on_set", self.on_set),
        )


@dataclass(frozen=True, slots=True)
class Pack:
    """What was handed out: the target and the files written into it, in order of path."""

    target: str
    files: tuple[Written, ...]

    def plain(self) -> dict[str, Any]:
        """Return the JSON form."""
        return {"to": self.target, "files": [file.plain() for file in self.files]}


@dataclass(frozen=True, slots=True)
class Difference:
    """What a verification found: a file `missing`, `changed` or `unlisted`."""

    path: str
    kind: str
    message: str


def is_zip(target: str | Path) -> bool:
    """Say whether a target is a zip by its name."""
    return str(target).lower().endswith(".zip")


def written(file: PackedFile) -> Written:
    """Return a file as the manifest lists it."""
    size, checksum = len(file.content), sha256_of(file.content)
    return Written(
        file.path, file.format, size, checksum, file.task, file.set, file.lost, file.fingerprint, file.on_set
    )


def write_pack(
    target: str | Path, files: Sequence[PackedFile], *, overwrite: bool = False, whole: bool = False
) -> Pack:
    """Write files and their manifest into a folder (made where it is missing) or a zip (a name ending in `.zip`).

    A file of the folder that its manifest lists is replaced, and the manifest keeps what it lists besides; where the
    files are the `whole` of what the folder is to hold, what it lists besides is taken away. A zip that we wrote is
    replaced as a whole. Raises RefusedError, unless `overwrite`, for an existing file that the target's manifest does
    not list and for one to be taken away that is not as it was written, and for paths that clash or leave the target.
    """
    ordered = sorted(files, key=lambda file: file.path)
    _require_paths([file.path for file in ordered])
    pack = Pack(str(target), tuple(written(file) for file in ordered))
    if is_zip(target):
        _write_zip(Path(target), ordered, pack, overwrite=overwrite)
    else:
        _write_folder(Path(target), ordered, pack, overwrite=overwrite, whole=whole)
    return pack


def _require_paths(paths: Sequence[str]) -> None:
    seen: set[str] = set()
    for path in (MANIFEST, *paths):
        if not stays_inside(path) or path.casefold() in seen:
            raise RefusedError("bad-path", f"{path!r} cannot be a file of the target.", details={"path": path})
        seen.add(path.casefold())


def manifest_bytes(entries: Sequence[Mapping[str, Any]]) -> bytes:
    """Return the manifest's text for its entries, ordered by path."""
    ordered = sorted(entries, key=lambda entry: str(entry["path"]))
    document = {"schema": MANIFEST_SCHEMA, "files": ordered}
    return (json.dumps(document, ensure_ascii=False, indent=2) + "\n").encode("utf-8", "replace")


def _entries(content: bytes | None) -> list[dict[str, Any]] | None:
    """Return what a manifest lists, None where it is none of ours."""
    try:
        document = json.loads((content or b"").decode("utf-8"))
        if document["schema"] != MANIFEST_SCHEMA:
            return None
        entries = [dict(entry) for entry in document["files"]]
        if all(isinstance(e["path"], str) and isinstance(e["sha256"], str) for e in entries):
            return entries
    except (ValueError, TypeError, KeyError, RecursionError):
        pass
    return None


def _refuse_existing(target: Path, clashing: Sequence[str]) -> RefusedError:
    return RefusedError(
        "file-exists",
        f"{target} holds files that its manifest does not list: {some_of(clashing, 8)}.",
        hint="Choose another target, or write over them with --yes.",
        details={"to": str(target), "files": list(clashing)},
    )


# Zips


def _write_zip(target: Path, files: Sequence[PackedFile], pack: Pack, *, overwrite: bool) -> None:
    if is_there(target) and not overwrite:
        _require_own_zip(target)

    def fill(stream: BinaryIO) -> None:
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as archive:
            for file in files:
                entry = _zip_entry(file.path)
                entry.file_size = len(file.content)
                with archive.open(entry, "w") as packed:
                    for piece in chunks_of(file.content):
                        packed.write(piece)
            archive.writestr(_zip_entry(MANIFEST), manifest_bytes([file.plain() for file in pack.files]))

    write_chunks(target, held(fill)[0].chunks())


def _zip_entry(path: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(path, date_time=_ZIP_TIME)
    entry.compress_type = zipfile.ZIP_STORED
    entry.create_system = 3
    entry.external_attr = 0o100644 << 16
    return entry


def _require_own_zip(target: Path) -> None:
    """Refuse to replace a zip that holds anything but what its manifest lists."""
    try:
        with opened_zip(target) as archive:
            names = [name for name in archive.namelist() if not name.endswith("/")]
            listed = _entries(_manifest_in(archive))
    except (*UNREADABLE, InputError):
        raise _refuse_existing(target, [target.name]) from None
    if listed is None:
        raise _refuse_existing(target, sorted(names) or [target.name])
    clashing = sorted(set(names) - {entry["path"] for entry in listed} - {MANIFEST})
    if clashing:
        raise _refuse_existing(target, clashing)


# Folders


def _write_folder(target: Path, files: Sequence[PackedFile], pack: Pack, *, overwrite: bool, whole: bool) -> None:
    if is_there(target) and not is_folder(target):
        raise RefusedError(
            "not-a-folder", f"{target} is no folder.", hint="Name a folder, or a file ending in .zip.", details={}
        )
    _require_no_links(target, files)
    if is_folder(target):
        clear_left_behind(target)  # an earlier writer may have been killed half way
    listed = _entries(_read(target / MANIFEST)) if is_file(target / MANIFEST) else []
    if not overwrite:
        known = {entry["path"] for entry in listed or []}
        clashing = [f.path for f in files if f.path not in known and os.path.lexists(target / f.path)]
        if listed is None:
            clashing.append(MANIFEST)
        if clashing:
            raise _refuse_existing(target, sorted(clashing))
    new = {file.path for file in files}
    kept = [e for e in listed or [] if e["path"] not in new and stays_inside(e["path"]) and is_file(target / e["path"])]
    gone: list[str] = []
    if whole:
        gone = [entry["path"] for entry in kept if not _leads_out(target, entry["path"])]
        if not overwrite:
            _require_untouched(target, kept)
        kept = []
    contents: dict[str, Content] = {file.path: file.content for file in files}
    contents[MANIFEST] = manifest_bytes([*kept, *(file.plain() for file in pack.files)])
    try:
        with made(target):
            replace_all(target, contents, gone)
    except OSError as error:
        raise unwritable(target, error) from None


def _require_untouched(target: Path, entries: Sequence[Mapping[str, Any]]) -> None:
    """Refuse to take files away that somebody has changed since they were written."""
    touched = [e["path"] for e in entries if _folder_digest(target / e["path"]) != e["sha256"]]
    if touched:
        raise RefusedError(
            "file-changed",
            f"{target} holds files that are no longer of this and were changed by hand: {', '.join(touched)}.",
            hint="Move them elsewhere, choose another target, or take them away with --yes.",
            details={"to": str(target), "files": touched},
        )


def _leads_out(target: Path, path: str) -> bool:
    """Say whether a folder on the way to a listed file is a link: what lies behind it is not ours to take away."""
    return any((target / parent).is_symlink() for parent in PurePosixPath(path).parents if parent.name)


def _require_no_links(target: Path, files: Sequence[PackedFile]) -> None:
    """Refuse a target in which a folder of ours is a link: the files would land elsewhere."""
    inner = {parent for file in files for parent in PurePosixPath(file.path).parents if parent.name}
    links = sorted(str(folder) for folder in inner if (target / folder).is_symlink())
    if links:
        raise RefusedError(
            "link-in-target",
            f"In {target} the folder {links[0]} is a link that leads elsewhere.",
            hint="Take the link away, or name another target.",
            details={"to": str(target), "links": links},
        )


def _read(path: Path) -> bytes | None:
    try:
        with open_input(path, _MANIFEST_LIMIT) as stream:
            return stream.read()
    except (TaskdbError, OSError):
        return None


# Verifying


def verify_pack(target: str | Path) -> list[Difference]:
    """Return what differs between a target and its manifest, in order of path; empty where nothing does.

    Every file besides the listed ones is told. Raises NotFoundError where there is no such target, InputError where it
    has no manifest of ours.
    """
    path = Path(target)
    if not is_there(path):
        raise NotFoundError("target-not-found", f"There is no {target}.", hint="Check the path.")
    if is_folder(path):
        content, names = _read(path / MANIFEST), _names_in(path)
        return _differences(target, content, names, lambda name, _: _folder_digest(path / name))
    try:
        with opened_zip(path) as archive:
            names = [name for name in archive.namelist() if not name.endswith("/")]
            content = _manifest_in(archive)
            return _differences(target, content, names, lambda name, size: _zip_digest(archive, name, size))
    except UNREADABLE:
        raise InputError("not-a-zip", f"{target} is no zip that can be read.", hint="Export it anew.") from None


def _names_in(folder: Path) -> list[str]:
    there = (p.relative_to(folder) for p in folder.rglob("*") if p.is_file())
    return [path.as_posix() for path in there if not is_private(path.parts[0])]


def _folder_digest(path: Path) -> str | None:
    digest = hashlib.sha256()
    try:
        with path.open("rb") as stream:
            while piece := stream.read(_PIECE):
                digest.update(piece)
    except OSError:
        return None
    return digest.hexdigest()


def _manifest_in(archive: zipfile.ZipFile) -> bytes | None:
    """Return the manifest of a zip, None where it has none or one that no export writes."""
    if MANIFEST not in archive.namelist() or archive.getinfo(MANIFEST).file_size > _MANIFEST_LIMIT:
        return None
    return archive.read(MANIFEST)


def _zip_digest(archive: zipfile.ZipFile, name: str, size: object) -> str | None:
    """Return the digest of an entry, None where it is not as large as listed: it may unpack without end."""
    digest = hashlib.sha256()
    try:
        if archive.getinfo(name).file_size != size:
            return None
        with archive.open(name) as stream:
            while piece := stream.read(_PIECE):
                digest.update(piece)
    except UNREADABLE:
        return None
    return digest.hexdigest()


def _differences(
    target: str | Path, content: bytes | None, names: Sequence[str], digest_of: Callable[[str, object], str | None]
) -> list[Difference]:
    entries = _entries(content)
    if entries is None:
        raise InputError(
            "no-manifest", f"{target} has no {MANIFEST} of an export.", hint="Name the folder or zip of an export."
        )
    there, found = set(names), []
    for entry in entries:
        path = entry["path"]
        if path not in there or not stays_inside(path):
            found.append(Difference(path, "missing", f"{path} is listed and not there"))
        elif digest_of(path, entry.get("bytes")) != entry["sha256"]:
            found.append(Difference(path, "changed", f"{path} is not as it was exported"))
    listed = {entry["path"] for entry in entries}
    found += [
        Difference(name, "unlisted", f"{name} is there and was not exported") for name in there - listed - {MANIFEST}
    ]
    return sorted(found, key=lambda difference: difference.path)
