"""What the verbs share: a path taken, a number checked, a case read, a text written, an entry made."""

from __future__ import annotations

import os
from collections.abc import Mapping
from copy import copy
from math import isnan
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Any

import click

from orroom.errors import OrroomError

if TYPE_CHECKING:
    from orroom.case.commands import Command
    from orroom.case.state import CaseState

#: Who an overview's entries are by when nobody says so: the room.
THE_ROOM = "OR"

#: Whether there is such a file, and whether it may be read, is for the record to say.
PATH = click.Path(path_type=Path, readable=False)


class Measure(click.FloatRange):
    """A number in a range; click's own range takes ``nan`` for one in it."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ANN401 - click's own types
        """The number, or a usage error."""
        number = super().convert(value, param, ctx)
        return self.fail(f"{value} is not a number.", param, ctx) if isnan(number) else number


class Renamed(click.Option):
    """An option that its earlier names, which come after today's, give too: the help leaves them out."""

    def get_help_record(self, ctx: click.Context) -> tuple[str, str] | None:
        """The line of the help."""
        named = copy(self)
        named.opts = self.opts[:1]
        return super(Renamed, named).get_help_record(ctx)


def record(case: Path, command: Command, who: str) -> None:
    """Make one entry in a CASE, also while stations are open."""
    from orroom.record.case_file import CaseFile
    from orroom.recording import record_once

    with CaseFile.open(case) as case_file:
        record_once(case_file, command, who)


def state_of(case: Path) -> CaseState:
    """The state of a CASE now; it is only read. Raises ``CaseFileError`` if it cannot be read."""
    from orroom.case.evolve import fold
    from orroom.record.case_file import CaseFile

    with CaseFile.open(case, read_only=True) as case_file:
        return fold(case_file.entries_after(0))


def write(text: str | bytes, output: Path | None) -> None:
    """Write a whole text to a new file that only its owner may read, or to standard output."""
    if output is None:
        click.echo(text, nl=False)
        return
    try:
        descriptor = os.open(output, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        try:
            with os.fdopen(descriptor, "wb") as file:
                file.write(text.encode("utf-8") if isinstance(text, str) else text)
        except OSError:
            output.unlink()  # half a file would pass for a whole one
            raise
    except FileExistsError:
        raise OrroomError(f"{output} already exists.", "Choose another name.") from None
    except OSError as problem:
        raise OrroomError(
            f"{output} cannot be written: {problem.strerror}.", "Choose another folder."
        ) from None


def write_folder(texts: Mapping[str, str], output: Path) -> None:
    """Write texts by file name to a new or empty folder that only its owner may read: all or none."""
    output = Path(os.path.normpath(output))
    try:
        unfinished = Path(mkdtemp(prefix=f".{output.name}-", dir=output.parent))
        try:
            for name, text in texts.items():
                (unfinished / name).touch(0o600)
                (unfinished / name).write_bytes(text.encode("utf-8"))
            unfinished.replace(output)  # refused where something is in it
        except OSError:
            rmtree(unfinished)
            raise
    except OSError as problem:
        if output.exists() and (not output.is_dir() or any(output.iterdir())):
            raise OrroomError(
                f"{output} already exists.", "Choose another name: tables of two summaries must not mix."
            ) from None
        raise OrroomError(
            f"{output} cannot be written: {problem.strerror}.", "Choose another folder."
        ) from None
