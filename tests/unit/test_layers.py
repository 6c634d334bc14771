"""The house plan holds: each layer imports only lower ones, and rooms of one layer do not import one another."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import carwright

ROOT = Path(carwright.__file__).parent
LAYERS = {
    "errors": -2, "units": -1, "dates": -1, "textfile": -1, "files": -1, "words": 0,  # the ground floor, in this order
    "tables": 1, "history": 1,
    "measure": 2,
    "judge": 3,
    "explain": 4, "running": 4, "prototype": 4, "fleet": 4,
    "verdict": 5,
    "inspection": 6,
    "publish": 7, "shop": 7,
    "web": 8,
    "cli": 9,  # whose verb `serve` runs the web
}  # fmt: skip


def imports(path: Path) -> set[str]:
    """Rooms of carwright a module imports, type-checking imports included."""
    rooms = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("carwright."):
            rooms.add((node.module or "").split(".")[1])
        elif isinstance(node, ast.Import):
            rooms |= {alias.name.split(".")[1] for alias in node.names if alias.name.startswith("carwright.")}
        assert not (isinstance(node, ast.ImportFrom) and node.level), f"{path}: write imports from carwright on"
    return rooms


def test_every_room_is_on_the_plan() -> None:
    rooms = {path.name.removesuffix(".py") for path in ROOT.iterdir() if not path.name.startswith("__")}
    assert rooms <= set(LAYERS)
    assert {"tables", "history", "measure", "judge", "verdict", "publish", "cli"} <= rooms


def test_layers_import_only_lower_numbers() -> None:
    seen = 0
    for path in ROOT.rglob("*.py"):
        room = path.relative_to(ROOT).parts[0].removesuffix(".py")
        if room.startswith("__"):
            continue
        for other in imports(path) - {room}:
            seen += 1
            assert LAYERS[other] < LAYERS[room], f"{path.relative_to(ROOT)} imports {other}"
    assert seen > 50


def test_the_package_never_reads_outside_itself() -> None:
    for path in ROOT.rglob("*"):
        if path.suffix in {".py", ".toml", ".html", ".css"}:
            assert "shared/" not in path.read_text("utf-8"), path


HEAVY = {
    "numpy", "scipy", "PIL", "rich", "tomli_w", "jinja2", "sqlalchemy", "alembic", "platformdirs", "fastapi",
    "starlette", "uvicorn", "cryptography", "segno",
}  # fmt: skip
AT_HOME = {
    "publish": {"jinja2", "segno"},
    "shop": {"sqlalchemy", "alembic"},
    "web": {"cryptography", "fastapi", "starlette", "uvicorn", "jinja2", "segno", "tomli_w"},
}
"""Libraries a room is built on."""
ARRAYS = {"explain", "measure", "prototype"}
"""Rooms whose modules may import NumPy at the top, as long as nothing imports those modules before it needs them."""


def test_heavy_libraries_are_imported_only_where_used() -> None:
    for path in ROOT.rglob("*.py"):
        room = path.relative_to(ROOT).parts[0]
        tree = ast.parse(path.read_text("utf-8"))
        for node in tree.body:
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name.split(".")[0] for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [(node.module or "").split(".")[0]]
            barred = HEAVY - AT_HOME.get(room, set()) - ({"numpy"} if room in ARRAYS else set())
            assert not set(names) & barred, f"{path} imports {names} at the top"


@pytest.mark.parametrize(
    "does",
    [
        "from carwright.cli import verbs",
        'cw.inspect(cw.read_sheet_text(\'format = "carwright-sheet/1"\\n[car]\\ntitle = "x"\\nscale = "HO"\\n\'))',
    ],
)
def test_a_sheet_without_couplers_loads_no_heavy_library(does: str) -> None:
    program = f"import sys\nimport carwright as cw\n{does}\nprint(sorted(set(sys.modules) & {HEAVY!r}))"
    result = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "[]"
