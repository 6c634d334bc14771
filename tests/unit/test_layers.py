"""The house plan holds: each layer imports only lower ones, and rooms of one layer do not import one another."""

from __future__ import annotations

import ast
from pathlib import Path

import carwright

ROOT = Path(carwright.__file__).parent
LAYERS = {
    "errors": -2, "units": -1, "words": 0,  # the ground floor, in this order
    "tables": 1, "history": 1,
    "measure": 2,
    "judge": 3,
    "explain": 4, "running": 4, "prototype": 4, "fleet": 4,
    "verdict": 5,
    "inspection": 6,
    "publish": 7, "shop": 7,
    "web": 8, "cli": 8,
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


def test_heavy_libraries_are_imported_only_where_used() -> None:
    for path in ROOT.rglob("*.py"):
        tree = ast.parse(path.read_text("utf-8"))
        for node in tree.body:
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name.split(".")[0] for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [(node.module or "").split(".")[0]]
            assert not set(names) & {"numpy", "scipy", "PIL", "rich", "tomli_w"}, f"{path} imports {names} at the top"
