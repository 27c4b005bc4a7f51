"""Which action opens what over a station's screen. Each is loaded when it is first opened."""

from orroom.screens.stations.over.overlay import Overlay


def opened_by(action: str) -> type[Overlay] | None:
    """What an action opens; ``None`` if it opens nothing over the screen."""
    match action:
        case "help":
            from orroom.screens.stations.over.pages import Help as Found
        case "figures":
            from orroom.screens.stations.over.pages import Figures as Found  # type: ignore[assignment]
        case "final_count":
            from orroom.screens.stations.over.counting import Counting as Found  # type: ignore[assignment]
        case "hand_over":
            from orroom.screens.stations.over.handover import HandOver as Found  # type: ignore[assignment]
        case "replan":
            from orroom.screens.stations.over.replan import Replan as Found  # type: ignore[assignment]
        case _:
            return None
    return Found
