"""Keys of sessions: kept for their owner alone, over a restart, and made anew where they are broken."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from webapp import KEYS

from carwright.web.door import Door
from carwright.web.guard.pairing import Keys, keys_in

GOOD = "a-good-secret-of-some-length-0123456789"


def _file(folder: Path, content: bytes | str) -> Path:
    path = folder / "web-key.json"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def test_keys_are_made_once_and_kept(tmp_path: Path) -> None:
    made = keys_in(tmp_path / "state" / "deep")
    assert len(made.secret) >= 40
    assert made.round == 0
    assert keys_in(tmp_path / "state" / "deep") == made
    assert keys_in(tmp_path / "other") != made


def test_a_key_file_is_read_by_its_owner_alone(tmp_path: Path) -> None:
    keys_in(tmp_path)
    path = tmp_path / "web-key.json"
    assert path.stat().st_mode & 0o777 == 0o600
    keys_in(tmp_path, let_go=True)
    assert path.stat().st_mode & 0o777 == 0o600
    assert [each.name for each in tmp_path.iterdir()] == ["web-key.json"]


def test_a_key_file_made_anew_over_an_open_one_is_closed(tmp_path: Path) -> None:
    path = _file(tmp_path, "broken")
    path.chmod(0o666)
    keys_in(tmp_path)
    assert path.stat().st_mode & 0o777 == 0o600


def test_a_key_file_others_can_read_is_closed_when_it_is_used(tmp_path: Path) -> None:
    path = _file(tmp_path, json.dumps({"secret": GOOD, "round": 0}))
    path.chmod(0o644)
    keys_in(tmp_path)
    assert path.stat().st_mode & 0o077 == 0


def test_letting_go_keeps_the_secret_and_changes_the_mark(tmp_path: Path) -> None:
    made = keys_in(tmp_path)
    later = keys_in(tmp_path, let_go=True)
    assert (later.secret, later.round) == (made.secret, 1)
    assert later.mark != made.mark
    assert later.token("a") == made.token("a")
    assert keys_in(tmp_path) == later
    assert keys_in(tmp_path, let_go=True).round == 2


def test_a_door_lets_go_with_and_without_a_folder(tmp_path: Path) -> None:
    kept = Door(keys_in(tmp_path), folder=tmp_path)
    loose = Door(KEYS)
    for door in (kept, loose):
        code, mark = door.code, door.keys.mark
        door.let_all_go()
        assert door.code != code
        assert door.keys.mark != mark
    assert keys_in(tmp_path) == kept.keys


def test_neither_mark_nor_token_tells_the_secret() -> None:
    assert KEYS.secret not in KEYS.mark + KEYS.token("a")
    assert Keys(KEYS.secret, 1).mark != KEYS.mark
    assert Keys(f"{KEYS.secret}x").mark != KEYS.mark


@pytest.mark.parametrize(
    "content",
    [
        b"", b"null", b"[]", b"{}", b"\xff\xfe", b"{", b'"text"', b"5", b'{"secret": "short"}', b'{"secret": null}',
        b'{"round": 1}', b'{"secret": "a-good-secret-0123456789", "round": "x"}',
        b'{"secret": "a-good-secret-0123456789", "round": null}',
        b'{"secret": "a-good-secret-0123456789", "round": NaN}',
        b'{"secret": "a-good-secret-0123456789", "round": 1e999}',
        b"[" * 100_000,
        b'{"secret": "\\ud800-good-secret-0123456789"}',
        b'{"secret": [1, 2, 3, 4, 5, 6]}',
        b'{"secret": {"a": "good-secret-0123456789"}}',
    ],
)  # fmt: skip
def test_a_broken_key_file_is_replaced(tmp_path: Path, content: bytes) -> None:
    path = _file(tmp_path, content)
    made = keys_in(tmp_path)
    assert json.loads(path.read_bytes()) == {"secret": made.secret, "round": made.round}
    assert made.round == 0
    assert len(made.secret) >= 40
    assert made.token("a")
    assert keys_in(tmp_path) == made
