"""SQLite's own calls of the system, in this process: each passes a boundary, where the k-th may fail.

By its "unix" VFS, which lets its calls be replaced (SQLite, "The OS Backend", `xSetSystemCall`), so that nothing has to
be preloaded and no process started. Needs the SQLite library that Python's module is linked to as a file of its own.
"""

from __future__ import annotations

import _sqlite3
import ctypes
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from tests.faults.boundary import Boundary

_INT, _SIZE, _TEXT, _ADDRESS = ctypes.c_int, ctypes.c_ssize_t, ctypes.c_char_p, ctypes.c_void_p
_SHAPES: dict[str, tuple[Any, ...]] = {
    "open": (_INT, _TEXT, _INT, _INT),
    "pwrite": (_SIZE, _INT, _ADDRESS, ctypes.c_size_t, ctypes.c_int64),
    "pwrite64": (_SIZE, _INT, _ADDRESS, ctypes.c_size_t, ctypes.c_int64),
    "write": (_SIZE, _INT, _ADDRESS, ctypes.c_size_t),
    "ftruncate": (_INT, _INT, ctypes.c_int64),
    "unlink": (_INT, _TEXT),
}
"""Result and parameters of the calls that change a disk."""


class _Vfs(ctypes.Structure):
    """The head of sqlite3_vfs (sqlite3.h), version 3."""

    _fields_ = [
        ("version", _INT), ("file_size", _INT), ("path_size", _INT), ("next", _ADDRESS), ("name", _TEXT),
        ("data", _ADDRESS), *((f"call_{n}", _ADDRESS) for n in range(13)),
        ("set_call", ctypes.CFUNCTYPE(_INT, _ADDRESS, _TEXT, _ADDRESS)),
        ("get_call", ctypes.CFUNCTYPE(_ADDRESS, _ADDRESS, _TEXT)),
    ]  # fmt: skip


def _vfs() -> Any:
    """Return the VFS of the library that Python's module is linked to, None where it cannot be had."""
    try:
        # Through the module: other packages bring libraries of the same name.
        find = ctypes.CDLL(_sqlite3.__file__).sqlite3_vfs_find
    except (OSError, AttributeError):
        return None
    find.argtypes, find.restype = [_TEXT], ctypes.POINTER(_Vfs)
    return find(b"unix")


IS_HERE = bool(_vfs())


@contextmanager
def counted_in_sqlite(boundary: Boundary, only: frozenset[str] = frozenset(_SHAPES)) -> Iterator[None]:
    """Let SQLite's calls that change a disk pass the boundary; what it raises (OSError) is the call's answer."""
    vfs = _vfs()
    kept: list[tuple[bytes, Any]] = []
    try:
        for name in only:
            real = vfs.contents.get_call(vfs, name.encode())
            if real:
                kept.append((name.encode(), _replaced(name, real, boundary)))
                vfs.contents.set_call(vfs, name.encode(), ctypes.cast(kept[-1][1], _ADDRESS))
        yield
    finally:
        for encoded, _ in kept:
            vfs.contents.set_call(vfs, encoded, None)  # its own again


def _replaced(name: str, real: int, boundary: Boundary) -> Any:
    shape = ctypes.CFUNCTYPE(*_SHAPES[name], use_errno=True)
    call: Callable[..., int] = shape(real)

    def passing(*args: Any) -> int:
        if name != "open" or args[1] & os.O_CREAT:
            try:
                boundary.passes(f"sqlite {name}")
            except OSError as error:
                ctypes.set_errno(error.errno or 0)
                return -1
        return call(*args)

    return shape(passing)
