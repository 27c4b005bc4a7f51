"""What the forecasts of a closed case had wrong, at nine shares of a work: a clinic's habits."""

from math import log
from typing import Final

from orroom.case.evolve import fold
from orroom.case.habits import MOST_WRONG, SHARES
from orroom.case.state import CaseState
from orroom.case.terms import Work
from orroom.case.traits import Trait, held
from orroom.figures.pace.finish import finish_of
from orroom.figures.pace.rates import merged
from orroom.figures.pace.work import end_of_work_ms, work_done
from orroom.figures.yields import yields

#: The works whose finish is looked back on.
LOOKED_AT: Final[tuple[Work, ...]] = ("cutting", "placing")


def wrong_finish(state: CaseState) -> dict[Work, tuple[float | None, ...]]:
    """By work, at each of ``SHARES``: ln(time at work that the rest took / time forecast), else ``None``.

    The case is gone through again, and the finish forecast from what was in the record by then, corrections
    that came later left out.
    """
    wholes = {work: work_done(state, work, end_of_work_ms(state)) for work in LOOKED_AT}
    spans = {work: merged(whole.stints) for work, whole in wholes.items()}
    all_done = {work: whole.done for work, whole in wholes.items()}
    found: dict[Work, list[float | None]] = {work: [] for work in LOOKED_AT}
    so_far = dict.fromkeys(LOOKED_AT, 0)
    then = CaseState()
    for entry in state.log:
        work = entry.event.does.output_of
        if work not in found or not state.stands(entry):
            continue
        mine = found[work]
        so_far[work] += sum(held(entry.event, Trait.COUNT))
        while len(mine) < len(SHARES) and so_far[work] >= SHARES[len(mine)] * all_done[work]:
            now_ms, last_ms = entry.stamp.at_ms, wholes[work].marks[-1].at_ms
            took_ms = sum(max(0, min(end, last_ms) - max(start, now_ms)) for start, end in spans[work])
            then = fold(state.log[then.seq : entry.seq], then)
            mine.append(_wrong(then, work, now_ms, took_ms))
    return {work: (*mine, *(None,) * (len(SHARES) - len(mine))) for work, mine in found.items()}


def _wrong(then: CaseState, work: Work, now_ms: int, took_ms: int) -> float | None:
    finish = finish_of(then, work, yields(then, 80), now_ms)
    if finish is None or finish.middle_ms <= now_ms or not took_ms:
        return None
    wrong = log(took_ms / (finish.middle_ms - now_ms))
    return wrong if abs(wrong) <= MOST_WRONG else None
