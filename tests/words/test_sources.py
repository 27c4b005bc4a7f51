"""What a reader sees names a source, never an author's note on how it was found, nor a rule by its name."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOM = Path(__file__).parents[2] / "orroom"
NOTES = re.compile(r"from memory|as quoted|quoted elsewhere|second-hand|\b(advise|refuse)_\w+")


def strings(path: Path) -> list[str]:
    """The texts of a module that are not docstrings."""
    tree = ast.parse(path.read_text("utf-8"))
    docstrings = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docstrings
    ]


@pytest.mark.parametrize("room", ["words", "figures", "summary", "formats", "archive", "screens"])
def test_no_text_carries_a_note_of_its_author(room: str):
    found = [text for path in (ROOM / room).rglob("*.py") for text in strings(path)]
    assert len(found) > 100
    assert [text for text in found if NOTES.search(text)] == []
