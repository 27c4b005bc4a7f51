"""README and DEVELOPERS.md name what there is. Commands: ``test_guide``; pictures: ``test_snapshots``."""

from __future__ import annotations

import ast
import re

from readme_screens import README, ROOT

from orroom.case.terms import CAUTIONS
from orroom.cli import VERBS
from orroom.cli.guide import PAGES


def test_every_verb_is_named_in_it_or_in_the_guide():
    pages = (ROOT / "orroom" / "guide").glob("*.md")
    text = "".join(page.read_text("utf-8") for page in (README, *pages))
    assert [verb for verb in VERBS if f"orroom {verb}" not in text] == []


def test_its_links_lead_to_every_page_of_the_guide():
    links = re.findall(r"\]\((orroom/guide/\w+\.md)\)", README.read_text("utf-8"))
    assert links == [f"orroom/guide/{page}.md" for page in PAGES]


def test_the_cautions_are_in_it():
    text = " ".join(README.read_text("utf-8").replace(">", "").split())
    for caution in CAUTIONS:
        assert caution in text


def test_pages_and_rooms_name_modules_that_exist():
    pages = (ROOT / "DEVELOPERS.md", ROOT / "tests" / "bench" / "MEASURED.md")
    rooms = (ROOT / "orroom").rglob("__init__.py")
    docstrings = (ast.get_docstring(ast.parse(each.read_text("utf-8"))) or "" for each in rooms)
    text = "\n".join([*(page.read_text("utf-8") for page in pages), *docstrings]).replace("``", "`")
    listed = [path.relative_to(ROOT) for folder in ("orroom", "tests") for path in (ROOT / folder).rglob("*")]
    known = {"/pyproject.toml", "/tests", *(f"/{path.as_posix()}" for path in listed)}
    named = set(re.findall(r"`([\w/]+\.(?:py|tcss|typ|toml))`", text)) | set(
        re.findall(r"`((?:\w+/)+)`", text)
    )
    assert len(named) > 80
    lost = {name for name in named if not any(path.endswith(f"/{name.rstrip('/')}") for path in known)}
    assert lost == set()
