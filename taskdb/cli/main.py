"""The way in: `run()` is the console script, `main(argv)` one call that returns its exit code.

Here alone results are printed, failures told, and exit codes chosen. What a command does stands in its own module.
"""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING, Any, NoReturn

import click

from taskdb.cli.answer import failure, success, to_json
from taskdb.cli.lazy import Shown, root
from taskdb.cli.render.console import Printer, stream_width, talk
from taskdb.cli.settings import Settings
from taskdb.errors import ExitCode, TaskdbError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from taskdb.cli.command import Outcome

COMPLETION_VARIABLE = "_TASKDB_COMPLETE"


def run() -> NoReturn:
    """Run the command line of this process and exit with its code."""
    prepare_streams()
    code = main(sys.argv[1:])
    sys.exit(int(code))


def main(argv: Sequence[str]) -> ExitCode:
    """Run one command line and return its exit code; never raises, never exits."""
    if COMPLETION_VARIABLE in os.environ:
        from taskdb.cli.completion import complete

        return complete(os.environ[COMPLETION_VARIABLE])
    settings = Settings()
    wants_json = json_is_asked(argv)
    try:
        outcome = _invoke(list(argv), settings)
    except Shown as shown:
        return _print_shown(shown, wants_json)
    except TaskdbError as error:
        return _fail(settings, wants_json, error.exit_code, error.code, error.message, error.hint, error.details)
    except click.exceptions.NoArgsIsHelpError as error:
        if not wants_json:
            sys.stderr.write(error.format_message() + "\n")
            return ExitCode.USAGE
        return _fail(
            settings, wants_json, ExitCode.USAGE, "missing-command", "A command is missing.", "See `taskdb --help`.", {}
        )
    except click.ClickException as error:
        from taskdb.cli.usage import usage_problem

        return _fail(settings, wants_json, ExitCode.USAGE, *usage_problem(error))
    except (KeyboardInterrupt, click.Abort):
        return _fail(settings, wants_json, ExitCode.INTERRUPTED, "interrupted", "Interrupted, nothing kept.", None, {})
    except Exception as error:
        from taskdb.cli.bugs import bug_problem

        return _fail(settings, wants_json, ExitCode.BUG, *bug_problem(error, settings))
    return _print_outcome(outcome, settings)


def json_is_asked(argv: Sequence[str]) -> bool:
    """Say whether --json stands anywhere among the words before `--`: known even where the rest cannot be read."""
    words = list(argv)
    return "--json" in (words[: words.index("--")] if "--" in words else words)


def prepare_streams() -> None:
    """Make standard output and error UTF-8, whatever the locale; what has no UTF-8 is written as an escape.

    A terminal that says it speaks another encoding than ASCII keeps it, or its user would read garbage.
    """
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:  # closed by whoever started us
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: PTH123, SIM115
            continue
        keeps = stream.isatty() and stream.encoding.lower() not in {"ascii", "us-ascii", "ansi_x3.4-1968"}
        stream.reconfigure(encoding=stream.encoding if keeps else "utf-8", errors="backslashreplace")


def _invoke(argv: list[str], settings: Settings) -> Outcome:
    with root().make_context("taskdb", argv, obj=settings) as context:
        outcome: Outcome = context.command.invoke(context)
        return outcome


def _print_outcome(outcome: Outcome, settings: Settings) -> ExitCode:
    answer, invocation = outcome.answer, outcome.invocation
    result = dict(answer.result)
    preview = outcome.writes and settings.preview
    if preview:
        result["preview"] = True
    warnings = [*invocation.warnings, *answer.warnings]
    if settings.json:
        return _print_json(success(invocation.name, result, warnings), answer.exit_code)

    from taskdb.cli.render.problems import print_warnings

    color = not settings.is_plain()

    def draw(printer: Printer) -> None:
        if preview:
            printer.heading("would (a preview, nothing is kept):")
        answer.people(printer)

    code = _print(settings, draw, answer.exit_code)
    print_warnings(warnings, color=color)
    return code


def _print_shown(shown: Shown, wants_json: bool) -> ExitCode:
    if wants_json:
        return _print_json(success(shown.kind, shown.result, []), ExitCode.DONE)
    return _print(Settings(no_color=True), lambda printer: printer.block(shown.text), ExitCode.DONE)


def _fail(
    settings: Settings,
    wants_json: bool,
    exit_code: ExitCode,
    code: str,
    message: str,
    hint: str | None,
    details: dict[str, Any],
) -> ExitCode:
    if wants_json:
        return _print_json(failure(code, message, hint, details), exit_code)
    from taskdb.cli.render.problems import print_failure

    print_failure(message, hint, details, color=not settings.is_plain())
    return exit_code


def _print_json(document: dict[str, Any], exit_code: ExitCode) -> ExitCode:
    text = to_json(document, indented=sys.stdout.isatty()) + "\n"
    return _written(lambda: sys.stdout.write(text), exit_code)


def _print(settings: Settings, draw: Any, exit_code: ExitCode) -> ExitCode:
    from taskdb.core.quantities import Units

    width = stream_width(sys.stdout)
    color = width is not None and not settings.is_plain()
    printer = Printer(sys.stdout, color=color, width=width, units=Units(settings.units or "km"))
    return _written(lambda: draw(printer), exit_code)


def _written(write: Any, exit_code: ExitCode) -> ExitCode:
    """Write, and return the exit code; a reader that went away is no failure, a full disk is."""
    try:
        write()
        sys.stdout.flush()
    except BrokenPipeError:
        _drop_output()
    except OSError as error:
        _drop_output()
        talk(f"The result could not be written: {error.strerror or error}.", label="error:")
        return ExitCode.REFUSED
    return exit_code


def _drop_output() -> None:
    """Point standard output nowhere, so that the interpreter's last flush has nothing to complain about."""
    devnull = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(devnull, sys.stdout.fileno())
    except (OSError, ValueError):
        return
    finally:
        os.close(devnull)
