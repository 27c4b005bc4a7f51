"""What a terminal sends and the keys that come of it, beside the library's own reading."""

from __future__ import annotations

import inspect
import io

import pytest
from drivers import Hours, driver, told
from hypothesis import given
from hypothesis import strategies as st
from textual import constants, events
from textual._ansi_sequences import ANSI_SEQUENCES_KEYS
from textual._xterm_parser import XTermParser
from textual.drivers.linux_driver import LinuxDriver
from textual.message import Message

from orroom.screens.terminal import key_parser
from orroom.screens.terminal.driver import LosableFile
from orroom.screens.terminal.key_parser import StationParser

#: Where this reads a sequence otherwise than the library does, on purpose.
OURS = {key_parser.KEYPAD_BEGIN}


def read(parser: XTermParser, text: str) -> list[Message]:
    """What comes of a text that was read at once."""
    if isinstance(parser, StationParser):
        parser.came()
    return [message for character in text for message in parser.feed(character)]


@pytest.fixture(autouse=True)
def hours(monkeypatch: pytest.MonkeyPatch) -> Hours:
    """However busy the machine is, what is read at once came at once."""
    return Hours(monkeypatch)


def test_every_key_that_the_library_knows_is_read_as_it_reads_it():
    sequences = set(ANSI_SEQUENCES_KEYS) - OURS
    assert len(sequences) > 300
    ours, theirs = (
        {each: told(read(kind(), each + "x")) for each in sequences} for kind in (StationParser, XTermParser)
    )
    assert ours == theirs


@pytest.mark.parametrize(
    "sequence",
    ["\x1b[I", "\x1b[O", "\x1b[200~22\x1b[201~", "\x1b[<0;5;5M", "\x1b[<0;5;5m", "\x1b[?2026;2$y",
     "\x1b[50;;50u", "\x1b[57400u", "\x1b[27u", "\x1b[12;40R", "\x1b[1;5C"],
    ids=repr,
)  # fmt: skip
def test_mouse_focus_paste_and_modern_keys_are_read_as_the_library_reads_them(sequence: str):
    assert told(read(StationParser(), sequence + "x")) == told(read(XTermParser(), sequence + "x"))


@pytest.mark.parametrize(
    "sequence",
    [
        "\x1b[48;24;80;480;800t",
        "\x1b[48;99999;99999;100;100t",
        "\x1b[48;0;0;0;0t",
        "\x1b[?2048;1$y",
        "\x1b[?2048;2$y",
    ],
)
def test_a_size_that_a_terminal_sends_is_nothing_and_the_mouse_stays_where_it_is(sequence: str):
    mouse = "\x1b[<0;40;12M"
    (down,) = read(StationParser(), sequence + mouse)
    assert isinstance(down, events.MouseDown)
    assert (down.x, down.y) == (39, 11)


def test_no_terminal_is_asked_to_send_its_size(monkeypatch: pytest.MonkeyPatch):
    made, _, _ = driver(monkeypatch)
    written: list[str] = []
    monkeypatch.setattr(made, "write", written.append)
    made._query_in_band_window_resize()
    assert written == []


def test_a_paste_is_a_paste_whatever_is_in_it():
    assert told(read(StationParser(), "\x1b[200~22\x1b[99;99z\x1b[49;1:2u\x1b[201~2")) == [
        events.Paste,
        ("2", "2"),
    ]


def test_a_press_that_is_told_as_a_press_is_one():
    assert told(read(StationParser(), "\x1b[49;1:1;49u\x1b[49;1:2;49u\x1b[49;1:3u")) == [("1", "1")]


def test_keypad_five_without_numlock_has_its_name():
    assert told(read(StationParser(), "\x1bOE")) == [("kp_begin", None)]


def test_escape_and_then_a_key_are_two_keys(hours: Hours):
    parser = StationParser()
    found = read(parser, "\x1b")
    hours.now += 0.03
    found += read(parser, "2")
    assert told(found) == [("escape", "\x1b"), ("2", "2")]


def test_a_sequence_that_breaks_off_is_no_key(hours: Hours):
    parser = StationParser()
    assert read(parser, "\x1b[1;2") == []
    hours.now += 2 * constants.ESCAPE_DELAY
    assert list(parser.tick()) == []
    assert told(read(parser, "2")) == [("2", "2")]


def test_a_text_that_breaks_off_swallows_no_tap(hours: Hours):
    parser = StationParser()
    assert read(parser, "\x1b]11;rgb:11") == []
    hours.now += 1 / 12
    assert told(read(parser, "2")) == [("2", "2")]


def test_a_paste_that_breaks_off_is_told_and_swallows_no_tap(hours: Hours):
    parser = StationParser()
    assert read(parser, "\x1b[200~22222") == []
    hours.now += 1 / 12
    paste, tap = read(parser, "2")
    assert isinstance(paste, events.Paste)
    assert paste.text == "22222"
    assert told([tap]) == [("2", "2")]


