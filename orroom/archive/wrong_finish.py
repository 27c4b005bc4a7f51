"""What the forecasts of a closed case had wrong, at nine shares of a work: a clinic's habits."""

from math import log
from typing import Final

from orroom.case.evolve import evolve
from orroom.case.habits import MOST_WRONG, SHARES
from orroom.case.state import CaseState
from orroom.case.terms import Work
from orroom.case.traits import Trait, held
from orroom.figures.pace.finish import outlook
from orroom.figures.pace.rates import merged
from orroom.figures.pace.work import end_of_work_ms, work_done
from orroom.figures.yields import yields

#: The works whose finish is looked back on.
LOOKED_AT: Final[tuple[Work, ...]] = ("cutting", "placing")


def wrong_finish(state: CaseState, work: Work) -> tuple[float | None, ...]:
    """At each of ``SHARES``, ln(time at work that the rest took / time forecast); ``None`` without one.

    The case is gone through again, and the finish forecast from what was in the record by then, corrections
    that came later left out.
    """
    whole = work_done(state, work, end_of_work_ms(state))
    standing = {entry.seq for entry in state.standing() if entry.event.does.output_of == work}
    spans = merged(whole.stints)
    found: list[float | None] = []
    then, done = CaseState(), 0
    for entry in state.log:
        then = evolve(then, entry)
        if entry.seq not in standing:
            continue
        done += sum(held(entry.event, Trait.COUNT))
        while len(found) < len(SHARES) and done >= SHARES[len(found)] * whole.done:
            now_ms, last_ms = entry.stamp.at_ms, whole.marks[-1].at_ms
            took_ms = sum(max(0, min(end, last_ms) - max(start, now_ms)) for start, end in spans)
            found.append(_wrong(then, work, now_ms, took_ms))
    return (*found, *(None,) * (len(SHARES) - len(found)))


def _wrong(then: CaseState, work: Work, now_ms: int, took_ms: int) -> float | None:
    works = outlook(then, yields(then, 80), now_ms).works
    finish = next((each.finish for each in works if each.work == work), None)
    if finish is None or finish.middle_ms <= now_ms or not took_ms:
        return None
    wrong = log(took_ms / (finish.middle_ms - now_ms))
    return wrong if abs(wrong) <= MOST_WRONG else None
