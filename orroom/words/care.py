"""When a care round comes, in words."""

from orroom.case.plan import CareRound


def when_it_comes(care: CareRound) -> str:
    """``every 15 min``, ``every 60 min from the opening``, ``at 09:30, then every 60 min``, and the like."""
    start = care.starts or "first harvest"
    if care.at is not None:
        return f"once at {care.at}" if care.once else f"at {care.at}, then every {care.every_minutes:g} min"
    if care.once:
        return f"once, {care.every_minutes:g} min after the {start}"
    return f"every {care.every_minutes:g} min" + (f" from the {start}" if care.starts else "")
