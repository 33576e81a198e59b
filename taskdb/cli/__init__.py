'''Typed and seen: one module per noun; each command parses, calls one service, renders. The only click.

Arrows within: main, then the nouns' folders, which know nothing of each other; below them `typed` (values and options),
`frame` (what every command has), `render` (what people see). A contract in pyproject.toml holds it.

A command is one line in `commands_table.py`, from which group help and completion are printed without importing it, and
one function. The frame adds --json, the root options and, where it writes, --preview, --note and --yes; it makes the
envelope, the exit code and every message about failure.

    @command("set label", writes=True)
    @click.argument("reference", metavar="SET[@R]", shell_complete=names_of("set"))
    @click.argument("label")
    def label(invocation: Invocation, reference: str, label: str) -> Answer:
        """Give a revision of a set a label.

        The first line is the summary and equals the one in the table; what follows is for --help.
        """
        from taskdb.services.sets.history import label_set  # within the function: help stays light

        info = invocation.confirmed(lambda write: label_set(invocation.desk, reference, label, None, write))
        return Answer(fields_plain(info), people=lambda printer: printer.line(f"{info.set_name} is {info.label!r}"))

Rules: never print and never exit in a command; raise `taskdb.errors` classes; `invocation.say` for talk (stderr),
`invocation.warn` for what also belongs into the JSON's warnings. An option has the name of the field that it fills, so
that a request is made of what was typed (`fields_of`). Typed values: the types in `typed/options.py`. Files are plain
text arguments (`type=FILE`): whether they exist is the service's to say (exit 3), so never `click.Path(exists=True)`.
`--contest` falls back by `invocation.contest(given)`. With something to act on: `Answer(…, exit_code=ExitCode.ACT)`.
'''
