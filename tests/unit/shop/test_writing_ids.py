"""Ids put into a sheet: nothing else of it changes, however it is written, or it is refused whole."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carwright.shop.writing_ids import IdsError, with_ids

CAR = "11111111-2222-4333-8444-555555555555"
ENTRIES = [f"aaaaaaaa-2222-4333-8444-{number:012d}" for number in range(8)]
HEAD = 'format = "carwright-sheet/1"\n[car]\ntitle = "T"\nscale = "HO"\n'
NOTE = '[[entry]]\nkind = "note"\nnote = "x"\n'


def put(text: str) -> str:
    made: str = with_ids(text, CAR, ENTRIES, file="car.toml")
    return made


def without_ids(text: str) -> str:
    ours = {f'id = "{each}"' for each in (CAR, *ENTRIES)}
    return "".join(line for line in text.splitlines(keepends=True) if line.rstrip("\r\n") not in ours)


def ids_of(text: str) -> list[str]:
    document: dict[str, Any] = tomllib.loads(text.removeprefix("\ufeff"))
    return [document["car"]["id"], *(row["id"] for row in document.get("entry", []))]


@pytest.mark.parametrize(
    "text",
    [
        HEAD,
        HEAD + NOTE + NOTE,
        (HEAD + NOTE).replace("\n", "\r\n"),
        "\ufeff" + HEAD + NOTE,
        (HEAD + NOTE).rstrip("\n"),
        NOTE + "[car]\ntitle = 'T'\nscale = 'HO'",
        "[car.geometry]\nbody_length = '5 in'\n[car]\ntitle = 'T'\n" + NOTE,
        "  [ car ]  # the car, its id = here\ntitle = 'T'\n\t[[ entry ]] # one [[entry]]\nkind = 'note'\n",
        "# [[entry]]\n#[car]\n" + HEAD + "# [[entry]]\n" + NOTE,
        HEAD + NOTE + '[[entry]]\nkind = "note"\nnote = """\n[[entry]]\n[car]\n\'\'\'\n"""\n' + NOTE,
        HEAD + NOTE + "[[entry]]\nkind = 'note'\nnote = '''\n[[entry]]\n\"\"\"\n[car]\n'''\n" + NOTE,
        HEAD + '[[entry]]\nvalues = [\n  "9.9 mm", # [[entry]]\n  "9.8 mm",\n]\n' + NOTE,
    ],
    ids=[
        "no entries", "two entries", "carriage returns", "byte order mark", "no last line end", "car last",
        "geometry first", "spaces and comments", "commented headers", "headers in a text", "headers in a raw text",
        "array over lines",
    ],
)  # fmt: skip
def test_only_lines_with_ids_are_added(text: str) -> None:
    made = put(text)
    found = ids_of(made)
    assert found == [CAR, *ENTRIES[: len(found) - 1]]
    assert without_ids(made) == text
    assert put(made) == made


def test_ids_that_are_there_stay() -> None:
    text = HEAD.replace("[car]", '[car]\nid = "99999999-2222-4333-8444-555555555555"')
    text += NOTE + NOTE.replace("kind", 'id = "bbbbbbbb-2222-4333-8444-555555555555"\nkind') + NOTE
    assert ids_of(put(text)) == [
        "99999999-2222-4333-8444-555555555555", ENTRIES[0], "bbbbbbbb-2222-4333-8444-555555555555", ENTRIES[2],
    ]  # fmt: skip


def test_a_line_end_of_a_mixed_file_is_that_of_its_header() -> None:
    made = put(HEAD + NOTE.replace("\n", "\r\n"))
    assert f'[car]\nid = "{CAR}"\ntitle' in made
    assert f'[[entry]]\r\nid = "{ENTRIES[0]}"\r\nkind' in made


@pytest.mark.parametrize(
    "text",
    [
        'car = {title = "T", scale = "HO"}\n',
        'car.title = "T"\ncar.scale = "HO"\n' + NOTE,
        HEAD.replace("[car]", '["car"]') + NOTE,
        HEAD + NOTE.replace("[[entry]]", '[["entry"]]'),
        'entry = [{kind = "note", note = "x"}]\n' + HEAD,
        "[car.geometry]\nbody_length = '5 in'\n",
    ],
    ids=["inline car", "dotted car", "quoted car", "quoted entry", "inline entries", "car only by its geometry"],
)
def test_what_has_no_line_for_an_id_is_refused_with_the_name_of_the_file(text: str) -> None:
    with pytest.raises(IdsError, match=r"^car\.toml: ids can be put in only where the car stands under a line \[car\]"):
        put(text)


@pytest.mark.parametrize(
    "text",
    [
        HEAD + NOTE.replace("[[entry]]", '[[entry]] # 3 """ of tape') + NOTE,
        HEAD.replace('"HO"', "\"HO\" # the '''old''' one, or '''not") + NOTE,
        HEAD + NOTE.replace('"x"', '"""it\'\'\'s"""') + NOTE,
    ],
    ids=["marks in a comment of a header", "marks in a comment of a key", "other marks within a text"],
)
def test_quoting_marks_in_comments_and_texts_stop_no_ids(text: str) -> None:
    made = put(text)
    assert without_ids(made) == text


PIECES = st.sampled_from(
    [
        NOTE, "\n", "# a comment\n", "# [[entry]]\n", "[[entry]]\n", "[[entry]]\nvalues = ['1', # [car]\n'2']\n",
        '[[entry]]\nnote = """\n[[entry]]\n"""\n', "[[entry]]\nnote = '''a\n[car]\n\n'''\n",
        "[[entry]]\r\nwhat = 'x'\r\n",
        "[[entry]]\nid = 'cccccccc-2222-4333-8444-555555555555'\n", "[[instrument]]\nname = 'entry'\n",
        "[[entry]]\nnote = '''one line'''\n", "[[entry]]\nnote = '''\n# \"\"\"\n'''\n",
    ]
)  # fmt: skip


@given(st.lists(PIECES, max_size=8))
@settings(max_examples=150)
def test_any_sheet_gets_its_ids_and_nothing_else(pieces: list[str]) -> None:
    text = HEAD + "".join(pieces)
    made = put(text)
    before, after = tomllib.loads(text), tomllib.loads(made)
    assert after["car"].pop("id") == CAR
    before["car"].pop("id", None)
    for at, row in enumerate(after.get("entry", [])):
        assert row.pop("id") == before["entry"][at].pop("id", ENTRIES[at])
    assert after == before
    assert without_ids(made) == text
