"""What the start screen does while it stays: each of the verbs that need no terminal for themselves."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Final, cast

from click import ClickException

from orroom.cli import keep as kept
from orroom.cli import plan as plans
from orroom.cli.common import write
from orroom.cli.start_results import file_of, free, path_of, result, wrong
from orroom.cli.start_with_case import WITH_A_CASE
from orroom.errors import OrroomError

if TYPE_CHECKING:
    from orroom.screens.start.chosen import Chosen
    from orroom.screens.start.open_menus import Result


def attempted(chosen: Chosen, within: Path = Path()) -> Result:
    """Do what needs no terminal; what goes wrong is said, and ends nothing. New files are made ``within``."""
    try:
        return DOES[chosen.what](chosen, within)
    except OrroomError as error:
        return wrong(str(error))
    except ClickException as error:
        return wrong(f"{error.message}.")
    except Exception as fault:  # noqa: BLE001 - the start screen goes on, whatever it is
        return wrong(f"orroom could not do that: {fault!r}.")


def _number(typed: str) -> float:
    try:
        return float(typed.replace(",", "."))
    except ValueError:
        raise OrroomError(f"“{typed}” is not a number.", "Type one, such as 35.") from None


# A new case.


def _make(chosen: Chosen, within: Path) -> Result:
    case, sentence = plans.made(path_of(chosen), chosen.who, within=within)
    return result(sentence, case=case)


def _check(chosen: Chosen, within: Path) -> Result:
    from orroom.record.earlier import load_whole_plan
    from orroom.words.plan import plan_overview

    return result(plan_overview(load_whole_plan(path_of(chosen))), title="The plan")


def _spacing(chosen: Chosen, within: Path) -> Result:
    from orroom.files.plan_file import load_plan
    from orroom.words.spacing import plan_spacing

    return result(plan_spacing(load_plan(path_of(chosen))), title="Spacing of sites")


def _sheets(chosen: Chosen, within: Path) -> Result:
    from orroom.cli.sheets import printed

    path = path_of(chosen)
    file = free(path.with_suffix(".sheets"), ".pdf")
    write(printed(path, ".pdf"), file)
    return result(f"{file}: print it at its own size.")


def _import(chosen: Chosen, within: Path) -> Result:
    case, sentence = kept.imported(file_of(chosen), within=within)
    return result(sentence, case=case)


# Without a case.


def _density(chosen: Chosen, within: Path) -> Result:
    from orroom.words.spacing import density_spacing

    density = _number(chosen.typed)
    if not 1 <= density <= 400:
        raise OrroomError(f"{density:g} sites per cm² is impossible.", "Type a number from 1 to 400.")
    return result(density_spacing(density, None, None), title="Spacing of sites")


def _elasticity(chosen: Chosen, within: Path) -> Result:
    try:
        return result(plans.elasticity_of(_number(chosen.typed)), title="Scalp elasticity")
    except ValueError as impossible:
        raise OrroomError(f"{impossible}") from None


def _key_card(chosen: Chosen, within: Path) -> Result:
    from orroom.case.terms import Role
    from orroom.cli.status import card_of

    card, problem = card_of(cast("Role", chosen.typed))
    file = free(within / f"key-card-{chosen.typed}", ".txt")
    write(card, file)
    return result(f"{problem}\n{card}".strip(), title=f"Written to {file}")


def _guide(chosen: Chosen, within: Path) -> Result:
    from orroom.cli.guide import text_of

    return result(text_of(chosen.typed), title=f"orroom guide {chosen.typed}")


def _archive(chosen: Chosen, within: Path) -> Result:
    from contextlib import closing

    from orroom.archive.adding import Archive, How

    with closing(Archive(file_of(chosen))) as archived:
        return result(archived.add(path_of(chosen), How(keep_dates=chosen.typed == "dates")))


def _archive_report(chosen: Chosen, within: Path) -> Result:
    from orroom.archive.across import across
    from orroom.archive.report_csv import to_csv
    from orroom.archive.report_page import to_html, to_text
    from orroom.case.terms import visible

    archive = path_of(chosen)
    report = across(archive)
    if chosen.typed == "text":
        return result(visible(to_text(report)), title="Report on closed cases")
    file = free(archive.with_name(f"{archive.name}.report"), f".{chosen.typed}")
    write(visible({"html": to_html, "csv": to_csv}[chosen.typed](report)), file)
    return result(f"Report: {file}")


def _habits(chosen: Chosen, within: Path) -> Result:
    from orroom.cli.archive import learned

    return result(learned(path_of(chosen)))


def _drill_sheet(chosen: Chosen, within: Path) -> Result:
    from orroom.cli.training import named_sheet, sheet_page

    text = sheet_page(named_sheet(chosen.typed))
    file = free(within / f"drill-{chosen.typed.replace(' ', '-')}", ".txt")
    write(text, file)
    return result(text, title=f"Written to {file}")


def _drill_curve(chosen: Chosen, within: Path) -> Result:
    from orroom.cli.training import curve

    return result(curve(chosen.who, None, None), title="Your drills")


#: How each is done.
DOES: Final[dict[str, Callable[[Chosen, Path], Result]]] = {
    "make": _make,
    "check": _check,
    "spacing": _spacing,
    "sheets": _sheets,
    "import": _import,
    "density": _density,
    "elasticity": _elasticity,
    "key card": _key_card,
    "guide": _guide,
    "archive": _archive,
    "archive report": _archive_report,
    "habits": _habits,
    "drill sheet": _drill_sheet,
    "drill curve": _drill_curve,
    **WITH_A_CASE,
}
