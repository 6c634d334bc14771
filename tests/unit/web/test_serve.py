"""Running the app: where it listens, what it prints for other devices, and which names it answers to."""

from __future__ import annotations

import socket

import pytest
from PIL import Image

from carwright.web.door import Door, house_addresses
from carwright.web.guard.pairing import Keys
from carwright.web.serve import ServeError, listen, pairing_words

KEYS = Keys("k" * 40)


def test_a_port_that_is_taken_is_said_to_be() -> None:
    first = listen("127.0.0.1", 0)
    try:
        with pytest.raises(ServeError, match=r"port \d+ on 127\.0\.0\.1 is taken or not allowed; name another"):
            listen("127.0.0.1", first.getsockname()[1])
    finally:
        first.close()


def test_small_answers_are_sent_at_once() -> None:
    heard = listen("127.0.0.1", 0)
    with socket.create_connection(heard.getsockname()) as asked:
        found, _ = heard.accept()
        assert found.proto == socket.IPPROTO_TCP  # by which asyncio knows that it may set TCP_NODELAY
        found.close()
        assert asked.getpeername() == heard.getsockname()
    heard.close()


def test_the_code_printed_leads_a_camera_to_the_pairing_page() -> None:
    """The blocks are drawn as a picture and compared with the code itself, module by module."""
    door = Door(KEYS, 8300, ("192.0.2.5",), code="ABCDEFGH23")
    words = pairing_words(door)
    rows = [line for line in words.splitlines() if set(line) <= set("█▀▄ ") and line]
    light = [[sign in pair for sign in line] for line in rows for pair in ("█▀", "█▄")]
    picture = Image.new("1", (len(light[0]), len(light)))
    picture.putdata([int(each) for row in light for each in row])
    import segno  # noqa: PLC0415 - the other end of the same code

    wanted = segno.make("http://192.0.2.5:8300/pair?code=ABCDEFGH23", error="m")
    for y, row in enumerate(wanted.matrix_iter(border=2)):
        for x, dark in enumerate(row):
            assert bool(picture.getpixel((x, y))) != bool(dark)
    assert "http://192.0.2.5:8300/pair with the code ABCDEFGH23" in words
    assert "unencrypted" in words
    assert "unencrypted" not in pairing_words(Door(KEYS, 8300, ("192.0.2.5",), secure=True))


def test_without_a_network_it_says_so() -> None:
    assert "no address on a network" in pairing_words(Door(KEYS))


def test_addresses_of_the_house_are_no_loopback() -> None:
    assert not any(each.startswith("127.") or not each for each in house_addresses())


def test_addresses_are_written_as_they_must_be() -> None:
    assert Door(KEYS, 8300).url() == "http://127.0.0.1:8300"
    assert Door(KEYS, 8300, secure=True).url("::1") == "https://[::1]:8300"
    assert {"localhost", "192.0.2.5"} <= Door(KEYS, 8300, ("192.0.2.5",)).names
