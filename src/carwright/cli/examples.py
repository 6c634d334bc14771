"""Where the invented example sheets lie: in the installed package, or in the folder a checkout keeps them in."""

from __future__ import annotations

from pathlib import Path

from carwright.errors import CarwrightError

DEMO = "ho-covered-hopper"
"""The sheet the demo inspects."""


class ExamplesMissingError(CarwrightError):
    """The example sheets were not installed."""

    def __init__(self) -> None:
        super().__init__("the example sheets are missing from this installation: install carwright again")


def examples_folder() -> Path:
    """Folder of the example sheets.

    Raises
    ------
    ExamplesMissingError
        "the example sheets are missing from this installation: install carwright again"
    """
    package = Path(__file__).resolve().parent.parent
    for folder in (package.parent.parent / "examples", package / "examples"):
        if (folder / f"{DEMO}.toml").is_file():
            return folder
    raise ExamplesMissingError
