"""Which version of the program stations were opened with, in words."""

from collections.abc import Iterable


def opened_with_words(opened: Iterable[tuple[str | None, str, int]]) -> str:
    """Such as *Stations opened with orroom 0.1.0: AB (2), CD; with an earlier version: EF*.

    From a version (``None``: not recorded), who opened stations with it, and how many. Nothing where no
    version was recorded.
    """
    people: dict[str | None, list[str]] = {}
    for version, who, stations in opened:
        people.setdefault(version, []).append(who if stations == 1 else f"{who} ({stations})")
    if not people.keys() - {None}:
        return ""
    parts = (
        f"with {'an earlier version' if version is None else f'orroom {version}'}: {', '.join(by)}"
        for version, by in people.items()
    )
    return f"Stations opened {'; '.join(parts)}."
