"""Rules about the case as a whole: opening, revising, closing it."""

from orroom.case import events as e
from orroom.case.state import CaseState


def refuse_before_opening(state: CaseState, event: e.Event, stamp: e.Stamp) -> str | None:
    """The case has not been opened yet."""
    if state.tally.plan is None and not isinstance(event, e.CaseOpened):
        return "The first entry must open the case with its plan."
    return None


def refuse_second_opening(state: CaseState, event: e.CaseOpened, stamp: e.Stamp) -> str | None:
    """The case is open already."""
    if state.tally.plan is not None:
        return "Revise its plan, or make a new case file."
    return None


def refuse_after_sign_off(state: CaseState, event: e.Event, stamp: e.Stamp) -> str | None:
    """The case is signed off and locked."""
    if state.tally.signed_off and not event.does.after_sign_off:
        return "Reopen it with a reason first: orroom reopen CASE --who … --reason …"
    return None


def refuse_reopening_an_open_case(state: CaseState, event: e.CaseReopened, stamp: e.Stamp) -> str | None:
    """The case is not signed off, so there is nothing to reopen."""
    if not state.tally.signed_off:
        return "Continue with it."
    return None


def refuse_same_person_twice(state: CaseState, event: e.CaseSignedOff, stamp: e.Stamp) -> str | None:
    """Two different people must sign."""
    if event.second == stamp.who:
        return f"{stamp.who} has already signed; enter a different person's initials."
    return None


def refuse_another_case(state: CaseState, event: e.PlanRevised, stamp: e.Stamp) -> str | None:
    """A revised plan must keep the case code."""
    if event.plan.case != state.plan.case:
        return f"Change its code from {event.plan.case} to {state.plan.case}, or make a new case file."
    return None


def refuse_other_earlier_cases(state: CaseState, event: e.PlanRevised, stamp: e.Stamp) -> str | None:
    """What was taken over from earlier cases stays as it is."""
    had = state.plan.sessions
    if had is not None and event.plan.sessions != had:
        return f"Leave the plan's earlier case as it was: {state.plan.earlier}."
    return None


def refuse_plan_that_forgets(state: CaseState, event: e.PlanRevised, stamp: e.Stamp) -> str | None:
    """A revised plan must keep every zone, size and harvest already used."""
    tally, plan = state.tally, event.plan
    harvests = {stock.harvest for stock in tally.stock} | set(tally.harvests)
    zones = {zone for zone, _ in tally.placed} | set(tally.sites) | set(tally.reseated)
    zones |= {each.event.from_zone for each in state.standing() if isinstance(each.event, e.PlacingMoved)}
    for what, used, kept in (
        ("zone", zones, set(plan.zone_by_key)),
        ("size", {stock.size for stock in tally.stock}, set(plan.size_by_key)),
        ("harvest", harvests, set(plan.harvest_by_key)),
    ):
        if forgotten := sorted(used - kept):
            return f"Keep {what} {', '.join(forgotten)} in it, even with 0 planned."
    return None
