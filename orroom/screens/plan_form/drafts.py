"""The drafts of a plan while it is filled in, and what is known of each."""

from collections.abc import Callable
from typing import NamedTuple

from orroom.case.plan import Plan
from orroom.files.plan_draft import Draft, Wrong, plan_of, wrongs
from orroom.screens.plan_form.outlook import Outlook, outlook

#: Why a valid plan would be refused, as what is placed must stay in it; or ``None``.
WhyNot = Callable[[Plan], str | None]


class Known(NamedTuple):
    """What is wrong with a draft, what it adds up to, the plan if it is valid, why that is ``refused``."""

    draft: Draft
    wrongs: tuple[Wrong, ...]
    plan: Plan | None
    refused: str | None
    outlook: Outlook


class Drafts:
    """The plan as it was at first, as it is, and as it was before each change."""

    def __init__(self, first: Draft, why_not: WhyNot) -> None:
        self.first = self.now = first
        self._why_not = why_not
        self._before: list[Draft] = []
        self._known: Known | None = None

    def change(self, draft: Draft) -> None:
        """Go on with another draft; the one before can be had back."""
        if repr(draft) != repr(self.now):
            self._before.append(self.now)
            self.now = draft

    def undo(self) -> bool:
        """Go back to the draft before the last change; whether there was one."""
        if not self._before:
            return False
        self.now = self._before.pop()
        return True

    def known(self, draft: Draft) -> Known:
        """What is known of a draft, worked out once while the same one is asked about."""
        if self._known is None or self._known.draft is not draft:
            found = tuple(wrongs(draft))
            plan = None if found else plan_of(draft)
            refused = None if plan is None else self._why_not(plan)
            self._known = Known(draft, found, plan, refused, outlook(draft, plan))
        return self._known
