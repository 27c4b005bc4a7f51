"""What each person did, and who rested when."""

from collections import Counter
from typing import Annotated

from pydantic import Field

from orroom.case import events as e
from orroom.case.state import CaseState
from orroom.case.traits import Trait, held
from orroom.figures.counts import done_by
from orroom.summary.fields import BySize, Moment, Part, Person, Text


class PersonSummary(Part):
    """What one person entered, corrected entries left out of the grafts but not of ``entries``.

    Spoilt in cutting are among ``discarded``.
    """

    who: Person = Field(description="initials")
    role: Annotated[str | None, Text.OURS] = Field(description="role in the plan")
    entries: Annotated[int, "entries"] = Field(description="entries made, cancelled ones included")
    cut_spoilt_left_out: BySize = Field(description="grafts cut, spoilt ones left out")
    placed: BySize = Field(description="grafts placed")
    divided: BySize = Field(description="grafts divided")
    discarded: BySize = Field(description="grafts discarded")


class OpenedWith(Part):
    """How many ``stations`` somebody opened with a version; ``None``: one that did not record its number."""

    version: Annotated[str | None, Text.OURS] = Field(
        description="version of orroom; none if it is an earlier one, which did not record it"
    )
    who: Person = Field(description="who opened stations with it")
    stations: Annotated[int, "stations"] = Field(description="how many stations")


class Break(Part):
    """A break; ``until`` is ``None`` if its end was not entered."""

    who: Person = Field(description="who took the break")
    since: Moment = Field(description="when it began")
    until: Moment | None = Field(description="when it ends or ended")


def people(state: CaseState) -> tuple[PersonSummary, ...]:
    """Everybody on the staff of any plan of the case, who entered something, or was named in an entry."""
    plans = [each.event.plan for each in state.log if isinstance(each.event, e.CaseOpened | e.PlanRevised)]
    roles = {person.initials: person.role for plan in (*plans, state.plan) for person in plan.staff}
    entries = Counter(entry.stamp.who for entry in state.log)
    named = {who for each in state.log for who in held(each.event, Trait.PERSON)}
    found = []
    for who in sorted({*entries, *roles, *named}):
        done = {
            what: done_by(state.tally, who, what)
            for what in ("cut", "placed", "divided", "discarded", "discarded cutting")
        }
        found.append(
            PersonSummary(
                who=who,
                role=roles.get(who),
                entries=entries[who],
                cut_spoilt_left_out=done["cut"],
                placed=done["placed"],
                divided=done["divided"],
                discarded=dict(Counter(done["discarded"]) + Counter(done["discarded cutting"])),
            )
        )
    return tuple(found)


def breaks(state: CaseState) -> tuple[Break, ...]:
    """Every break, in the order they began. Taking over a station ends a break too."""
    found: list[Break] = []
    away: dict[str, int] = {}
    for entry in state.standing():
        who, at = entry.stamp.who, entry.stamp.at_ms
        match entry.event:
            case e.BreakStarted():
                away[who] = len(found)
                found.append(Break(who=who, since=at, until=None))
            case e.BreakEnded() | e.HandedOver() if who in away:
                place = away.pop(who)
                found[place] = Break(who=who, since=found[place].since, until=at)
    return tuple(found)


def opened_with(state: CaseState) -> tuple[OpenedWith, ...]:
    """Which version everybody opened stations with, in their order; none where no version was recorded."""
    stations = Counter(
        (each.event.version, each.stamp.who) for each in state.log if isinstance(each.event, e.StationJoined)
    )
    if all(version is None for version, _ in stations):
        return ()
    return tuple(
        OpenedWith(version=version, who=who, stations=number) for (version, who), number in stations.items()
    )
