"""Sheets as a page of HTML or as a PDF: the same bytes for the same plan."""

import json
from collections.abc import Collection
from typing import Any

from msgspec.structs import replace

from orroom.case.plan import Plan
from orroom.formats.html import escaped, page, written_block
from orroom.formats.pdf import block_data, set_on_pages
from orroom.formats.pdf_letters import spelled
from orroom.formats.sheets.sheet import SMALL_PRINT, SheetName, sheets_of


def to_html(plan: Plan, names: Collection[SheetName] = ()) -> str:
    """Sheets of a plan, each of which begins a page in print, with what everybody must read below it."""
    small = f"<p><small>Case {plan.case}. {escaped(SMALL_PRINT)}</small></p>"
    sections = (
        f"<section>\n{''.join(map(written_block, sheet.blocks))}{small}\n</section>\n"
        for sheet in sheets_of(plan, names)
    )
    return page(f"Case {plan.case}: sheets", "".join(sections))


def to_pdf(plan: Plan, names: Collection[SheetName] = ()) -> bytes:
    """Sheets of a plan on A4. They have no date: they are printed before the day.

    Raises ``OrroomError`` if typst is not installed or makes none.
    """
    plan = _in_known_letters(plan)
    blocks: list[dict[str, Any]] = []
    for sheet in sheets_of(plan, names):
        blocks += [{"kind": "page"}, *map(block_data, sheet.blocks)]
    found = {
        "title": f"Case {plan.case}: sheets",
        "case": plan.case,
        "seal": None,
        "banner": None,
        "note": SMALL_PRINT,
        "date": None,
        "blocks": blocks,
    }
    instead = "Print the sheets as html instead."
    return set_on_pages(json.dumps(found, ensure_ascii=False), instead, to_last=False)


def _in_known_letters(plan: Plan) -> Plan:
    """The plan with every typed text of the sheets ``spelled``, before anything is drawn."""

    def labelled(parts: Any) -> Any:  # noqa: ANN401 - any list of the plan whose entries have a label
        return tuple(replace(each, label=spelled(each.label)) for each in parts)

    return replace(
        plan,
        sizes=labelled(plan.sizes),
        zones=labelled(plan.zones),
        harvests=labelled(plan.harvests),
        care=labelled(plan.care),
        cautions=tuple(map(spelled, plan.cautions)),
    )
