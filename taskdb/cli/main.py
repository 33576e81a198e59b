"""The way in: `run()` is the console script, `main(argv)` one call that returns its exit code.

Here alone results are printed, failures told, and exit codes chosen. What a command does stands in its own module.
An answer is drawn whole before its first letter is written: a failure never leaves half a document behind.
"""

from __future__ import annotations

import contextlib
import gc
import io
import os
import sys
from typing import TYPE_CHECKING, Any, NamedTuple, NoReturn

import click

from taskdb.cli.frame.lazy import Shown, root
from taskdb.cli.frame.settings import Settings
from taskdb.errors import ExitCode, TaskdbError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from taskdb.cli.frame.command import Outcome

COMPLETION_VARIABLE = "_TASKDB_COMPLETE"
_ASCII = {"ascii", "us-ascii", "ansi_x3.4-1968", "646"}


class Reply(NamedTuple):
    """What goes to standard output, what is said after it, and the exit code."""

    text: str
    exit_code: ExitCode
    warnings: Sequence[str] = ()


def run() -> NoReturn:
    """Run the command line of this process and exit with its code."""
    # A small command is nothing but imports, and the collector finds nothing in them: 20 ms of 260.
    gc.set_threshold(100_000, 20, 20)
    # What fails while an object is being thrown away cannot be raised; a person must not see its traceback.
    sys.unraisablehook = lambda _: None
    prepare_streams()
    # Not main(): once something is kept, an interrupt stays ignored until the process has gone.
    _leave(int(_run_line(sys.argv[1:])))


def _leave(code: int) -> NoReturn:
    """End this process without freeing one by one what it made: a quarter of a short command's time.

    What asked to be called at the end is called (temporary folders, drivers), and what was written is written out;
    connections and files are closed where they were opened. A thread that still works is waited for as ever.
    """
    import atexit
    import threading

    if any(thread is not threading.main_thread() and not thread.daemon for thread in threading.enumerate()):
        sys.exit(code)
    atexit._run_exitfuncs()
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):
            stream.flush()
    os._exit(code)


def main(argv: Sequence[str]) -> ExitCode:
    """Run one command line within a process that goes on, and return its exit code; never raises, never exits."""
    try:
        return _run_line(argv)
    finally:
        if "taskdb.cli.frame.interrupts" in sys.modules:
            sys.modules["taskdb.cli.frame.interrupts"].restore_interrupts()


def _run_line(argv: Sequence[str]) -> ExitCode:
    if COMPLETION_VARIABLE in os.environ:
        from taskdb.cli.frame.completion import complete

        return complete(os.environ[COMPLETION_VARIABLE])
    settings = Settings()
    try:
        reply = _reply(list(argv), settings)
        code = _write(reply, settings)
        if reply.warnings:
            from taskdb.cli.render.problems import print_warnings

            print_warnings(reply.warnings, color=not settings.is_plain())
        return code
    except KeyboardInterrupt:  # while a long answer was being written
        _drop_output()
        _say_kept("The answer was interrupted.", settings)
        return ExitCode.INTERRUPTED


def is_asked(flag: str, argv: Sequence[str]) -> bool:
    """Say whether a flag stands anywhere among the words before `--`: known even where the rest cannot be read."""
    words = list(argv)
    return flag in (words[: words.index("--")] if "--" in words else words)


def prepare_streams() -> None:
    """Make standard output and error UTF-8, whatever the locale; what has no UTF-8 is written as an escape.

    A terminal that says it speaks another encoding than ASCII keeps it, or its user would read garbage; what that lacks
    is shown by like letters where there are some.
    """
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:  # closed by whoever started us
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: PTH123, SIM115
            continue
        keeps = stream.isatty() and stream.encoding.lower() not in _ASCII
        errors = "backslashreplace"
        if keeps and stream.encoding.lower() not in {"utf-8", "utf8"}:
            from taskdb.cli.frame.encodings import PLAINER

            errors = PLAINER
        stream.reconfigure(encoding=stream.encoding if keeps else "utf-8", errors=errors)


