"""How a clinic sets orroom up: what new plans begin with, look, bell, the folder of its cases, keys."""

from collections.abc import Mapping
from typing import Annotated, Any, Final

from msgspec import Meta, field

from orroom.case.parts import Folder, Label, Part, plain_table
from orroom.case.plan import CareRound, Limits, Person, Size
from orroom.case.terms import FAULTS, Bell, CheckSubject, Role, SizeKey, Theme

#: The parts of a plan that a clinic may give a default for.
PLAN_PARTS = ("sizes", "care", "limits", "staff")

KeyName = Annotated[str, Meta(min_length=1, max_length=20)]
KeysBound = Annotated[tuple[KeyName, ...], Meta(min_length=1, max_length=4)]


class Bindings(Part, frozen=True, kw_only=True):
    """The keys of actions that are not the standard ones, by role and the action's name."""

    cutting: dict[str, KeysBound] = field(default_factory=dict)
    placing: dict[str, KeysBound] = field(default_factory=dict)
    overview: dict[str, KeysBound] = field(default_factory=dict)

    def by_role(self) -> Mapping[Role, Mapping[str, tuple[str, ...]]]:
        """The bindings as a table."""
        return {"cutting": self.cutting, "placing": self.placing, "overview": self.overview}


# Common practice, no source: every clinic sets its own.
_HAIRS: Final[dict[SizeKey, int]] = {"1": 1, "2": 2, "3": 3, "4": 4}
_SIZES = tuple(
    Size(key=key, label=f"{key} hair{'s' if hairs > 1 else ''}", hairs=hairs) for key, hairs in _HAIRS.items()
)
_CARE = (
    CareRound(key="wet", label="wet the dishes", kind="wet", every_minutes=15),
    CareRound(
        key="renew",
        label="change the holding solution",
        kind="renew",
        every_minutes=60,
        grace_minutes=5,
    ),
    CareRound(
        key="temperature",
        label="read the temperature",
        kind="temperature",
        every_minutes=30,
        grace_minutes=5,
        low_c=2,
        high_c=8,
        outside_minutes=5,
    ),
)


#: With "other" as the ninth, each has a number of one digit.
MOST_FAULTS: Final = 8
Faults = Annotated[tuple[Label, ...], Meta(min_length=1, max_length=MOST_FAULTS)]


class Checks(Part, frozen=True, kw_only=True):
    """The faults that a spot check asks for, each by its number in the list."""

    placing: Annotated[Faults, Meta(description="faults asked for in checks of placing")] = FAULTS["placing"]
    cutting: Annotated[Faults, Meta(description="faults asked for in checks of cutting")] = FAULTS["cutting"]

    def of(self, subject: CheckSubject) -> tuple[str, ...]:
        """The faults of a subject, in their order."""
        return self.placing if subject == "placing" else self.cutting


class Settings(Part, frozen=True, kw_only=True):
    """The whole settings file. What is left out is as it comes."""

    theme: Theme = "dark"
    bell: Bell = "off"
    cases: Annotated[Folder, Meta(description="the folder where cases are kept")] | None = None
    sizes: Annotated[tuple[Size, ...], Meta(min_length=1, max_length=5)] = _SIZES
    care: Annotated[tuple[CareRound, ...], Meta(max_length=10)] = _CARE
    limits: Limits = Limits()
    staff: Annotated[tuple[Person, ...], Meta(max_length=40)] = ()
    checks: Checks = Checks()
    keys: Bindings = Bindings()


def plan_defaults(settings: Settings) -> dict[str, Any]:
    """The parts of a plan that a new one begins with, as a plan file would hold them."""
    found = plain_table(settings)
    return {part: found[part] for part in PLAN_PARTS}
