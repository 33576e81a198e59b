"""What Windows lacks is not needed: every module is imported, and commands run, where it has been taken away.

Hidden is what the documentation of Python's library marks "Availability: Unix" and code of ours or of a careless day
would reach for; what other packages use for themselves they have imported before.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from taskdb.errors import ExitCode

pytestmark = pytest.mark.slow

DEMO = Path(__file__).parents[2] / "demo"

# Words of each command line on a line of its own come through standard input; what they answered goes back as JSON.
PROGRAM = r"""
import contextlib, importlib, io, json, os, pkgutil, signal, sys
import alembic.command, astral, click, jinja2, numpy, platformdirs, pygeomag, pyproj, rapidfuzz, rich, sqlalchemy
import getpass, logging.config, multiprocessing, rich.console, rich.progress, rich.table, shutil, sqlite3, subprocess
import tempfile, sqlalchemy.dialects.sqlite, urllib.request, zipfile

lines = json.load(sys.stdin)
for name in ("crypt", "curses", "fcntl", "grp", "nis", "posix", "pty", "pwd", "readline", "resource", "spwd", "syslog",
             "termios", "tty"):
    sys.modules[name] = None
for name in ("chown", "chroot", "fchmod", "fchown", "fork", "forkpty", "getegid", "geteuid", "getgid", "getgroups",
             "getloadavg", "getpgid", "getpgrp", "getpriority", "getsid", "getuid", "killpg", "lchown", "mkfifo",
             "nice", "openpty", "posix_fadvise", "posix_fallocate", "pread", "preadv", "pwrite", "pwritev", "readv",
             "mknod", "sched_getaffinity", "sendfile", "setsid", "setuid", "statvfs", "sync", "ttyname", "uname",
             "wait", "writev", "O_CLOEXEC", "O_DIRECTORY", "O_NOFOLLOW", "O_NONBLOCK", "O_SYNC", "O_DSYNC", "fdatasync",
             "fpathconf"):
    if hasattr(os, name):
        delattr(os, name)
for name in ("SIGALRM", "SIGHUP", "SIGPIPE", "SIGQUIT", "SIGUSR1", "SIGUSR2", "SIGWINCH", "SIGXFSZ", "SIGKILL",
             "alarm", "pause", "setitimer", "getitimer", "pthread_kill", "siginterrupt", "sigwait"):
    if hasattr(signal, name):
        delattr(signal, name)

plain_open, plain_fsync = os.open, os.fsync
readable = set()

def opened(path, flags, mode=0o777, **more):
    # The C library of Windows opens no folder, and brings to the disk only what is open for writing.
    if os.path.isdir(path):
        raise PermissionError(13, "Permission denied", str(path))
    descriptor = plain_open(path, flags, mode, **more)
    (readable.discard if flags & (os.O_WRONLY | os.O_RDWR) else readable.add)(descriptor)
    return descriptor

def synced(descriptor):
    if descriptor in readable:
        raise OSError(9, "Bad file descriptor")
    plain_fsync(descriptor)

os.open, os.fsync = opened, synced
import taskdb
for module in pkgutil.walk_packages(taskdb.__path__, "taskdb."):
    if not module.name.endswith("__main__"):
        importlib.import_module(module.name)
from taskdb.cli.main import main
answers = []
for line in lines:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(line)
    answers.append([int(code), err.getvalue()])
json.dump(answers, sys.stdout)
"""


def test_every_module_and_common_commands_do_without_what_windows_lacks(tmp_path: Path) -> None:
    store = ["--store", str(tmp_path / "store.db")]
    lines = [
        ["set", "import", str(DEMO / "region.csv"), "--into", "region", *store],
        ["task", "new", "A", "001", "232", "004", "001", "--set", "region", *store],
        ["task", "show", "A", "--json", *store],
        ["check", "run", "region", *store],
        ["export", "task", "A", "--format", "gpx", "--to", str(tmp_path / "out"), *store],
        ["publish", "region", "--to", str(tmp_path / "pages.zip"), *store],
        ["store", "backup", str(tmp_path / "kept.db"), *store],
        ["store", "dump", str(tmp_path / "dump"), *store],
        ["store", "verify", *store],
        ["undo", "--yes", *store],
    ]
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM],
        input=json.dumps(lines),
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    for line, (code, said) in zip(lines, json.loads(done.stdout), strict=True):
        assert code in (ExitCode.DONE, ExitCode.ACT), (line, said)
        assert "bug" not in said, said
