"""What lies over a station's screen, a file each; ``opened_by.py`` says which action opens which.

A station holds them in a list, the uppermost first (``StationScreen.over``). Each is an ``Overlay``:
``lines`` is what it paints, ``take`` takes a key or a click that no higher one took, ``keys`` are its own,
``help`` is what F1 says of it. It sees the screen as ``Beneath`` and imports none of them, so it is loaded
when it is first opened.
"""
