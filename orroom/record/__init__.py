"""What the program writes: the case file, its chain and anchor, rescue files, and the events as text.

A case is one SQLite file (0600) in a folder of its own (0700).

- Journal: a write-ahead log with ``synchronous=FULL`` where stations take turns over a lock (``turns.py``,
  an flock held over every commit, checkpoint, opening and closing, so that SQLite's fault before 3.51.3
  cannot arise), or where this SQLite may share a log without (``wal_is_safe``, from
  sqlite.org/wal.html#walresetbug); else ``DELETE`` with ``EXTRA``. Set once, when the file is made.
- Chain: every row has the SHA-256 of the row before and its own text (``chain.py``). The newest hash is
  written next to the case (``anchor.py``), synced, when a station joins and leaves and while entries come,
  with four digits of every hash before it, so that a fork is found to the entry. Every summary prints it.
- Evidence: a record that does not go on from its anchor gets an entry that says so (``RecordDiffered``)
  before anything else is entered or anchored. The old anchor stays as ``CASE.orroom.seal.1`` …, and
  ``verify`` never calls the record intact again.
- The log belongs to the case (``write_ahead.py``). If it is deleted, the first station that notices brings
  its log into the file and begins another. A station that shared the old one takes no more taps, says so,
  never closes its connection (SQLite would write over the new log), and on leaving saves what may be in the
  old log alone in a rescue file.
- Side files are written new and renamed, never through a symbolic link (``side_files.py``).
- Opening trusts nothing: read-only first, ``trusted_schema`` off, ``cell_size_check`` on, exactly our
  tables, columns, triggers and views (``schema.py``, ``views.py``), or one sentence why not
  (``opening.py``). Nothing opens the file with plain ``open()``, which would drop SQLite's locks; copies go
  through its backup.
- Append-only: triggers refuse UPDATE, DELETE and any gap in ``seq``. ``application_id`` and
  ``user_version`` are checked; a newer format is refused, an older one is read (``upgrades.py``; one
  recorded file of each format is in the tests). A view that changes raises ``FILE_FORMAT``, and its earlier
  text stays in ``earlier_views.py``; opening an old file at a station gives it today's views.
- Case time is steady: wall time at one moment of this machine's start, kept in the file, plus
  ``CLOCK_BOOTTIME`` since, shared by all stations. A wall clock set by more than 2 s is recorded once
  (``ClockStepped``) and shown as a mismatch; after a restart time goes on from the last entry.
- What could not be committed when a station ends goes to a rescue file of commands, not events
  (``rescue.py``): an undo in it finds the last tap of its own station, whatever was entered since.
- The views (``views.py``, ``plan_views.py``) are for any SQLite tool; property tests keep them equal to the
  fold. Our own connections cannot read them (``trusted_schema`` off forbids JSON functions in views) and
  read ``entry``.
- ``events.jsonl`` is the same record as text (``encoding.py``). An import passes the rules of form, not
  those of the moment: what was recorded is not judged again.
- Text is kept composed (NFC), clean, and at most 200 characters long.
"""
