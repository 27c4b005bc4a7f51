"""What is shown and touched.

Every screen is one pure function ``…_lines(state, now_ms, glance) -> list of Line``, as many lines as the
terminal is high. ``Glance`` is all a screen knows beyond the record: who sits there, the cursor, what is
typed or asked. So what a screen says is tested without a terminal, and ``Board`` can compare lines.

A span with an action is a button: keys, mouse and touch take the same way to the same ``action_…``.
``press('k')`` is a button for a key and answers what is asked; ``type('7')`` types and answers nothing.

Tones (``done``, ``owed``, ``notice``, ``wrong`` …) get their colours in the style sheet; a mark and a word
always go with them, and a test finds a coloured text without. Contrast is computed from theme and style
sheet. Prompts are never of the tone ``wrong``: they are information, not alarms. A prompt grows in steps:
DUE; capitals on a line of its own; a whole row of tone ``pressing``; on an overview of 120×40 or more,
block letters. Detail and the last entries give way to it, zones and figures do not.
"""
