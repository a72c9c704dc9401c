"""What travels between player, page and browser: a line each, and nothing else is taken."""

from __future__ import annotations

import msgspec
import pytest

from companion.arrange.chords.comping_style import CompingStyle, UsedShape
from companion.page.outgoing import (
    Begun,
    Incoming,
    Notes,
    OnTheStand,
    Over,
    PageOpened,
    read_from_page,
    read_incoming,
    read_on_the_stand,
    read_outgoing,
    to_line,
)

BEGUN = Begun(number=3, title="Ferry", you=("melody",), parts=("bass",), wishes=("stop",))


@pytest.mark.parametrize("message", [BEGUN, Over("gone"), Notes(((1.25, 0x90, 60, 80),))])
def test_what_is_told_reads_back_equal(message: msgspec.Struct) -> None:
    assert read_outgoing(to_line(message)) == message


def test_wishes_and_the_address_of_the_page_read_back_equal() -> None:
    for message in (Incoming("last time"), PageOpened("http://127.0.0.1:1/", code="123456")):
        assert read_from_page(to_line(message)) == message
    assert read_incoming(b'{"wish": "again"}') == Incoming("again")
    stand = OnTheStand(BEGUN, "format = 1")
    assert read_on_the_stand(to_line(stand)) == stand


@pytest.mark.parametrize("line", [b"", b"null", b'{"kind": "beat"}', b'{"kind": "shout"}', b"{" * 5000])
def test_a_line_that_is_no_message_is_refused(line: bytes) -> None:
    with pytest.raises(msgspec.MsgspecError):
        read_outgoing(line)


def test_what_isnt_said_of_what_is_on_the_stand_is_as_the_chart_has_it() -> None:
    said = b'{"begun": {"kind": "begun", "number": 1, "title": "Ferry", "you": [], "parts": []}, "chart": "format = 1"}'
    begun = Begun(number=1, title="Ferry", you=(), parts=(), ordered=False, demo=False, wishes=("stop",))
    assert read_on_the_stand(said) == OnTheStand(begun, "format = 1", treatment=None, seed=0, style=None, treated=())


def test_a_wish_that_there_is_not_is_refused() -> None:
    with pytest.raises(msgspec.ValidationError):
        read_incoming(b'{"wish": "louder"}')


def test_the_page_draws_chords_by_the_habits_that_they_are_played_by() -> None:
    style = CompingStyle((UsedShape("m7", "b3 5 b7 9", 0, 0.9, 60, 72, 20, 4),), (), 4)
    on_it = OnTheStand(BEGUN, "format = 1", style=style)
    assert read_on_the_stand(to_line(on_it)) == on_it
