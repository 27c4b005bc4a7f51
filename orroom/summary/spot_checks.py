"""Spot checks: each one, and added up by what was looked at."""

from typing import Annotated

from pydantic import Field

from orroom.case.events import SpotChecked
from orroom.case.state import CaseState
from orroom.case.terms import CheckSubject
from orroom.summary.fields import EnteredAt, EnteredBy, Grafts, Part, Text
from orroom.words.entries import faults_found, zone_label


class SpotCheck(Part):
    """A close look at a few grafts."""

    at: EnteredAt
    who: EnteredBy
    subject: CheckSubject = Field(description="cutting or placing")
    zone: Annotated[str | None, Text.KEY] = Field(description="recipient zone")
    label: Annotated[str | None, Text.LABEL] = Field(description="what the plan calls it")
    looked_at: Grafts = Field(description="grafts looked at")
    faulty: Grafts = Field(description="grafts found faulty")
    whose: Annotated[str | None, Text.PERSON] = Field(description="whose work; none if nobody in particular")
    fault: str | None = Field(description="what was wrong, with the number of grafts if several faults")
    follicles: Annotated[int | None, "follicles"] = Field(description="follicles seen in spot checks")
    transected: Annotated[int | None, "follicles"] = Field(description="follicles transected")


class SpotCheckTotal(Part):
    """All close looks at one subject together."""

    subject: CheckSubject = Field(description="cutting or placing")
    checks: Annotated[int, "checks"] = Field(description="spot checks made")
    looked_at: Grafts = Field(description="grafts looked at")
    faulty: Grafts = Field(description="grafts found faulty")


def spot_checks(state: CaseState) -> tuple[SpotCheck, ...]:
    """Every close look."""
    return tuple(
        SpotCheck.read_off(
            entry.event,
            entry.stamp,
            fault=faults_found(entry.event) or None,
            label=None if entry.event.zone is None else zone_label(state.plan, entry.event.zone),
        )
        for entry in state.standing()
        if isinstance(entry.event, SpotChecked)
    )


def spot_check_totals(checks: tuple[SpotCheck, ...]) -> tuple[SpotCheckTotal, ...]:
    """Close looks added up by subject."""
    found = []
    for subject in sorted({check.subject for check in checks}):
        mine = [check for check in checks if check.subject == subject]
        found.append(
            SpotCheckTotal(
                subject=subject,
                checks=len(mine),
                looked_at=sum(check.looked_at for check in mine),
                faulty=sum(check.faulty for check in mine),
            )
        )
    return tuple(found)
