"""Plain words: what somebody reads is said as a native speaker at the table would say it.

Each habit below made readers stumble, or read something else than was meant.
"""

from __future__ import annotations

import ast
import re
import tokenize
from collections.abc import Iterable, Iterator
from functools import cache
from io import StringIO
from pathlib import Path
from typing import Final, NamedTuple

import click
import pytest

from orroom.cli import main

ROOT: Final = Path(__file__).parents[2]
PACKAGE: Final = ROOT / "orroom"


class Habit(NamedTuple):
    """A way of saying things that is not used: its pattern, what to say instead, a sentence that has it."""

    pattern: str
    say: str
    example: str


#: Where texts are for users.
IN_TEXTS: Final = (
    Habit(r"\b(told|tells?|telling|foretold|foretells?)\b", "shown, says, reports", "Care is told by hour."),
    Habit(r"\b(stands?|stood|standing)\b", "is, is shown", "The cause stands below."),
    Habit(r"\b(comes?|came|coming) (to|of|round)\b", "adds up to, is due again", "It comes to 12."),
    Habit(r"\breckon", "count, use", "The forecast reckons with it."),
    Habit(r"\bholds?\b", "has, is valid, is right", "The count no longer holds."),
    Habit(r"\banew\b", "again", "Begin anew."),
    Habit(r"(?<!look )\bat (it|them|the case)\b", "using it", "AB is at it now."),
    Habit(r"\bbesides?\b", "next to, compared with, also", "A copy is kept beside it."),
    Habit(r"\bwho(so)?ever\b", "the person who", "Initials of whoever opens it."),
    Habit(r"\b(so|as) (many|much)\b", "this many, the same number", "It is short by as many."),
    Habit(r"(?<!there )\b(is|are|was) no\b(?! (longer|more)\b)", "is not a", "FOLDER is no archive."),
    Habit(r"\bcannot be(?=[.,;:!?]|$)", "is impossible", "3 faulty of 2 cannot be."),
    Habit(r"(^|[.;:] )(?-i:Else\b)", "Otherwise", "Free some space. Else move the case."),
    Habit(r"\bmeanwhile(?=[.,;:!?)]|$)", "since then", "New entries were made meanwhile."),
    Habit(r"\b(un)?sound\b", "intact, valid", "The record is sound."),
    Habit(r"\blots?\b", "harvest", "All of lot A is out."),
    Habit(r"\bbench\b", "with the placers", "12 on the bench."),
    Habit(r"\bpiles?\b", "group", "Count each pile."),
    Habit(r"\bheads?\b", "seal", "Head of the record 57:c83a."),
    Habit(r"\bdoctor\b", "machine", "Run orroom doctor."),
    Habit(r"\b(tak\w+|took) (\w+ )?back\b", "undo, undone", "The tap is taken back."),
    Habit(r"\bg[ai]v\w* up\b", "discarded, cancelled", "A graft is given up."),
    Habit(r"\badvi[cs]e", "remark", "The plan is advised on."),
    Habit(r"\blimits? hold|% limits\b|\bconfidence limits\b", "range", "With 95 % limits."),
    Habit(r"\bthr(ow|ew|own|ows) (away|out)\b", "deleted, discarded", "The case is thrown away."),
    Habit(r"\bwhence\b", "from where, source", "Whence it is known."),
    Habit(r"\bfrom memory\b|\bas quoted\b", "not verified", "95 % (from memory)."),
)

#: In docstrings and comments, for whoever carries on.
IN_NOTES: Final = (
    Habit(
        r"\b(told|tells?|telling|foretold|foretells?)\b(?! (apart|\w+ apart|from each)\b)",
        "shown, says",
        "It is told by hour.",
    ),
    Habit(
        r"\b(stands?|stood|standing) (for|in|there|below|above|beside)\b",
        "is, is in place of",
        "It stands for a key.",
    ),
    Habit(r"\b(comes?|came|coming) (to\b(?! the front)|round\b)", "adds up to, becomes", "It comes to 12."),
    Habit(r"\breckon", "count, use", "The forecast reckons with it."),
    Habit(r"\b(still|no longer|counts? that|results?) holds?\b", "is valid", "The count no longer holds."),
    Habit(r"\banew\b", "again", "Begin anew."),
    Habit(r"\bwho(so)?ever\b", "no matter who, somebody who", "Whoever opens it."),
    Habit(
        r"(?<!there )\b(is|are|was|were) no\b(?! (longer|more|less)\b)", "is not a", "FOLDER is no archive."
    ),
    Habit(r"(^|[.;:] )(?-i:Else\b)", "Otherwise", "Free some space. Else move it."),
    Habit(r"\b(un)?sound\b", "intact, valid", "The record is sound."),
    Habit(r"\bg[ai]v\w* up\b", "discarded, cancelled", "A graft is given up."),
    Habit(r"\bwhence\b", "from where", "Whence it came."),
)

#: What is right all the same, by how it is written there, and why.
ALLOWED: Final = {
    "gives no advice on a patient": "advice is what the caution means",
    "None is advice on a patient": "the same caution in the guide",
    "`stands` is false": "a column of the archive's tables, named in a published format",
    "head rest": "of the operating table",
    "tests.bench": "the benchmarks' module",
    "tests/bench": "the benchmarks' folder",
    "two-lots": "the name of a sample plan",
    ".orroom.head": "a file of an earlier version, as changes.md lists it",
    "verify --head": "an option of an earlier version, as changes.md lists it",
    "sign-off --told": "an option of an earlier version, as changes.md lists it",
    "citation is from memory": "the page of values says so on purpose",
    "citation itself from memory": "the page of values says so on purpose",
    "common practice or from memory": "the README's line about that page",
}

