"""The demo shop: invented cars from the example sheets, to try everything on."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from carwright.errors import CarwrightError
from carwright.history import read_sheet
from carwright.inspection import words_of
from carwright.shop.address import Address, own_place
from carwright.shop.opening import open_shop
from carwright.shop.sheets import Given
from carwright.shop.shop import Shop
from carwright.tables import shipped

DEMO = "ho-covered-hopper"
"""The sheet the demo inspects."""
DEMO_TITLE = "Covered hopper, two-bay, Tansy River 40418"
"""Its car, which the demo shop opens on."""
NO_CARS = ("club-", "stock-")
"""How the names of example files begin that are no sheets."""


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


def example_sheets() -> list[Path]:
    """Every example sheet, in order; the files they name lie beside them."""
    return [path for path in sorted(examples_folder().glob("*.toml")) if not path.name.startswith(NO_CARS)]


def demo_place() -> Address:
    """Where the demo shop is: beside a person's own, so that neither is ever taken for the other."""
    return Address(path=own_place().with_name("demo.db"))


def open_demo(address: Address | None = None, *, whole: bool = True) -> Shop:
    """The demo shop, made where there is none; one that is there stays as people left it.

    Parameters
    ----------
    address : Address, optional
        Where; :func:`demo_place` where omitted.
    whole : bool
        Whether all of its cars are made now; where not, :func:`fill_demo` makes the others.

    Raises
    ------
    ShopError
        When it cannot be made.
    """
    shop = open_shop(address or demo_place(), create=True)
    try:
        if not shop.subjects():
            _add(shop, [path for path in example_sheets() if path.stem == DEMO])
        if whole:
            fill_demo(shop)
    except BaseException:
        shop.close()
        raise
    return shop


def fill_demo(shop: Shop) -> None:
    """Make the cars a demo shop does not have yet; what it has stays as it is."""
    sheets = example_sheets()
    if len(shop.subjects()) < len(sheets):
        _add(shop, sheets)


def _add(shop: Shop, sheets: Sequence[Path]) -> None:
    words = words_of(shipped())
    shop.add([Given(read_sheet(path, words), path.parent) for path in sheets], who="demo, invented")
