"""How the clinic has set orroom up, as every screen is given it; a wrong file stops no station."""

import os
from collections.abc import Mapping

from msgspec import Struct, field

from orroom.case.settings import Settings
from orroom.errors import OrroomError, SettingsInvalidError
from orroom.figures.wording import several
from orroom.files.settings_file import load_settings, settings_path
from orroom.screens.terminal.key_rules import KEY_RULES
from orroom.screens.terminal.keys import Keys


class Clinic(Struct, frozen=True):
    """The settings, the keys bound in them, and why they are the defaults if the file could not be taken."""

    settings: Settings = field(default_factory=Settings)
    keys: Keys = field(default_factory=Keys.standard)
    problem: str = ""


def clinic_of(settings: Settings) -> Clinic:
    """What valid settings mean for a station."""
    return Clinic(settings, Keys(settings.keys.by_role()))


def this_clinic(environment: Mapping[str, str] = os.environ) -> Clinic:
    """What the settings file says; the defaults, and why, if it cannot be taken."""
    try:
        return clinic_of(load_settings(settings_path(environment), KEY_RULES))
    except SettingsInvalidError as error:
        wrong = several(len(error.problems), "problem")
        return Clinic(problem=f"the settings have {wrong}, defaults in use: see orroom settings --check")
    except OrroomError as error:
        return Clinic(problem=f"defaults in use: {error}")
