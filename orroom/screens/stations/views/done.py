"""What the last key did, in a sentence for the message line."""

from orroom.case.care import interval_ms
from orroom.case.events import CareGiven, Entry, EntryCorrected
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.figures.wording import how_long, when_due
from orroom.words.entries import entry_words


def done_words(entry: Entry, state: CaseState) -> str:
    """What the last key did, in a sentence."""
    event, plan = entry.event, state.plan
    if isinstance(event, EntryCorrected) and (wrong := state.entry(event.entry)) is not None:
        return f"↺ entry {event.entry} cancelled: {entry_words(wrong.event, plan)}"
    if isinstance(event, CareGiven):
        late_ms = 0 if event.due_at_ms is None else entry.stamp.at_ms - event.due_at_ms
        late = f", {when_due(late_ms)}" if late_ms > 0 else ""
        return f"answered: {entry_words(event, plan)}{late}{_sooner(event, plan)}"
    return entry_words(event, plan)


def _sooner(event: CareGiven, plan: Plan) -> str:
    """When a reading outside its band is to be taken again, if that is sooner than always."""
    round_ = plan.care_by_key.get(event.care)
    if round_ is None or (next_ms := interval_ms(round_, event.temperature_c)) >= interval_ms(round_, None):
        return ""
    return f"; outside {round_.low_c:g}–{round_.high_c:g} °C: again in {how_long(next_ms)}"
