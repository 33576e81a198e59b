"""Shell completion: commands from the table, names from the store by a stdlib look (`store.peek`), and its set-up.

Whatever goes wrong here completes nothing and says nothing: a person is in the middle of a line.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.settings import Settings
from taskdb.errors import ExitCode

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

VARIABLE = "_TASKDB_COMPLETE"
LIMIT = 200
"""No more names than a person can look through; the next letter narrows them."""

SHELLS = ("bash", "zsh", "fish")
_WHERE = {
    "bash": 'eval "$(taskdb completion bash)"    # in ~/.bashrc',
    "zsh": 'eval "$(taskdb completion zsh)"    # in ~/.zshrc, after compinit',
    "fish": "taskdb completion fish > ~/.config/fish/completions/taskdb.fish",
}


def names_of(kind: str) -> Callable[[click.Context, click.Parameter, str], list[CompletionItem[str]]]:
    """Return a `shell_complete` for names of a kind: "set", "waypoint", "airspace", "volume", "contest" or "task"."""

    def names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem[str]]:
        from click.shell_completion import CompletionItem

        try:
            from taskdb.store.peek import peek_names

            settings = ctx.find_object(Settings) or Settings()
            found = peek_names(settings.store_url(), kind, incomplete, LIMIT)
        except Exception:
            return []
        return [CompletionItem(name) for name in found if name.isprintable()]

    return names


def one_of(words: Iterable[str]) -> Callable[[click.Context, click.Parameter, str], list[CompletionItem[str]]]:
    """Return a `shell_complete` for some words, of which several may be typed with commas between."""

    def begun(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem[str]]:
        from click.shell_completion import CompletionItem

        before, comma, last = incomplete.rpartition(",")
        return [CompletionItem(before + comma + word) for word in words if word.startswith(last)]

    return begun


def complete(instruction: str) -> ExitCode:
    """Answer the shell's question (`bash_complete`) or print its script (`bash_source`), as click's scripts ask it."""
    from taskdb.cli.frame.lazy import root
    from taskdb.cli.frame.shells import SHELL_CLASSES

    shell, _, what = instruction.partition("_")
    kind = SHELL_CLASSES.get(shell)
    if kind is None or what not in {"complete", "source"}:
        return ExitCode.USAGE
    completion = kind(root(), {"obj": Settings()}, "taskdb", VARIABLE)
    try:
        sys.stdout.write((script(shell) if what == "source" else completion.complete()) + "\n")
        sys.stdout.flush()
    except Exception:
        return ExitCode.DONE
    return ExitCode.DONE


def script(shell: str) -> str:
    """Return the script that sets up completion in bash, zsh or fish."""
    from taskdb.cli.frame.lazy import root
    from taskdb.cli.frame.shells import SHELL_CLASSES

    completion = SHELL_CLASSES[shell](root(), {}, "taskdb", VARIABLE)
    # Not completion.source(): for bash that starts a bash to ask its version, wherever the script will be used.
    return str(completion.source_template % completion.source_vars()).strip()


@command("completion")
@click.argument("shell", type=click.Choice(SHELLS))
def completion(invocation: Invocation, shell: str) -> Answer:
    """Print the script that sets up shell completion.

    bash: put `eval "$(taskdb completion bash)"` into ~/.bashrc. zsh: put `eval "$(taskdb completion zsh)"` into
    ~/.zshrc, after compinit. fish: `taskdb completion fish > ~/.config/fish/completions/taskdb.fish`.
    """
    text = script(shell)
    return Answer({"shell": shell, "script": text, "set_up": _WHERE[shell]}, people=lambda out: out.block(text))
