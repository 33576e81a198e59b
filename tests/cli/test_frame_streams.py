"""What reaches the streams: encodings, terminals, readers that go away, interrupts, characters that steer terminals."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from taskdb.cli import main
from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import command
from taskdb.errors import ExitCode, NotFoundError

ROOT = Path(__file__).parents[2]
HOSTILE = "Quarry\x1b]0;owned\x07\x9b31m\u202e\r\nforged"


@command("try hostile")
def hostile(invocation):
    """A probe."""
    invocation.warn(HOSTILE)

    def draw(out):
        out.line(HOSTILE)
        out.heading(HOSTILE)
        out.pairs([(HOSTILE, HOSTILE)])
        out.table(["code", "name"], [[HOSTILE, "x" * 200]])

    return Answer({"name": HOSTILE}, people=draw)


@command("try miss")
def miss(invocation):
    """A probe."""
    raise NotFoundError("gone", f"There is no {HOSTILE}.", hint=HOSTILE)


@pytest.mark.parametrize("terminal", [False, True])
@pytest.mark.parametrize("words", [["hostile"], ["miss"], ["hostile", "--json"], ["miss", "--json"], ["miss\x1b"]])
def test_nothing_from_data_steers_a_terminal(taskdb, install, terminal, words):
    install(hostile, miss)
    done = taskdb("try", *words, "--no-color", terminal=terminal)
    shown = (done.stdout + done.stderr).replace("\n", "")
    assert shown
    assert [c for c in shown if c < " " or "\x7f" <= c <= "\x9f" or c == "\u202e"] == []


def test_json_gives_back_exactly_what_was_kept(taskdb, install):
    install(hostile)
    assert taskdb("try", "hostile", "--json").result()["name"] == HOSTILE


def test_json_is_indented_for_a_terminal_and_one_line_elsewhere(taskdb):
    assert taskdb("--version", "--json").stdout.count("\n") == 1
    shown = taskdb("--version", "--json", terminal=True)
    assert shown.stdout.splitlines()[1] == '  "schema": "taskdb.version/1",'


def test_json_keeps_non_ascii_letters(taskdb, install):
    @command("try name")
    def name(invocation):
        """A probe."""
        return Answer({"name": "Großer Ölberg"}, people=lambda out: out.line("Großer Ölberg"))

    install(name)
    assert "Großer Ölberg" in taskdb("try", "name", "--json").stdout


def test_colour_is_only_for_terminals_that_want_it(taskdb, install):
    install(hostile)
    assert "\x1b[1m" in taskdb("try", "hostile", terminal=True).stdout
    assert "\x1b[1m" not in taskdb("try", "hostile").stdout
    assert "\x1b[1m" not in taskdb("try", "hostile", "--no-color", terminal=True).stdout
    assert "\x1b[1m" not in taskdb("try", "hostile", terminal=True, env={"NO_COLOR": "1"}).stdout
    assert "\x1b[1m" in taskdb("try", "hostile", terminal=True, env={"NO_COLOR": ""}).stdout


def test_an_interrupt_after_the_commit_comes_too_late(taskdb, install, monkeypatch):
    """Otherwise "interrupted, nothing kept" would be untrue."""

    @command("try keep", writes=True)
    def keep(invocation):
        """A probe."""
        invocation.desk.before_keeping()
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(0.01)
        return Answer({}, people=lambda out: out.line("kept"))

    install(keep)
    before = signal.getsignal(signal.SIGINT)
    done = taskdb("try", "keep")
    assert (done.exit_code, done.stdout) == (ExitCode.DONE, "kept\n")
    assert signal.getsignal(signal.SIGINT) is before


# A run in the background ignores interrupts and hands that on: the probe takes them again, as at a terminal.
PROBE = """
import signal, sys, types, time
signal.signal(signal.SIGINT, signal.default_int_handler)
sys.path.insert(0, {root!r})
from taskdb.cli import commands_table, main
from taskdb.cli import main
from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import command
@command("probe")
def probe(invocation):
    "A probe."
    {body}
    return Answer({{"name": "Gro\\u00dfer \\u00d6lberg", "rows": ["row"] * 200_000}},
        people=lambda out: [out.line("Gro\\u00dfer \\u00d6lberg") for _ in range(20_000)])
