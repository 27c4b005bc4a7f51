"""How a clinic sets orroom up: what new plans begin with, look, bell, the folder of its cases, keys."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from orroom.case.plan import CareRound, Limits, Person, Size, Text
from orroom.case.terms import Bell, Role, Theme

#: The parts of a plan that a clinic may give a default for.
PLAN_PARTS = ("sizes", "care", "limits", "staff")

KeyName = Annotated[str, Field(min_length=1, max_length=20)]
KeysBound = Annotated[tuple[KeyName, ...], Field(min_length=1, max_length=4)]


def _whole_path(path: str) -> str:
    if not path.startswith(("/", "~", "\\\\")) and path[1:2] != ":":
        raise ValueError(f'does not say where it begins; begin with "/" or "~", such as "~/{path}"')
    return path


Folder = Annotated[Text, AfterValidator(_whole_path)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Bindings(_Part):
    """The keys of actions that are not the standard ones, by role and the action's name."""

    cutting: dict[str, KeysBound] = {}
    placing: dict[str, KeysBound] = {}
    overview: dict[str, KeysBound] = {}

    def by_role(self) -> Mapping[Role, Mapping[str, tuple[str, ...]]]:
        """The bindings as a table."""
        return {"cutting": self.cutting, "placing": self.placing, "overview": self.overview}


# Common practice, no source: every clinic sets its own.
_SIZES = tuple(
    Size(key=key, label=f"{key} hair{'s' if hairs > 1 else ''}", hairs=hairs)
    for key, hairs in (("1", 1), ("2", 2), ("3", 3), ("4", 4))
)
_CARE = (
    CareRound(key="wet", label="wet the dishes", kind="wet", every_minutes=15),
    CareRound(key="renew", label="renew holding solution", kind="renew", every_minutes=60, grace_minutes=5),
    CareRound(
        key="temperature",
        label="read the temperature",
        kind="temperature",
        every_minutes=30,
        grace_minutes=5,
        low_c=2,
        high_c=8,
    ),
)


class Settings(_Part):
    """The whole settings file. What is left out is as it comes."""

    theme: Theme = "dark"
    bell: Bell = "off"
    cases: Folder | None = Field(default=None, description="the folder in which cases are kept")
    sizes: tuple[Size, ...] = Field(default=_SIZES, min_length=1, max_length=5)
    care: tuple[CareRound, ...] = Field(default=_CARE, max_length=10)
    limits: Limits = Limits()
    staff: tuple[Person, ...] = Field(default=(), max_length=40)
    keys: Bindings = Bindings()


def plan_defaults(settings: Settings) -> dict[str, Any]:
    """The parts of a plan that a new one begins with, as a plan file would hold them."""
    told = settings.model_dump(include=set(PLAN_PARTS), exclude_none=True)
    return {part: told[part] for part in PLAN_PARTS}
