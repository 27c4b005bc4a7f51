"""What all screens share: the terminal, hands and clicks, keys, the board and its painting.

A tap: key → ``StationDriver`` → the application's one queue → the screen in front → ``Hands`` → ``take`` of
what lies uppermost, or of the screen → ``action_…`` → ``Desk.ask`` (numbers and stamps the tap) → the writer
thread (``BEGIN IMMEDIATE``, what other stations wrote, ``decide``, ``INSERT``, ``COMMIT``) → new state →
lines → ``Board`` repaints those that changed.

- The order of keys is the keyboard's, however busy a screen is: what a screen had sorted behind the key
  that changed the screens it hands over.
- A screen shows only what is on the disk. A tap that has not come back after 0.1 s is shown as waiting; a
  failed commit is tried again with the same tap number, once the desk has looked whether the earlier try
  reached the disk after all. Nothing is dropped, nothing is doubled.
- A terminal that stops reading stops neither taps nor other stations: the driver leaves writes out and all
  is painted again once it reads.
- What a hand pressed is taken at once. A run of keys that no hand types is set aside whole and asked about
  when it is quiet; taps made meanwhile wait for the answer, visibly, and keep their own time. First keys of
  a run that had passed are cancelled when it is left out. The answer is recorded (``KeysSetAside``). Only
  keys that can count or record are guarded. All thresholds are in ``hands.py``.
- When the input thread was away for more than 0.1 s, the machine or the program stood still: what it reads
  then is ``late`` and says nothing about the tap after it.
- A click is a tap like a key. Left out, with its reason: another button than the plain left one, a press
  and release in two places, the click that brings the keyboard back, what came under the pointer within the
  last 0.45 s, and a second click within 0.45 s on anything but tiles, cells, digits and pages.
- The key that chose a question's last answer may bounce: once, within 0.08 s, it is left out, rings, and is
  recorded. A question left open closes by itself after 30 s (300 s where one goes and looks); what was
  typed is there at its next opening. Digits of a text that was left are offered to the tally.
- A station ends on SIGTERM, SIGINT, SIGHUP, the end of its terminal or of its parent: taps that wait are
  taken, what was set aside is recorded as not counted, the terminal is given back, ``StationLeft`` says
  why, exit code 128 + n. If the terminal takes nothing for 3 s the record is closed all the same.

Faults of the terminal library (8.2.8) that ``driver.py`` and ``key_parser.py`` answer; a test fails when one
of them is gone:

- an invalid UTF-8 byte ends the program with exit code 0 (issue 6456): decoded with replacement
- a key's event of the kitty protocol raises ValueError (issue 6417): presses count, repeats and releases do
  not
- unknown sequences and late answers come back as keys (issue 6573): swallowed
- Esc and a key within 0.1 s become Alt and that key: told apart by their times, 5 ms
- a size that a terminal sends in band is painted, 23 GB of it too: only the system's window size counts
- any other exception in the parser ends the program: the parser begins again, that sequence is lost
- the input thread fails with exit code 0: exit code 1
- the end of the terminal is read again and again: the station ends as on SIGHUP
- SIGCONT after SIGSTOP takes the terminal twice: only what was given back is taken again
- writing to a terminal that is gone stops the output thread, and leaving then hangs: that text is lost
- a paste without its end swallows every key, and Esc in a paste is a key: the parser keeps the paste itself
- a mouse event that is forwarded gets another time: the board is given it by the application

``TEXTUAL_FPS`` is 240 before the library is imported: at 60 a tap may wait two frames (33 ms) to be painted.
"""