sys.modules["probes"] = types.ModuleType("probes")
sys.modules["probes"].probe = probe
commands_table.COMMANDS += (commands_table.Entry("probe", "", "probes", "probe", "A probe."),)
sys.argv[1:] = {words!r}
main.run()
"""


def process(*words: str, body: str = "pass") -> list[str]:
    return [sys.executable, "-c", PROBE.format(root=str(ROOT), body=body, words=["probe", *words])]


def test_a_terminal_of_another_encoding_is_shown_like_letters(monkeypatch):
    class Terminal(io.TextIOWrapper):
        def isatty(self) -> bool:
            return True

    kept = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", Terminal(kept, encoding="latin-1", write_through=True))
    main.prepare_streams()
    sys.stdout.write("47°45.8′N – Öl → 東 …")
    assert kept.getvalue().decode("latin-1") == "47°45.8'N - Öl > \\u6771 ..."


def test_the_process_ends_with_its_exit_code_and_all_that_asked_to_be_called():
    """It ends without freeing what it made; what has to happen at the end happens all the same."""
    body = "import atexit; atexit.register(lambda: print('last'))"
    done = subprocess.run(process("--json", body=body), capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == ExitCode.DONE
    assert done.stdout.rstrip().endswith("}\nlast")
    body = "import threading, time; threading.Thread(target=lambda: (time.sleep(0.3), print('late'))).start()"
    done = subprocess.run(process("--json", body=body), capture_output=True, text=True, timeout=60, check=False)
    assert done.stdout.rstrip().endswith("}\nlate")
    done = subprocess.run(process("--nothing"), capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == ExitCode.USAGE


@pytest.mark.parametrize("words", [[], ["--json"]])
def test_output_is_utf8_where_the_locale_is_ascii(words):
    env = {**os.environ, "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    done = subprocess.run(process(*words), capture_output=True, env=env, timeout=60, check=False)
    assert done.returncode == ExitCode.DONE
    assert "Großer Ölberg" in done.stdout.decode("utf-8")


@pytest.mark.parametrize("words", [[], ["--json"], ["--help"]])
def test_a_reader_that_goes_away_is_no_failure(words):
    with subprocess.Popen(process(*words), stdout=subprocess.PIPE, stderr=subprocess.PIPE) as running:
        running.stdout.close()
        errors = running.stderr.read()
        code = running.wait(timeout=60)
    assert (code, errors) == (ExitCode.DONE, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_is_a_failure_and_is_said():
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(process(), stdout=full, stderr=subprocess.PIPE, timeout=60, check=False)
    assert done.returncode == ExitCode.REFUSED
    assert done.stderr.startswith(b"error: The answer could not be written")
    assert b"Traceback" not in done.stderr


@pytest.mark.skipif(os.name != "posix", reason="signals are sent as on POSIX")
@pytest.mark.parametrize("words", [[], ["--json"]])
def test_ctrl_c_is_130_without_a_traceback(words):
    body = "print('ready', file=sys.stderr, flush=True); time.sleep(60)"
    with subprocess.Popen(process(*words, body=body), stdout=subprocess.PIPE, stderr=subprocess.PIPE) as running:
        assert running.stderr.readline() == b"ready\n"
        running.send_signal(signal.SIGINT)
        out, err = running.communicate(timeout=60)
    assert running.returncode == ExitCode.INTERRUPTED
    if words:
        assert json.loads(out)["error"]["code"] == "interrupted"
    else:
        assert err == b"error: Interrupted, nothing kept.\n"


@pytest.mark.skipif(os.name != "posix", reason="signals are sent as on POSIX")
def test_ctrl_c_once_something_is_kept_is_ignored_until_the_process_has_gone():
    body = (
        "import atexit, signal; invocation.desk.before_keeping(); "
        "atexit.register(lambda: print(signal.getsignal(signal.SIGINT).name, file=sys.stderr))"
    )
    done = subprocess.run(process(body=body), capture_output=True, timeout=60, check=False)
    assert (done.returncode, done.stderr) == (ExitCode.DONE, b"SIG_IGN\n")


def test_closed_streams_are_no_crash():
    done = subprocess.run(
        ["sh", "-c", 'exec "$@" >&- 2>&-', "sh", *process()], timeout=60, check=False, capture_output=True
    )
    assert done.returncode == ExitCode.DONE


def test_python_m_taskdb_is_the_command(taskdb_process):
    done = taskdb_process("--version")
    assert (done.exit_code, done.stderr) == (ExitCode.DONE, "")
    assert done.stdout.startswith("taskdb ")
