"""The page of the guide on commands: every verb with its help, from the verbs themselves."""

from collections.abc import Iterator
from typing import Final

import click

#: A page is read in a terminal of 80 columns.
_WIDTH: Final = 78

_ABOUT: Final = """\
# Every command

The help of each, as `--help` shows it. Shell completion: `orroom guide it`.
"""


def commands_page() -> str:
    """Every verb by the part of the work that it is for, in Markdown."""
    from orroom.cli import GROUPS, main

    parts = [_ABOUT]
    with click.Context(main, info_name="orroom", terminal_width=_WIDTH, **main.context_settings) as context:
        for title, verbs in GROUPS.items():
            parts.append(f"## {title}\n")
            for verb in verbs:
                command = main.get_command(context, verb)
                assert command is not None  # noqa: S101 - a verb is one
                parts += (_helped(each) for each in _with_its_own(context, verb, command))
    return "\n".join(parts)


def _with_its_own(parent: click.Context, name: str, command: click.Command) -> Iterator[click.Context]:
    """A command, and those it has below it."""
    context = click.Context(command, parent, name)
    yield context
    if isinstance(command, click.Group):
        for each in command.list_commands(context):
            below = command.get_command(context, each)
            if below is not None:
                yield from _with_its_own(context, each, below)


def _helped(context: click.Context) -> str:
    return f"### {context.command_path}\n\n```\n{context.get_help()}\n```\n"
