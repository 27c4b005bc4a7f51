"""What people write: plan files and settings, read, checked, filled in and saved.

- Plans and settings are made of msgspec structs (``orroom.case.parts``), because plans are in events and a
  station must not load pydantic, 0.1 s of its start. Each field, limit and description stands once, in the
  types of its part. ``checker`` reads them, finds every mistake of a file at once and makes the part in the
  same walk; ``right_words`` says them in words; the JSON Schema is msgspec's own.
- A plan in a record was checked when it came in: msgspec alone reads it.
"""
