"""What somebody reads of an eventful day is what it was when it was last read through, word for word."""

from __future__ import annotations

import pytest
from whole_pages import FOLDER, PAGES, file_of, page

AGAIN = "Read the difference; if it is meant, python tests/whole_pages.py"


@pytest.mark.parametrize("name", PAGES)
def test_a_whole_page_reads_as_it_did(name: str):
    assert page(name).splitlines() == file_of(name).read_text("utf-8").splitlines(), AGAIN


def test_each_recorded_page_is_read():
    assert {file_of(name) for name in PAGES} == set(FOLDER.iterdir())
