"""One decorator that makes a plain function a command, and the `Invocation` that it is handed.

The frame adds the options that every command has and hands the answer up to `main`, which alone prints it.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.lazy import help_option, write_options
from taskdb.cli.frame.settings import DEFAULT_WAIT_S, NOT_TEXT, Settings, root_options, writing_options
from taskdb.cli.frame.words import is_text, mark_minus_numbers, unmark
from taskdb.errors import RefusedError, UsageError

if TYPE_CHECKING:
    from taskdb.core.quantities import Units
    from taskdb.services.desk import Desk, Write

T = TypeVar("T")


class Invocation:
    """One run of one command: its settings, where talk goes, and the questions it may ask."""

    def __init__(self, name: str, settings: Settings) -> None:
        """Begin the run of the command `name` ("set import")."""
        self.name = name
        self.settings = settings
        self.warnings: list[str] = []
        self._asks = threading.Event()

    @cached_property
    def desk(self) -> Desk:
        """Return the desk that services work at: store, author, clock. Opens nothing yet."""
        from taskdb.cli.frame.interrupts import ignore_interrupts
        from taskdb.services.desk import Desk

        wait_s = self.settings.wait_s
        return Desk(
            store_url=self.settings.store_url(),
            author=self.settings.author_name(),
            wait_s=DEFAULT_WAIT_S if wait_s is None else wait_s,
            makes_folder=self.settings.is_default_store(),
            before_keeping=ignore_interrupts,
            after_keeping=self._note_kept,
        )

    @property
    def write(self) -> Write:
        """Return how a writing service is to be carried out, from --preview, --note and --yes."""
        return self._write(confirmed=self.settings.yes)

    @property
    def preview(self) -> bool:
        return self.settings.preview

    @property
    def units(self) -> Units:
        from taskdb.core.quantities import Units

        return Units(self.settings.units or "km")

    @property
    def units_given(self) -> Units | None:
        """Return the units that were asked for, None where none were: then a contest's own count."""
        return self.units if self.settings.units else None

    def _note_kept(self, operation: int | None) -> None:
        self.settings.kept += (operation,)

    def _write(self, *, confirmed: bool) -> Write:
        from taskdb.core.names import clean_text
        from taskdb.services.desk import Write

        note = clean_text(self.settings.note or "") or None
        return Write(command=self.name, note=note, preview=self.preview, confirmed=confirmed)

    def confirmed(self, service: Callable[[Write], T]) -> T:
        """Call a writing service; where it needs a confirmation, ask the person and call it again.

        The service works in one transaction of its own each time, so nothing is held while the question stands.
        A preview is not held up by a question: it goes on as if confirmed, and says that it would ask.
        """
        from taskdb.services.desk import NeedsConfirmation

        try:
            return service(self.write)
        except NeedsConfirmation as needed:
            if self.preview:
                self.warn(f"It would ask: {needed.message}")
            elif not can_ask():
                raise
            elif not self._answered(needed.message):
                raise declined(needed.message, details=needed.details) from None
        return service(self._write(confirmed=True))

    def ask(self, question: str) -> None:
        """Ask a yes-or-no question; a no is RefusedError (exit 5).

        --yes answers every question. Without a terminal nothing is asked: RefusedError names the option.
        """
        if self.settings.yes:
            return
        if not can_ask():
            details = {"option": "--yes"}
            raise RefusedError("needs-confirmation", question, hint="Give --yes to go ahead.", details=details)
        if not self._answered(question):
            raise declined(question)

    def _answered(self, question: str) -> bool:
        self._asks.set()  # what shows that something is under way would write over the question
        try:
            return ask_on_terminal(question)
        finally:
            self._asks.clear()

    def contest(self, given: str | None) -> str | None:
        """Return the contest to use: the one given, else that of TASKDB_CONTEST, which is said each time."""
        if given is not None:
            return given
        name = os.environ.get("TASKDB_CONTEST", "").strip()
        if not name:
            return None
        self.say(f"Contest {name!r}, from TASKDB_CONTEST.")
        return name

    def required_contest(self, given: str | None) -> str:
        """Return the contest to use like `contest`. UsageError where none is named."""
        name = self.contest(given)
        if name is None:
            raise UsageError("no-contest", "No contest is named.", hint="Give --contest NAME.")
        return name

    @contextmanager
    def working(self, what: str) -> Iterator[Callable[[str], None]]:
        """Show on a terminal, from the second second on, that something is under way and for how long.

        What it hands out takes the step that is under way.
        """
        steps = [""]

        def tell(step: str) -> None:
            steps[0] = step

        if not sys.stderr or not sys.stderr.isatty() or self.settings.json:
            yield tell
            return
        done = threading.Event()
        thread = threading.Thread(target=_show_work, args=(what, steps, done, self._asks), daemon=True)
        thread.start()
        try:
            yield tell
        finally:
            done.set()
            thread.join()

    def warn(self, *texts: str) -> None:
        """Note warnings: shown on standard error, and in the JSON's warnings."""
        self.warnings += texts

    def say_backup(self, path: str | None) -> None:
        """Say to people where the store was kept as it was before; JSON has it in the result."""
        if path is not None and not self.settings.json:
            self.say(f"The store as it was before is kept in {path}")

    def say(self, text: str) -> None:
        """Say something on standard error: progress, what was assumed."""
        from taskdb.cli.render.console import talk

        talk(text)


