"""What a case takes over from the cases before it: what they placed, what the donor gave, what was kept.

It is taken from their records once, when the case is opened, and is part of its plan from then on: so that
the record stays whole where those cases are archived or gone.
"""

from collections.abc import Mapping
from typing import Annotated

from msgspec import Meta

from orroom.case.parts import Label, Part, Text
from orroom.case.terms import CASE_CODE, HARVEST_KEY, ZONE_KEY

Counted = Annotated[int, Meta(ge=0, le=1_000_000)]
BySize = dict[str, Counted]
AtMs = Annotated[int, Meta(ge=0, le=4_102_444_800_000)]


class ZoneBefore(Part, frozen=True, kw_only=True):
    """A zone of an earlier case: grafts placed there by size, and their hairs by the sizes of its plan."""

    measures = ("hairs",)

    key: Annotated[str, Meta(pattern=ZONE_KEY)]
    label: Label
    placed: BySize
    hairs: Annotated[float, Meta(ge=0, le=10_000_000)]

    @property
    def grafts(self) -> int:
        """Grafts placed."""
        return sum(self.placed.values())


class KeptBefore(Part, frozen=True, kw_only=True):
    """Grafts of one harvest that were kept for this case: ``key`` names them here, ``of`` is its earlier key.

    ``started_at_ms`` is when they left the body (UTC ms), ``None`` where the earlier case did not know it.
    """

    key: Annotated[str, Meta(pattern=HARVEST_KEY)]
    of: Annotated[str, Meta(pattern=HARVEST_KEY)]
    label: Label
    started_at_ms: AtMs | None
    grafts: BySize


class Session(Part, frozen=True, kw_only=True):
    """An earlier case by its signed record; ``seal`` is the hash of its last entry, number ``entries``.

    Times are UTC ms. ``taken`` are the grafts that the donor gave: cut, the spoilt left out, none of those
    kept from before it. ``kept`` is empty but for the newest case: what an older one kept is part of that.
    """

    case: Annotated[str, Meta(pattern=CASE_CODE)]
    seal: Text
    entries: Counted
    opened_at_ms: AtMs
    utc_offset_minutes: Annotated[int, Meta(ge=-840, le=840)]
    zones: tuple[ZoneBefore, ...]
    taken: BySize
    kept: tuple[KeptBefore, ...] = ()


def kept_by_key(sessions: tuple[Session, ...] | None) -> Mapping[str, KeptBefore]:
    """Grafts kept for this case, by the key of their harvest here."""
    return {each.key: each for session in sessions or () for each in session.kept}
