"""Drills: a sheet that is read aloud, entered at a real station of a case of its own, and scored.

The sheet is made from its kind, level and seed alone (``making.py``), the score from the sheet and the record
alone (``score.py``); ``case.py`` makes the case, ``own_file.py`` keeps a person's drills.
"""