@pytest.mark.parametrize("pasted", ["", "22222", "22\x1b", "22\x1b[20", "22\x1b[200~2", "\x1b]11;rgb"])
def test_a_paste_that_stays_away_is_told_in_time_and_escape_is_escape(hours: Hours, pasted: str):
    parser = StationParser()
    assert read(parser, "\x1b[200~" + pasted) == []
    hours.now += 2 * key_parser.BROKEN_OFF_SECONDS
    (paste,) = parser.tick()
    assert isinstance(paste, events.Paste)
    assert paste.text == pasted
    hours.now += 1
    found = read(parser, "\x1b")
    hours.now += 2 * constants.ESCAPE_DELAY
    assert told([*found, *parser.tick(), *read(parser, "2")]) == [("escape", "\x1b"), ("2", "2")]


def test_the_end_of_a_paste_that_had_broken_off_is_no_key(hours: Hours):
    parser = StationParser()
    read(parser, "\x1b[200~2")
    hours.now += 1
    list(parser.tick())
    assert told(read(parser, "\x1b[201~2")) == [("2", "2")]


@pytest.mark.parametrize(
    "text", ["\x1b[200~22\x1b[201~", "\x1b]11;rgb:11/11/11\a", "\x1b2", "\x1bOP", "\x1b[24;5~"]
)
def test_what_was_read_at_once_came_at_once_however_slowly_it_is_taken(hours: Hours, text: str):
    at_once, slowly = StationParser(), StationParser()
    expected = told(read(at_once, text + "3"))
    slowly.came()
    found: list[Message] = []
    for character in text + "3":
        found += slowly.feed(character)
        hours.now += 1
    assert told(found) == expected


def test_no_more_of_a_paste_is_kept_than_need_be():
    (paste,) = read(StationParser(), "\x1b[200~" + "2" * (key_parser.PASTE_CHARACTERS + 10) + "\x1b[201~")
    assert isinstance(paste, events.Paste)
    assert len(paste.text) <= key_parser.PASTE_CHARACTERS


def test_escapes_in_a_paste_are_no_keys():
    assert told(read(StationParser(), "\x1b[200~2\x1b\x1b2\x1b[9\x1b[201~2")) == [events.Paste, ("2", "2")]


@given(st.text(alphabet=st.one_of(st.sampled_from("\x1b[]OP?;:<0123456789uRtMm~\x07\\"), st.characters())))
def test_no_text_ends_the_reading_of_keys(text: str):
    with pytest.MonkeyPatch.context() as monkeypatch:
        made, _, messages = driver(monkeypatch)
        parser = StationParser()
        for character in text:
            parser = made._feed(parser, character)
        messages.clear()
        hours = Hours(monkeypatch)
        hours.now += 1e6  # after a while, a key is a key again, whatever came
        for message in parser.tick():
            made.process_message(message)
        messages.clear()
        parser.came()
        made._feed(parser, "2")
        assert ("2", "2") in told(messages)


def test_a_failing_reader_of_keys_is_no_success(monkeypatch: pytest.MonkeyPatch):
    made, station, _ = driver(monkeypatch)
    monkeypatch.setattr(made, "run_input_thread", lambda: 1 / 0)
    made._run_input_thread()
    ((fail,),) = station.calls
    with pytest.raises(RuntimeError, match="no keys are read any more") as raised:
        fail()  # in the event loop: the library ends the program
    assert isinstance(raised.value.__cause__, ZeroDivisionError)


class Gone(io.StringIO):
    """A terminal that is gone."""

    def write(self, text: str) -> int:
        raise OSError

    def flush(self) -> None:
        raise OSError


def test_what_is_written_to_a_terminal_that_is_gone_is_lost():
    lost = LosableFile(Gone())
    assert lost.write("text") == 4
    lost.flush()


# The library's faults that terminal.py and key_parser.py answer. Where one of these fails, the library has
# changed: see whether its answer can go.


def test_the_library_still_fails_on_a_keys_event():  # issue 6417
    with pytest.raises(ValueError, match="invalid literal"):
        read(XTermParser(), "\x1b[49;1:2u")


def test_the_library_still_waits_for_the_end_of_a_paste_for_ever(hours: Hours):
    parser = XTermParser()
    read(parser, "\x1b[200~2")
    hours.now += 1e6
    assert [*parser.tick(), *read(parser, "2")] == []


def test_the_library_still_gives_a_forwarded_click_another_time():
    down = events.MouseDown(None, 1, 1, 0, 0, 1, False, False, False)
    down.time = 1.0
    assert down._apply_offset(0, 0).time != down.time


def test_the_library_still_gives_unknown_sequences_out_as_keys():  # issue 6573
    assert ("9", "9") in told(read(XTermParser(), "\x1b[99;99z" + "\x1b"))


def test_the_library_still_reads_bytes_strictly():  # issue 6456
    assert 'getincrementaldecoder("utf-8")()' in inspect.getsource(LinuxDriver.run_input_thread)


def test_the_library_still_takes_the_terminal_twice():
    assert "_must_signal_resume" not in inspect.getsource(LinuxDriver._sigcont_application)


def test_the_library_still_writes_to_the_file_of_its_driver():
    assert "WriterThread(self._file)" in inspect.getsource(LinuxDriver.start_application_mode)
