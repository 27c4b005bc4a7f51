"""The program as it would be if a station imported the reports and the solver before it paints."""

from __future__ import annotations

import importlib

from orroom.cli import main

NOT_NEEDED = (
    "highspy",
    "numpy",
    "orroom.formats.sections.charts",
    "orroom.formats.summary_formats",
    "orroom.formats.html",
)

if __name__ == "__main__":
    for name in NOT_NEEDED:
        importlib.import_module(name)
    main()
