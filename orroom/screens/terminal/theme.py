"""Our own colours, light and dark.

Blue and orange of Okabe and Ito tell states apart for colour-blind eyes (Okabe M, Ito K, "Color Universal
Design", 2008; values from memory); a mark and a word always go with them.
"""

from pathlib import Path
from typing import Final

from rich.style import Style
from textual.theme import Theme

from orroom.screens.terminal.painting import Tone

#: The style sheet of all applications.
STYLES: Final = Path(__file__).with_name("orroom.tcss")

DARK = Theme(
    name="orroom-dark",
    dark=True,
    primary="#56B4E9",
    secondary="#009E73",
    accent="#E69F00",
    foreground="#E8EAED",
    background="#101418",
    surface="#182028",
    panel="#243240",
    warning="#F0E442",
    error="#F5A623",
    success="#5FD3A8",
    variables={"quiet": "#9AA7B4", "cursor-ink": "#101418", "band": "#F0E442", "band-ink": "#101418"},
)
LIGHT = Theme(
    name="orroom-light",
    dark=False,
    primary="#00527F",
    secondary="#00614A",
    accent="#8A4B00",
    foreground="#14191F",
    background="#FAFAF7",
    surface="#EEF0EC",
    panel="#DDE3E6",
    warning="#5F5000",
    error="#9A3300",
    success="#00614A",
    variables={"quiet": "#55606B", "cursor-ink": "#FFFFFF", "band": "#14191F", "band-ink": "#F0E442"},
)
THEMES = {"dark": DARK, "light": LIGHT}

#: Of each tone the colour of its text, the one behind it, and whether it is bold.
TONES: Final[dict[Tone, tuple[str, str, bool]]] = {
    "plain": ("foreground", "background", False),
    "dim": ("quiet", "background", False),
    "strong": ("foreground", "background", True),
    "mine": ("primary", "background", True),
    "done": ("success", "background", False),
    "owed": ("primary", "background", False),
    "notice": ("warning", "background", True),
    "pressing": ("band-ink", "band", True),
    "wrong": ("error", "background", True),
    "button": ("foreground", "panel", False),
    "cursor": ("cursor-ink", "primary", True),
}


def colour(theme: Theme, name: str) -> str:
    """A colour of a theme, as #RRGGBB."""
    return theme.variables.get(name) or str(getattr(theme, name))


def styles_of(theme: Theme) -> dict[Tone, Style]:
    """How each tone is painted. To ask the library's style sheet for them takes a tenth of a start."""
    return {
        tone: Style(color=colour(theme, ink), bgcolor=colour(theme, behind), bold=bold or None)
        for tone, (ink, behind, bold) in TONES.items()
    }