def _show_work(what: str, steps: list[str], done: threading.Event, asks: threading.Event) -> None:
    from taskdb.cli.render.console import safe

    seconds = 0
    while not done.wait(1.0):
        if asks.is_set():
            continue
        seconds += 1
        step = f", {steps[0]}" if steps[0] else ""
        sys.stderr.write(f"\r\x1b[K{safe(what)}{safe(step)}: {seconds} s")
        sys.stderr.flush()
    if seconds:
        sys.stderr.write("\r\x1b[K")
        sys.stderr.flush()


def can_ask() -> bool:
    """Say whether a person sits there: standard input and standard error are both a terminal."""
    return all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stderr))


def ask_on_terminal(question: str) -> bool:
    """Ask on standard error and return whether the answer was yes; an empty answer and the end of input are no."""
    from taskdb.cli.render.console import talk

    talk(f"{question} [y/N] ", end="")
    answer = sys.stdin.readline()
    if not answer:
        talk("")
    return answer.strip().lower() in {"y", "yes"}


def declined(question: str, details: dict[str, Any] | None = None) -> RefusedError:
    """Return the error for a question that was answered with no."""
    return RefusedError("declined", f"Declined, nothing was done: {question}", details=details)


class Outcome(NamedTuple):
    """What comes back from click: the answer, and the run it belongs to."""

    invocation: Invocation
    answer: Answer
    writes: bool


class MarkedParser:
    """click's parser, with words that begin with a minus sign and a digit kept from being read as options."""

    def __init__(self, inner: Any) -> None:
        self._inner = inner

    def parse_args(self, args: list[str]) -> tuple[dict[str, Any], list[str], list[click.Parameter]]:
        values, rest, order = self._inner.parse_args(args=mark_minus_numbers(args))
        return unmark(values), unmark(rest), order

    def __getattr__(self, name: str) -> Any:
        return getattr(self._inner, name)


class FrameCommand(click.Command):
    """A command with the frame's options shown in a section of their own."""

    writes = False

    def make_parser(self, ctx: click.Context) -> Any:
        return MarkedParser(super().make_parser(ctx))

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        rest = super().parse_args(ctx, args)
        for param in self.params:
            # A file's name may be any bytes; whatever else is typed may be kept and shown, so it has to be text.
            if param.type.name != "file" and not is_text(ctx.params.get(param.name or "")):
                raise click.BadParameter(NOT_TEXT, ctx=ctx, param=param)
        return rest

    def get_help_option(self, ctx: click.Context) -> click.Option | None:
        return help_option()

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        write_options(self, ctx, formatter)


def command(
    name: str, *, writes: bool = False, ends: str | None = None
) -> Callable[[Callable[..., Answer]], FrameCommand]:
    """Make a function `(invocation, **parameters) -> Answer` the command `name` ("set import").

    `writes` adds --preview, --note and --yes. The function's docstring is the help; its first line the summary.
    `ends` is its last paragraph: what a docstring cannot know, such as a list.
    """

    def decorate(function: Callable[..., Answer]) -> FrameCommand:
        def run(**parameters: Any) -> Outcome:
            settings = click.get_current_context().ensure_object(Settings)
            invocation = Invocation(name, settings)
            made_files = {
                parameters.get(param.name or "") for param in made.params if getattr(param.type, "makes", False)
            } - {None}
            settings.gives_file = "-" in made_files
            if settings.gives_file and settings.json:
                raise UsageError(
                    "two-answers",
                    "Standard output cannot hold both the file and --json.",
                    hint="Name a file in place of -, or leave --json out.",
                )
            answer = function(invocation, **parameters)
            settings.has_made_file = bool(made_files - {"-"}) and not settings.preview
            return Outcome(invocation, answer, writes)

        run.__doc__ = f"{function.__doc__}\n\n    {ends}" if ends else function.__doc__
        run.__click_params__ = getattr(function, "__click_params__", [])  # type: ignore[attr-defined]
        made = click.command(name.split()[-1], cls=FrameCommand)(run)
        made.writes = writes
        made.params += [*(writing_options() if writes else []), *root_options()]
        return made

    return decorate