#: Literals that are no sentences: SQL, markup, style sheets.
CODE: Final = re.compile(r"\s*<|\b(SELECT|FROM|WHERE|ALTER|AS|COPY|CREATE)\b|;\n|\{\n")


#: Literals that a record has, and that no text shows.
RECORDED: Final = {"taken back": "the reason of an undone tap; shown as “undid”"}


class Said(NamedTuple):
    """A text and where it is."""

    where: str
    text: str


def docstrings(tree: ast.AST) -> set[int]:
    """The literals of a module that are docstrings, by ``id``."""
    bodies = [
        each.body
        for each in ast.walk(tree)
        if isinstance(each, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
    ]
    return {id(body[0].value) for body in bodies if body and isinstance(body[0], ast.Expr)}


def literals(source: str) -> Iterator[tuple[int, str]]:
    """Line and text of every literal of several words; ``…`` where a value is put in."""
    tree = ast.parse(source)
    passed_over = docstrings(tree)
    for node in ast.walk(tree):
        if id(node) in passed_over:
            continue
        if isinstance(node, ast.JoinedStr):
            passed_over |= {id(each) for each in node.values}
            text = "".join(
                each.value if isinstance(each, ast.Constant) and isinstance(each.value, str) else "…"
                for each in node.values
            )
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            text = node.value
        else:
            continue
        if " " in text.strip() and text not in RECORDED and not CODE.search(text):
            yield node.lineno, text


def command_helps(command: click.Command, name: str) -> Iterator[Said]:
    """What the help of a command says, its sub-commands too; helps of options are literals."""
    yield Said(f"orroom {name} --help", " ".join((command.help or "").split()))
    if isinstance(command, click.Group):
        context = click.Context(command)
        for verb in command.list_commands(context):
            found = command.get_command(context, verb)
            assert found is not None
            yield from command_helps(found, f"{name} {verb}".strip())


@cache
def texts() -> tuple[Said, ...]:
    return tuple(_texts())


def _texts() -> Iterator[Said]:
    """Everything that a user of the program reads, but for what a plan or a record has in it."""
    for path in sorted(PACKAGE.rglob("*.py")):
        for line, text in literals(path.read_text("utf-8")):
            yield Said(f"{path.relative_to(ROOT)}:{line}", text)
    yield from command_helps(main, "")
    pages = [ROOT / "README.md", *(PACKAGE / "guide").glob("*.md"), *ROOT.glob("sample_cases/*/README.md")]
    for path in pages:
        for paragraph in path.read_text("utf-8").split("\n\n"):
            yield Said(f"{path.relative_to(ROOT)}", " ".join(paragraph.split()))
    for path in (*ROOT.glob("sample_cases/*/plan.toml"), PACKAGE / "demo" / "plan.toml"):
        comments = re.findall(r"(?:^|\s)# ?(.*)", path.read_text("utf-8"))
        yield Said(f"{path.relative_to(ROOT)}", " ".join(" ".join(comments).split()))


def notes() -> Iterator[Said]:
    """The docstrings and comments of the package; comments on lines in a row are one."""
    for path in sorted(PACKAGE.rglob("*.py")):
        source = path.read_text("utf-8")
        where = f"{path.relative_to(ROOT)}"
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
                yield Said(
                    f"{where}:{getattr(node, 'lineno', 1)}", " ".join((ast.get_docstring(node) or "").split())
                )
        for token in tokenize.generate_tokens(StringIO(source).readline):
            if token.type == tokenize.COMMENT:
                yield Said(f"{where}:{token.start[0]}", token.string.lstrip("#: "))


@cache
def without_the_allowed(text: str) -> str:
    text = re.sub(r"``[^`]+``", "``", text)  # a name of the code
    for allowed in ALLOWED:
        text = text.replace(allowed, "")
    return text


def found_in(said: Iterable[Said], habits: tuple[Habit, ...]) -> list[str]:
    """Each habit that is in a text, where, and what to say instead."""
    patterns = [(re.compile(each.pattern, re.IGNORECASE), each) for each in habits]
    return [
        f"{where}: “{found[0].strip()}” (say: {habit.say}) in “{text.strip()[:160]}”"
        for where, text in said
        for pattern, habit in patterns
        if (found := pattern.search(without_the_allowed(text)))
    ]


def test_no_text_has_a_habit_of_a_translated_one():
    assert len(texts()) > 2_000
    assert found_in(texts(), IN_TEXTS) == []


def test_no_docstring_or_comment_has_the_worst_of_them():
    said = list(notes())
    assert len(said) > 3_000
    assert found_in(said, IN_NOTES) == []


def test_what_is_allowed_is_there():
    """An exception that nothing needs any more goes."""
    all_of_it = "\n".join(text for _, text in texts())
    assert [each for each in ALLOWED if each not in all_of_it] == []


@pytest.mark.parametrize("habit", IN_TEXTS, ids=lambda habit: habit.example)
def test_a_habit_is_found_wherever_a_text_may_be(habit: Habit):
    """Alone, between values, split over lines; and its own pattern finds no more than it."""
    first, _, rest = habit.example.partition(" ")
    for source in (
        f"say({habit.example!r})",
        f"say(f'{{number}} {habit.example}')",
        f"say({first + ' '!r}\n    {rest!r})",
    ):
        said = [Said("here", text) for _, text in literals(source)]
        assert any(f"(say: {habit.say})" in each for each in found_in(said, (habit,))), source
    assert list(literals(f'"""{habit.example}"""')) == []
