"""What is found of the flow: by size, what dividing would bring, when a harvest should start."""

from typing import Final

from msgspec import Struct

from orroom.figures.replan.dividing import Way

MINUTE_MS: Final = 60_000
#: How far ahead is looked, and how soon a size must run out for a line on a screen to say so, in minutes.
#: Common practice, no source.
HORIZON: Final = 180
SOON: Final = 30
#: Dividing is suggested if it keeps a size from running out for so many minutes. Common practice, no source.
LASTING: Final = 30


class Dry(Struct, frozen=True):
    """When a size runs out (UTC ms): as likely as not, and 8 times in 10; ``None`` past ``HORIZON``."""

    low_ms: int
    middle_ms: int | None
    high_ms: int | None


class SizeFlow(Struct, frozen=True):
    """One size: what waits, is to come and is owed; how many an hour are cut now; when it runs out.

    ``dry`` is ``None`` if it does so on fewer than one day in ten.
    """

    size: str
    waiting: int
    to_come: int
    owed: int
    per_hour: int
    dry: Dry | None


class Divide(Struct, frozen=True):
    """How many larger grafts would do, for which size, and when that then runs out (UTC ms), if it does.

    ``spare`` is how many of the larger size no zone will need.
    """

    way: Way
    grafts: int
    wanted: str
    spare: int
    dry_ms: int | None


class Start(Struct, frozen=True):
    """The latest start of a harvest (UTC ms) with placing idle on fewer than one day in ten because of it.

    Each hour before it costs ``graft_hours``. ``late``: even a start now is not early enough.
    """

    harvest: str
    at_ms: int
    graft_hours: int
    late: bool


class Flow(Struct, frozen=True):
    """The flow at a time (UTC ms). Where ``unknown`` says why it cannot be said, there is nothing else.

    ``sizes`` are in the plan's order; ``path`` is how many of each are expected to wait at times from now on.
    """

    at_ms: int
    unknown: str | None = None
    sizes: tuple[SizeFlow, ...] = ()
    divide: Divide | None = None
    start: Start | None = None
    path: tuple[tuple[int, tuple[float, ...]], ...] = ()

    def wanted(self, within: float = HORIZON) -> tuple[SizeFlow, ...]:
        """The sizes that probably run out within some minutes, the first of them first."""
        until = self.at_ms + within * MINUTE_MS
        dry = [
            (each.dry.middle_ms, each)
            for each in self.sizes
            if each.dry is not None and each.dry.middle_ms is not None and each.dry.middle_ms <= until
        ]
        return tuple(each for _, each in sorted(dry, key=lambda pair: pair[0]))
