"""Rules about care rounds and their prompts."""

from orroom.case.events import CareGiven, Event, LimitAnswered, PromptPaused, Stamp
from orroom.case.limits import unanswered_limits
from orroom.case.state import CaseState
from orroom.case.terms import PLACERS_CARE
from orroom.case.traits import Trait, held

MAX_PAUSE_MINUTES = 240
TEMPERATURE_C = (-20.0, 60.0)


def refuse_unknown_care(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The plan has no such care round."""
    for care in held(event, Trait.CARE):
        if care not in (*state.plan.care_by_key, PLACERS_CARE):
            known = ", ".join((*state.plan.care_by_key, PLACERS_CARE))
            return f"{care!r} is not one of {known}."
        if isinstance(event, PromptPaused) and care == PLACERS_CARE:
            return "This limit cannot be paused: place the grafts, wet them or return them to their dish."
    return None


def refuse_temperature_without_sense(state: CaseState, event: CareGiven, stamp: Stamp) -> str | None:
    """A temperature round needs a reading in °C; other rounds take none."""
    round_ = state.plan.care_by_key.get(event.care)
    wants = round_ is not None and round_.kind == "temperature"
    reading = event.temperature_c
    if wants and (reading is None or not TEMPERATURE_C[0] <= reading <= TEMPERATURE_C[1]):
        return f"Enter the temperature, from {TEMPERATURE_C[0]:g} to {TEMPERATURE_C[1]:g} °C."
    if not wants and reading is not None:
        return f"Leave the temperature out for {event.care!r}."
    return None


def refuse_endless_pause(state: CaseState, event: PromptPaused, stamp: Stamp) -> str | None:
    """A prompt can be paused for 1 minute to 4 hours."""
    minutes = (event.until_ms - stamp.at_ms) / 60_000
    if not 1 <= minutes <= MAX_PAUSE_MINUTES:
        return f"Enter 1 to {MAX_PAUSE_MINUTES} minutes, not {minutes:g}."
    return None


def refuse_answer_to_no_limit(state: CaseState, event: LimitAnswered, stamp: Stamp) -> str | None:
    """That limit is not broken, or somebody has said already what was done."""
    open_now = unanswered_limits(state, stamp.at_ms)
    if event.limit not in {each.key for each in open_now}:
        return f"Broken and not answered: {'; '.join(each.sentence for each in open_now) or 'none'}."
    return None
