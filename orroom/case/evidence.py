"""What is said of a record that is not the one whose seal was kept next to it: what is gone, what came."""

from orroom.case.events import RecordDiffered


def gone(event: RecordDiffered) -> int:
    """How many entries that were there are not there any more; the least where it is not known."""
    return event.anchored - (event.last if event.same is None else event.same)


def others(event: RecordDiffered) -> int | None:
    """How many entries are in their place that were not there; ``None`` where it is not known."""
    return None if event.same is None else event.last - event.same


def what_differs(event: RecordDiffered) -> str:
    """In words: which entries are gone, and which are in their place."""
    lost, came = gone(event), others(event)
    if came is None:
        if lost > 0:
            return f"at least {entries(lost)} up to {event.anchored} gone, earlier ones may be changed"
        return f"an entry up to {event.anchored} was changed"
    first = (event.same or 0) + 1
    was = "entry" if lost == 1 else "entries"
    found = f"{was} {_span(first, event.anchored)} gone"
    return f"{found}, {came:,} others in their place" if came else found


def in_short(event: RecordDiffered) -> str:
    """The same in as few words as a line of last entries has room for."""
    if (came := others(event)) is None:
        return f"record changed up to entry {event.anchored}"
    return f"record changed: {gone(event):,} gone" + (f", {came:,} in their place" if came else "")


def entries(count: int) -> str:
    """A number of entries, as ``1 entry`` or ``12 entries``."""
    return "1 entry" if count == 1 else f"{count:,} entries"


def _span(first: int, last: int) -> str:
    return f"{first:,}" if first == last else f"{first:,} to {last:,}"
