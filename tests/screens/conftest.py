"""What the tests of the screens share."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from cases import Record
from larger_cases import busy_day
from textual.css.model import RuleSet
from textual.css.stylesheet import Stylesheet


@pytest.fixture(scope="session", autouse=True)
def style_sheets_parsed_once() -> Iterator[None]:
    """Applications share what their style sheets say: each would parse the same ones again."""
    parse, parsed = Stylesheet._parse_rules, {}

    def once(sheet: Stylesheet, css: str, **of: Any) -> list[RuleSet]:
        asked = css, *of.items(), *sheet._variables.items()
        if asked not in parsed:
            parsed[asked] = parse(sheet, css, **of)
        return parsed[asked]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Stylesheet, "_parse_rules", once)
        yield


@pytest.fixture
def busy() -> Record:
    """2,400 grafts planned in ten zones; cutting and placing go on."""
    return busy_day()
