"""Closed cases kept together as Parquet, and their figures across cases.

``cases/site=…/year=…/PSEUDONYM.parquet`` (one row) and ``events/…`` (entries) are written whole and never
changed; a case counts once its row is there. ``FOLDER.catalogue.parquet`` is a copy of all rows that may be
deleted; it lies next to the archive, like the key and the lock (``FOLDER.turn``, held over every ``add``),
since it holds the files' times. What an ``add`` that was killed left is swept by the next. A second day has
in ``goes_on_mark`` the ``seal_mark`` of the case that it goes on with. Groups are made
for each measure of the cases that have it; where sites are shown, a month has none or three of each, so
that cases outside every group are never fewer than three. Any Parquet engine reads the folder as it is
(tried with dask 2026.8, pyarrow 26)::

    import dask.dataframe as dd

    events = dd.read_parquet("FOLDER/events")
    cases = dd.read_parquet("FOLDER/cases").compute()
    placed = events[(events.kind == "grafts_placed") & events.stands]
    placed = placed.groupby("size")["count"].sum().compute()
    assert all(placed[size] == cases[f"placed_{size.lower()}"].sum() for size in placed.index)
"""
