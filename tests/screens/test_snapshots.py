"""The pictures of the README are what the application paints, and hold nothing of the machine."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from readme_screens import README, ROOT, SHOTS, SNAPSHOTS, normalised, painted, sample_case, snapshot

#: More pictures than this are not looked at by anybody.
MOST = 15


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return sample_case(tmp_path_factory.mktemp("sample"))


@pytest.mark.parametrize("name", SHOTS)
async def test_a_picture_is_what_is_painted(name: str, case: Path):
    anew = await painted(SHOTS[name], case)
    found = f"{name} has changed: look at it, then python tests/readme_screens.py"
    assert anew == snapshot(name).read_text("utf-8"), found


def test_there_are_few_and_each_is_painted_by_a_test():
    there = {each.stem for each in SNAPSHOTS.iterdir()}
    assert there == set(SHOTS)
    assert len(there) <= MOST


@pytest.mark.parametrize("name", SHOTS)
def test_a_picture_holds_nothing_of_the_machine_and_fetches_nothing(name: str):
    text = snapshot(name).read_text("utf-8")
    addresses = set(re.findall(r"\w+://[^\s\"')]+", text))
    assert addresses <= {"http://www.w3.org/2000/svg"}
    assert not re.search(r"(/home/|/root|/tmp|/work|/usr|[A-Z]:\\)", text)
    assert ET.fromstring(text).tag.endswith("svg")  # noqa: S314 - our own file
    assert "<circle" not in text  # a desktop's window buttons


def test_two_runs_of_one_screen_differ_in_nothing_that_is_kept():
    one = '<svg class="a">\n@font-face {\n src: url("x");\n}\n <!-- by -->\n.terminal-123-r1 { }  \n\n</svg>'
    assert normalised(one) == normalised(one.replace("123", "98765"))
    assert normalised(one) == '<svg xml:space="preserve" class="a">\n.screen-r1 { }\n</svg>\n'


def test_the_readme_shows_pictures_that_there_are_of_all_that_people_see():
    shown = re.findall(r"!\[[^\]]+\]\((tests/snapshots/[\w-]+\.svg)\)", README.read_text("utf-8"))
    assert [each for each in shown if not (ROOT / each).exists()] == []
    roles = {"cutting", "placing", "overview-wall"}
    beside = {"start", "plan-form", "final-count", "summary", "replay"}
    assert {Path(each).stem for each in shown} >= roles | beside
