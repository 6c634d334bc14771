"""The docs cannot lag: shown outputs are as they are now, and nothing a person may write is undocumented."""

from __future__ import annotations

import importlib
import re
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest

import carwright as cw
from carwright.cli import COMMANDS, verbs
from carwright.cli.shop_command import VERBS
from carwright.history import ENTRY_KINDS
from carwright.history.entries import ENTRY_MODELS, Car, Geometry, InstrumentRow, Part, Pocket, PriorRow, Prototype
from carwright.history.faults import known_keys
from carwright.inspection import words_of
from carwright.publish.drawing.kinds import KINDS
from carwright.tables import shipped
from carwright.tables.model import CONFIDENCES, FORCES, STATUSES
from carwright.verdict import STATUSES as CAR_STATUSES
from carwright.verdict.due_rules import read_due_rules

PAGES = {path.name: path.read_text("utf-8") for path in (Path("README.md"), *sorted(Path("docs").glob("*.md")))}
EVERYTHING = "\n".join(PAGES.values())


def test_outputs_shown_are_as_they_are_now() -> None:
    result = subprocess.run([sys.executable, "tools/docs.py", "--check"], capture_output=True, text=True, check=False)
    assert result.returncode == 0, f"{result.stdout}: run make docs"


def test_every_command_and_option_is_documented() -> None:
    guide = PAGES["guide.md"]
    for name in COMMANDS:
        assert f"`carwright {name}" in guide
        command = verbs.get_command(click.Context(verbs), name)
        assert command is not None
        for parameter in command.params:
            for option in parameter.opts:
                assert option.startswith("-") is False or option in guide, f"{name} {option}"


def test_every_verb_of_the_shop_and_its_options_are_documented() -> None:
    page = PAGES["shop.md"]
    for name, verb in VERBS.items():
        assert f"carwright shop {name}" in page, name
        command = getattr(importlib.import_module(verb.module), verb.command)
        assert command.name == name
        for parameter in command.params:
            for option in parameter.opts:
                assert option.startswith("-") is False or option in page, f"shop {name} {option}"


@pytest.mark.parametrize(
    "model", [Car, Geometry, InstrumentRow, Part, Pocket, PriorRow, Prototype, *ENTRY_MODELS.values()]
)
def test_every_key_of_a_sheet_is_documented(model: type[Car]) -> None:
    page = PAGES["sheet.md"]
    for key in known_keys(model):
        assert f"`{key}`" in page or f"`{key} =" in page or f".{key}]" in page, f"{model.__name__}.{key}"


def test_every_kind_of_entry_characteristic_and_outline_is_documented() -> None:
    page = PAGES["sheet.md"]
    for kind in ENTRY_KINDS:
        assert f"`{kind}`" in page
    for what in words_of(shipped()).characteristics:
        assert f"  {what} " in page
    for outline in KINDS:
        assert outline in " ".join(page.split())


def test_every_table_rule_set_force_and_status_is_documented() -> None:
    page = PAGES["rules.md"]
    for name in (*shipped().ids(), *shipped().rule_sets(), *FORCES, *STATUSES, *CONFIDENCES):
        assert name in page, name
    for status in CAR_STATUSES:
        assert status in PAGES["guide.md"]


def test_every_link_leads_somewhere() -> None:
    for name, text in PAGES.items():
        folder = Path() if name == "README.md" else Path("docs")
        for target in re.findall(r"\]\(([^)#]+)\)", text):
            assert (folder / target).exists(), f"{name}: {target}"


def test_the_sheets_shown_are_good_ones() -> None:
    shown = [block for block in re.findall(r"```toml\n(.*?)```", EVERYTHING, re.DOTALL) if "carwright-sheet/1" in block]
    assert shown
    for block in shown:
        cw.inspect(cw.read_sheet_text(block))


def test_the_python_shown_runs(capsys: pytest.CaptureFixture[str]) -> None:
    [block] = re.findall(r"```python\n(.*?)```", PAGES["guide.md"], re.DOTALL)
    exec(compile(block, "guide.md", "exec"), {})  # noqa: S102 - it is what the guide tells people to run
    assert "in service" in capsys.readouterr().out


def test_the_shop_shown_in_python_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    [block] = re.findall(r"```python\n(.*?)```", PAGES["shop.md"], re.DOTALL)
    shutil.copyfile("examples/ho-covered-hopper.toml", tmp_path / "hopper.toml")
    monkeypatch.chdir(tmp_path)
    found: dict[str, cw.Sheet] = {}
    exec(compile(block, "shop.md", "exec"), found)  # noqa: S102 - it is what the page tells people to run
    assert found["sheet"].entries[-1].note == "Undone: reading coupler.height A"


def test_the_due_rules_shown_can_be_read() -> None:
    [block] = [each for each in re.findall(r"```toml\n(.*?)```", EVERYTHING, re.DOTALL) if "carwright-due/1" in each]
    rules = read_due_rules(block, "docs", cw.words_of(shipped()))
    assert [(each.after, each.runs) for each in rules.rules] == [("transport", 0), ("running", 200)]


def test_the_clubs_rules_shown_can_be_read(tmp_path: Path) -> None:
    [block] = [each for each in re.findall(r"```toml\n(.*?)```", EVERYTHING, re.DOTALL) if "carwright-rules/1" in each]
    (tmp_path / "club.toml").write_text(block, "utf-8")
    head = 'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "HO"\ncoupler = "knuckle"\n'
    text = head + 'rules = ["nmra", "bench", "club.toml"]\n[car.geometry]\nbody_length = "5 in"\n'
    (tmp_path / "car.toml").write_text(text, "utf-8")
    clauses = {finding.clause for finding in cw.inspect(cw.read_sheet(tmp_path / "car.toml")).findings}
    assert {"sedge/practice/HO/coupler.height", "sedge/weights/HO/weight.total"} <= clauses


def test_tests_named_in_the_validation_book_exist() -> None:
    for path in re.findall(r"`(tests/[^`]+)`", PAGES["validation.md"]):
        assert Path(path).exists(), path
