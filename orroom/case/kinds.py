"""What a kind of event does to a case, and what may be done to it. Each event has its row in ``events``."""

from typing import Literal

from msgspec import Struct

from orroom.case.terms import Account, Place, Role, Work


class Does(Struct, frozen=True):
    """The row of one kind of event. Every list of kinds is made of these (``events.kinds_that``)."""

    #: It does nothing but move counts, so that it can be added and undone in any order: those of grafts
    #: that really change place, or mere numbers. After the first a final count has to be made again.
    moves: Literal["grafts", "numbers"] | None = None
    #: Where its grafts are drawn from, in this order.
    takes_from: tuple[Place, ...] = ()
    #: Where those grafts are after it.
    brings_to: Account | None = None
    #: It is done to grafts or tissue, or for them. All else is paperwork: counts, notes, corrections, who was
    #: where, signing off, reopening.
    hands_on: bool = False
    #: The work whose pace is measured by its counts.
    output_of: Work | None = None
    #: It may change how full a zone is.
    fills_zones: bool = False
    #: It makes no care round due at another time.
    leaves_prompts: bool = False
    #: The roles whose people undo their own with one key.
    undone_at: tuple[Role, ...] = ()
    #: Said behind its number if it can never be cancelled: what it is; what to do instead.
    instead: str = ""
    #: It is taken after the case was signed off.
    after_sign_off: bool = False
    #: It is entered by the person it is about, no matter who sits at the station.
    by_another: bool = False
