"""What is true about a case: plan, events, state, and the rules between them. Pure.

``decide(state, command, stamp) -> event | Refusal`` and ``evolve(state, entry) -> state`` are all of it. No
module here reads a clock, a file, a terminal or a database.

- One command is one event, so what one tap did can be undone as one, and ``(station, station_tap)`` is
  unique. Where a placing of 25 takes grafts from the placers and from two dishes, its one event says so in
  ``drawn``.
- Double entry. Every graft is in one account per size and harvest (``state.py``), and every event that counts
  moves grafts between accounts, so ``kept_before + cut + divided_in = dish + bench (with the placers) +
  placed + discarded + divided_out + missing + left_at_end`` always. A count that the record cannot
  explain makes an account negative: a mismatch on every screen. An event that only moves grafts is undone
  by moving them back; any other corrected entry makes the state be built again from the log. A property
  test keeps both ways equal.
- Order is ``seq``, never time: the clocks of two stations may disagree.
- Which harvest was placed is not known where harvests mix. The tally draws from the placers before the
dishes and
  the oldest harvest first, and the event keeps what it drew. Figures that depend on it say so, or give the
  least and the most of all ways (``orroom.figures.out_of_body``).
- ``cut`` counts every graft ever cut, also those spoilt on the board. The screens' USABLE is ``usable``: in
  dishes, with the placers or placed, so that a surgeon can add up the large figures.
- Events, commands, stamps and the tally are msgspec structs: immutable, unknown fields refused, ten times
  faster to make and read than pydantic models. ``dataclasses.replace`` does not know them (and mypy does
  not say so); ``msgspec.structs.replace`` does.
- ``CaseState.log`` has every entry. ``Log.append`` shares one growing list between versions, so a state is
  a value and appending stays cheap.
"""
