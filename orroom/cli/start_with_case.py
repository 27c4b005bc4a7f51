"""What the start screen does with a case while it stays."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

from orroom.cli import keep as kept
from orroom.cli import reports
from orroom.cli.common import record, state_of, write, write_folder
from orroom.cli.start_results import file_of, free, path_of, result
from orroom.errors import OrroomError

if TYPE_CHECKING:
    from orroom.screens.start.chosen import Chosen, Report
    from orroom.screens.start.open_menus import Result
    from orroom.summary.summary import Summary


def _summary(chosen: Chosen, within: Path, told_of: Callable[[Summary], Summary] | None = None) -> Result:
    from orroom.formats.blocks import Paragraph, Strong
    from orroom.formats.summary_blocks import blocks_of

    summary, not_intact = reports.summed_up(path_of(chosen))
    warning = (Paragraph(Strong(not_intact)),) if not_intact else ()
    blocks = blocks_of(summary if told_of is None else told_of(summary))
    return result("", title="Summary", blocks=(*warning, *blocks))


def _compare(chosen: Chosen, within: Path) -> Result:
    return _summary(chosen, within, partial(reports.beside_paper, paper=file_of(chosen)))


def _report(chosen: Chosen, within: Path) -> Result:
    if chosen.report is None:
        raise OrroomError("No report was chosen.", "Choose a format.")
    return result(_written(path_of(chosen), chosen.report))


def _written(case: Path, report: Report) -> str:
    """Write a summary to the first free name next to a case; answers the name, and what is wrong."""
    from orroom.case.terms import visible
    from orroom.formats.chosen import BRIEF, FOR, WHOLE, Choice
    from orroom.formats.csv_tables import to_csv_tables
    from orroom.formats.summary_formats import written
    from orroom.summary.sharing import shared

    summary, not_intact = reports.summed_up(case)
    choice = FOR[report.whom] if report.whom else Choice(report.share, BRIEF if report.brief else WHOLE)
    summary = shared(summary, choice.share)
    # An anonymous report does not go by the code of its case.
    named = case.with_name("case") if choice.share == "anonymous" else case.with_suffix("")
    what = f"for-{report.whom}" if report.whom else "first-page" if report.brief else "summary"
    level = "" if choice.share == "full" or report.whom else f".{choice.share}"
    stem = named.with_name(f"{named.name}.{what}{level}")
    if report.form == "csv":
        file = free(stem, ".tables")
        write_folder({name: visible(text) for name, text in to_csv_tables(summary).items()}, file)
    else:
        file = free(stem, ".fhir.json" if report.form == "fhir" else f".{report.form}")
        write(written(summary, report.form, report.fhir, chosen=choice.sections), file)
    then = ": open it in a browser to read or print it." if report.form == "html" else ""
    return f"{not_intact} {file}{then}".strip()


def _status(chosen: Chosen, within: Path) -> Result:
    from orroom.cli.status import state_now

    return result("\n".join(state_now(path_of(chosen))), title="State now")


def _hand_over(chosen: Chosen, within: Path) -> Result:
    from orroom.cli.status import handed_over

    return result("\n".join(handed_over(path_of(chosen))), title="Hand-over")


def _fates(chosen: Chosen, within: Path) -> Result:
    from orroom.cli.fates import fates_now

    return result(fates_now(path_of(chosen)), title="What is left")


def _replan(chosen: Chosen, within: Path) -> Result:
    from orroom.case.terms import visible
    from orroom.figures.replan.proposal import aims_now, expected_supply
    from orroom.figures.replan.proposal import replan as proposed
    from orroom.words.replan import replan_text

    state = state_of(path_of(chosen))
    answer = proposed(state.plan, state.tally.placed, expected_supply(state, {}), aims_now(state, ()))
    accepted = "To take it: y at the overview shows it again, and asks."
    return result(f"{visible(replan_text(answer, state))}\n\n{accepted}", title="Re-plan: a proposal")


def _flow(chosen: Chosen, within: Path) -> Result:
    from orroom.cli.flow import flow_of

    return result(flow_of(path_of(chosen)), title="Flow")


def _verify(chosen: Chosen, within: Path) -> Result:
    return result(reports.verified(path_of(chosen)), title="Verify")


def _verify_seal(chosen: Chosen, within: Path) -> Result:
    words = reports.verified(path_of(chosen), reports.seal_of(chosen.typed.removeprefix("Seal").strip()))
    return result(f"The printed seal is in this record.\n{words}", title="Verify")


def _back_up(chosen: Chosen, within: Path) -> Result:
    """Copy a case to the first free name next to it."""
    from orroom.record.copies import backup
    from orroom.record.opening import SUFFIX

    case = path_of(chosen)
    names = (case.with_name(f"{case.stem}.copy-{number}{SUFFIX}") for number in range(1, 1000))
    copy = next((each for each in names if not each.exists()), None)
    if copy is None:
        raise OrroomError("There are 999 copies next to it.", "Move some of them elsewhere.")
    return result(f"{copy}: {backup(case, copy):,} entries copied and verified. Keep it on another disk too.")


def _restore(chosen: Chosen, within: Path) -> Result:
    return result(
        kept.restored(file_of(chosen), path_of(chosen), lose=chosen.typed == "lose"), title="Restored"
    )


def _export(chosen: Chosen, within: Path) -> Result:
    case = path_of(chosen)
    file = free(case.with_suffix(".entries"), chosen.typed)
    number, warning = reports.exported(case, file)
    return result(f"{file}: {number:,} entries exported. {warning}".strip(), wrong=bool(warning))


def _rescue(chosen: Chosen, within: Path) -> Result:
    said, refused = kept.taps_added(file_of(chosen), path_of(chosen))
    if not refused:
        return result(said)
    by_hand = "Enter these by hand, or write them on paper:"
    return result("\n".join((said, by_hand, *refused)), title="Some taps were refused", wrong=True)


def _lock(chosen: Chosen, within: Path) -> Result:
    from orroom.record.copies import locked_copy

    return result(f"Locked copy: {locked_copy(path_of(chosen))}")


def _sign_off(chosen: Chosen, within: Path) -> Result:
    from orroom.screens.start.case_menus import sign_off

    return result("", then=partial(sign_off, path_of(chosen), state_of(path_of(chosen))))


def _close(chosen: Chosen, within: Path) -> Result:
    if chosen.sign_off is None:
        raise OrroomError("Nobody has signed.", "Sign off again.")
    locked = kept.closed(path_of(chosen), chosen.who, chosen.sign_off)
    by = f"{chosen.who} and {chosen.sign_off.second}"
    return result(f"Signed off by {by}. Locked copy: {locked}. The summary is above, also to print.")


def _reopen(chosen: Chosen, within: Path) -> Result:
    from orroom.case.commands import ReopenCase

    record(path_of(chosen), ReopenCase(reason=chosen.reason), chosen.who)
    return result(f"Reopened by {chosen.who}.")


WITH_A_CASE: Final[dict[str, Callable[[Chosen, Path], Result]]] = {
    "summary": _summary,
    "compare": _compare,
    "report": _report,
    "status": _status,
    "hand over": _hand_over,
    "fates": _fates,
    "re-plan": _replan,
    "flow": _flow,
    "verify": _verify,
    "verify seal": _verify_seal,
    "back up": _back_up,
    "restore": _restore,
    "export": _export,
    "rescue": _rescue,
    "lock": _lock,
    "sign off": _sign_off,
    "close": _close,
    "reopen": _reopen,
}
