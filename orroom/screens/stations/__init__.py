"""The stations: cutting, placing, overview.

``app.py`` has a screen for each role. ``StationScreen`` is what they have in common; it holds its ``Taps``
(their order, and what no hand pressed), ``Outcomes`` (the desk is asked, what came of it is said) and what
lies over it (``over``). ``Shared`` is what the screens of one station know of each other.
"""
