"""What the forecasts of a closed case had wrong, at nine shares of a work, and how many came true."""

from math import log
from typing import Final

from msgspec import Struct, field

from orroom.case.evolve import fold
from orroom.case.habits import MOST_WRONG, SHARES
from orroom.case.state import CaseState
from orroom.case.terms import Work
from orroom.case.traits import Trait, held
from orroom.figures.pace.finish import Finish, finish_of
from orroom.figures.pace.rates import merged
from orroom.figures.pace.work import end_of_work_ms, work_done
from orroom.figures.yields import yields

#: The works whose finish is looked back on.
LOOKED_AT: Final[tuple[Work, ...]] = ("cutting", "placing")


class LookedBack(Struct):
    """The forecasts of one work, at ``SHARES`` of it.

    ``wrong``: at each, ln(time at work that the rest took / time forecast), ``None`` without a forecast.
    ``forecasts``: how many there were; ``held``: in how many the work ended inside the range at this pace,
    ``held_later``: inside the range with the later end.
    """

    wrong: list[float | None] = field(default_factory=list)
    forecasts: int = 0
    held: int = 0
    held_later: int = 0


def wrong_finish(state: CaseState) -> dict[Work, LookedBack]:
    """By work, how its forecasts went, without a clinic's habits.

    The case is gone through again, and the finish forecast from what was in the record by then, corrections
    that came later left out.
    """
    wholes = {work: work_done(state, work, end_of_work_ms(state)) for work in LOOKED_AT}
    spans = {work: merged(whole.stints) for work, whole in wholes.items()}
    all_done = {work: whole.done for work, whole in wholes.items()}
    found = {work: LookedBack() for work in LOOKED_AT}
    so_far = dict.fromkeys(LOOKED_AT, 0)
    then = CaseState()
    for entry in state.log:
        work = entry.event.does.output_of
        if work not in found or not state.stands(entry):
            continue
        mine = found[work]
        so_far[work] += sum(held(entry.event, Trait.COUNT))
        while len(mine.wrong) < len(SHARES) and so_far[work] >= SHARES[len(mine.wrong)] * all_done[work]:
            now_ms, last_ms = entry.stamp.at_ms, wholes[work].marks[-1].at_ms
            took_ms = sum(max(0, min(end, last_ms) - max(start, now_ms)) for start, end in spans[work])
            then = fold(state.log[then.seq : entry.seq], then)
            finish = finish_of(then, work, yields(then, 80, by_size=False), now_ms)
            mine.wrong.append(_wrong(finish, now_ms, took_ms))
            if finish is not None:
                mine.forecasts += 1
                mine.held += finish.low_ms <= last_ms <= finish.high_ms
                mine.held_later += finish.low_ms <= last_ms <= finish.later_ms
    for mine in found.values():
        mine.wrong += [None] * (len(SHARES) - len(mine.wrong))
    return found


def _wrong(finish: Finish | None, now_ms: int, took_ms: int) -> float | None:
    if finish is None or finish.middle_ms <= now_ms or not took_ms:
        return None
    wrong = log(took_ms / (finish.middle_ms - now_ms))
    return wrong if abs(wrong) <= MOST_WRONG else None
