"""The evidence file: read as a sheet that holds only evidence, its faults in its own words."""

from __future__ import annotations

from pathlib import Path

import pytest

from carwright.errors import SheetError
from carwright.history.evidence_file import KEYS, read_evidence_file, read_evidence_text
from carwright.inspection import words_of
from carwright.tables import shipped

WORDS = words_of(shipped())
HEAD = 'format = "carwright-evidence/1"\n'


def test_it_reads_as_a_sheet_of_evidence() -> None:
    text = HEAD + (
        'title = "Box"\nscale = "N"\ntype = "boxcar"\nwanted = "1957"\nuse = "home road"\nrules = ["own.toml"]\n'
        '[prototype]\nowner = "Tansy River"\n'
        '[[evidence]]\nof = "model"\nsource = "model"\nseen = [{ feature = "brake.K" }]\n'
    )
    sheet, scaled = read_evidence_text(text, WORDS)
    assert scaled
    assert (sheet.car.title, sheet.car.scale, sheet.history.type) == ("Box", "N", "boxcar")
    told = sheet.history.portrayed
    assert (told.wanted, told.use, told.dated) == ("1957", "home road", ("own.toml",))
    assert [(each.what, each.value) for each in told.statements] == [("owner", "Tansy River")]
    assert [each.of for each in sheet.history.evidence] == ["model"]


def test_without_a_scale_nothing_is_said_in_model_sizes() -> None:
    assert read_evidence_text(HEAD, WORDS)[1] is False


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            HEAD + "[[evidence]]\nsource = 'north yard'\nclaim = 'x'\n",
            "e.toml:4: evidence 1 (north yard), claim: cannot read 'x'",
        ),
        (HEAD + "[[evidence]]\nclaim = '1957'\n", "e.toml:2: evidence 1: needs source"),
        (HEAD + "[[evidence]]\nsource = 'x'\ncolour = 'red'\n", "evidence 1 (x), colour: unknown key 'colour'"),
        (HEAD + "[prototype]\nbuilt = 'x'\n", "e.toml:3: prototype, built: cannot read 'x'"),
        (HEAD + "[prototype]\nbilt = '1950'\n", "unknown key 'bilt'; did you mean 'built'?"),
        (HEAD + "prototype = 3\n", "prototype: 3 is not a table"),
        (HEAD + "evidence = 3\n", "evidence: write it as [[evidence]], with two brackets"),
        (HEAD + "scale = 'HHO'\n", "unknown scale 'HHO'; did you mean 'HO'"),
        (HEAD + "[[evidence]]\nsource = \n", "not TOML"),
        ("format = 'carwright-sheet/1'\n", "expected format = 'carwright-evidence/1', got 'carwright-sheet/1'"),
    ],
)
def test_faults_are_in_its_own_words(text: str, says: str) -> None:
    with pytest.raises(SheetError) as caught:
        read_evidence_text(text, WORDS, file="e.toml")
    assert says in str(caught.value)
    assert "entry" not in str(caught.value)


def test_files_that_cannot_be_read_say_so(tmp_path: Path) -> None:
    with pytest.raises(SheetError, match="cannot be read: No such file"):
        read_evidence_file(tmp_path / "none.toml", WORDS)
    path = tmp_path / "odd.toml"
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(SheetError, match="not UTF-8"):
        read_evidence_file(path, WORDS)
    path.write_bytes(b"#" * 1_000_001)
    with pytest.raises(SheetError, match="larger than 1000000 bytes"):
        read_evidence_file(path, WORDS)


def test_every_key_is_documented() -> None:
    page = Path("docs/sheet.md").read_text("utf-8").partition("## An evidence file")[2].partition("## A roster")[0]
    for key in KEYS:
        assert f"`{key}" in page or f"[{key}]" in page, key
