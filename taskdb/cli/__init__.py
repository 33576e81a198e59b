'''Typed and seen: one module per noun; each command parses, calls one service, renders. The only click and rich.

How a command is written
------------------------
1. One line in `commands_table.py`: noun, verb, where it lives, its summary, whether it writes. Group help and
   completion are printed from that table, so no command module is imported for them.
2. One function in the noun's module. The frame adds --json, the root options and, where it writes, --preview,
   --note and --yes; it makes the envelope, the exit code and every message about failure.

        """`taskdb set …`: waypoint sets."""

        from __future__ import annotations

        from typing import TYPE_CHECKING

        import click

        from taskdb.cli.frame.answer import Answer
        from taskdb.cli.frame.command import Invocation, command
        from taskdb.cli.frame.completion import names_of

        if TYPE_CHECKING:  # services are imported inside the functions: help stays light
            from taskdb.cli.render.console import Printer
            from taskdb.services.set import LabelResult

        @command("set label", writes=True)
        @click.argument("reference", metavar="SET[@R]", shell_complete=names_of("set"))
        @click.argument("label")
        def label(invocation: Invocation, reference: str, label: str) -> Answer:
            """Give a revision of a set a label.

            The first line is the summary and equals the one in the table; what follows is for --help.
            """
            from taskdb.services import set as sets

            done = invocation.confirmed(lambda write: sets.label_set(invocation.desk, reference, label, write))
            return Answer(plain_label(done), people=lambda printer: show_label(printer, done))

        def plain_label(done: LabelResult) -> dict[str, object]: ...     # the JSON result: metric, not rounded for show
        def show_label(printer: Printer, done: LabelResult) -> None: ... # for people: printer.line, .pairs, .table

Rules: never print and never exit in a command; raise `taskdb.errors` classes; `invocation.say` for talk (stderr),
`invocation.warn` for what also belongs into the JSON's warnings. Typed values: the types in `options.py`
(`--within`, type=DISTANCE). Files are plain text arguments (`type=FILE`): whether they exist is the service's to
say (exit 3), so never `click.Path(exists=True)`. `--contest` falls back by `invocation.contest(given)`. An answer
with something to act on: `Answer(…, exit_code=ExitCode.ACT)`.
'''