def _reply(argv: list[str], settings: Settings) -> Reply:
    is_plain = settings.is_plain() or is_asked("--no-color", argv)
    failed = _Failure(settings, wants_json=is_asked("--json", argv), is_plain=is_plain)
    outcome: Outcome | None = None
    try:
        with root().make_context("taskdb", argv, obj=settings) as context:
            outcome = context.command.invoke(context)
        assert outcome is not None
        return _reply_to(outcome, settings)
    except Shown as asked:
        if not failed.wants_json:
            return Reply(asked.text + "\n", ExitCode.DONE)
        from taskdb.cli.frame.answer import success

        return Reply(_json(success(asked.kind, asked.result, [])), ExitCode.DONE)
    except TaskdbError as error:
        return failed.reply(error.exit_code, error.code, error.message, error.hint, error.details)
    except click.ClickException as error:
        from taskdb.cli.frame.failures import usage_problem

        if isinstance(error, click.exceptions.NoArgsIsHelpError) and not failed.wants_json:
            sys.stderr.write(error.format_message() + "\n")
            return Reply("", ExitCode.USAGE)
        return failed.reply(ExitCode.USAGE, *usage_problem(error))
    except (KeyboardInterrupt, click.Abort):
        message = "Interrupted." if settings.kept else "Interrupted, nothing kept."
        return failed.reply(ExitCode.INTERRUPTED, "interrupted", message)
    except Exception as error:
        from taskdb.cli.frame.failures import bug_problem, damage_behind

        if (damage := damage_behind(error, settings)) is not None:
            return failed.reply(damage.exit_code, damage.code, damage.message, damage.hint, damage.details)
        return failed.reply(ExitCode.BUG, *bug_problem(error, settings))


class _Failure(NamedTuple):
    """How a failure of this command line is told: as a JSON document, or to people on standard error."""

    settings: Settings
    wants_json: bool
    is_plain: bool

    def reply(
        self,
        exit_code: ExitCode,
        code: str,
        message: str,
        hint: str | None = None,
        details: Mapping[str, Any] | None = None,
    ) -> Reply:
        from taskdb.cli.frame.failures import kept_words, without_url_passwords

        message, hint, details = without_url_passwords([message, hint, details])
        if self.settings.kept or self.settings.has_made_file:
            hint = " ".join(filter(None, [kept_words(self.settings), hint]))
            details = {**(details or {}), "kept": list(self.settings.kept)}
        if self.wants_json:
            from taskdb.cli.frame.answer import failure

            return Reply(_json(failure(code, message, hint, details or {})), exit_code)
        from taskdb.cli.render.problems import print_failure

        print_failure(message, hint, details or {}, color=not self.is_plain)
        return Reply("", exit_code)


def _reply_to(outcome: Outcome, settings: Settings) -> Reply:
    from taskdb.cli.frame.answer import success

    answer, invocation = outcome.answer, outcome.invocation
    is_preview = outcome.writes and settings.preview
    if settings.json:
        result = {**answer.result, "preview": True} if is_preview else answer.result
        return Reply(_json(success(invocation.name, result, invocation.warnings)), answer.exit_code)

    from taskdb.cli.render.console import Printer, stream_width

    width, paper = stream_width(sys.stdout), io.StringIO()
    printer = Printer(paper, color=width is not None and not settings.is_plain(), width=width, units=invocation.units)
    if is_preview:
        printer.heading("would (a preview, nothing is kept):")
    answer.people(printer)
    if settings.gives_file:  # standard output is the file; what is said of it goes beside it
        sys.stderr.write(paper.getvalue())
        return Reply("", answer.exit_code, invocation.warnings)
    return Reply(paper.getvalue(), answer.exit_code, invocation.warnings)


def _json(document: Mapping[str, Any]) -> str:
    from taskdb.cli.frame.answer import to_json

    return to_json(document, indented=sys.stdout.isatty()) + "\n"


def _write(reply: Reply, settings: Settings) -> ExitCode:
    """Write the answer and return the exit code; a reader that went away is no failure, a full disk is.

    Where the answer is not seen, standard error says what is kept all the same.
    """
    try:
        sys.stdout.write(reply.text)
        sys.stdout.flush()
    except OSError as error:
        from taskdb.cli.render.console import talk
        from taskdb.files.standing import is_reader_gone

        _drop_output()
        if is_reader_gone(error):
            _say_kept("Nobody reads the answer.", settings)
            return reply.exit_code
        talk(f"The answer could not be written: {error.strerror or error}.", label="error:", style="error")
        _say_kept("", settings)
        return ExitCode.REFUSED
    else:
        if reply.text and _is_closed():
            _say_kept("Standard output is closed.", settings)
    return reply.exit_code


def _is_closed() -> bool:
    """Say whether there was no standard output to begin with: `prepare_streams` put a null device there."""
    return getattr(sys.stdout, "name", None) == os.devnull


def _say_kept(why: str, settings: Settings) -> None:
    """Say on standard error what the command has kept, where it has kept anything."""
    if settings.kept or settings.has_made_file:
        from taskdb.cli.frame.failures import kept_words
        from taskdb.cli.render.console import talk

        talk(" ".join(filter(None, [why, kept_words(settings)])), label="note:", style="warning")


def _drop_output() -> None:
    """Point standard output nowhere, so that the interpreter's last flush has nothing to complain about."""
    devnull = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(devnull, sys.stdout.fileno())
    except (OSError, ValueError):
        return
    finally:
        os.close(devnull)
