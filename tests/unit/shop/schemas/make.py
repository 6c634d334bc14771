"""Makes a shop as a released carwright left it: ``python tests/unit/shop/schemas/make.py REVISION FILE.db``.

Run once for each revision, when it is released; the file is kept here for good and never made again.
"""

from __future__ import annotations

import sys
from pathlib import Path

import carwright as cw
from carwright.shop.adding import addition_of, car_id
from carwright.shop.address import Address
from carwright.shop.batch import Batch
from carwright.shop.blobs import keep
from carwright.shop.canonical import named_id
from carwright.shop.engine import engine_of, writing
from carwright.shop.migrate import upgrade
from carwright.shop.naming import files_named, kept_id
from carwright.shop.records import CAR, COLLECTION, KEPT
from carwright.shop.schema import HEAD
from carwright.shop.standing import FILE_KEPT, NAME, refresh
from carwright.shop.store import held

ROOT = Path(__file__).parents[4]
SHEETS = ("ho-covered-hopper", "n-gondola", "h0-four-wheel-van")


def main(revision: str, target: Path) -> None:
    """Three cars with their photos, a collection of two, and a rule set kept for all."""
    address = Address(path=target)
    engine = engine_of(address)
    with writing(engine, address) as connection:
        upgrade(connection, revision)
        batch = Batch(connection, 1_790_000_000_000_000, "the bench")
        cars = []
        for name in SHEETS:
            sheet = cw.read_sheet(ROOT / "examples" / f"{name}.toml")
            paths = {each: ROOT / "examples" / each for _, each in files_named(sheet)}
            files = {
                each: {"digest": keep(connection, address, path.read_bytes()), "size": path.stat().st_size}
                for each, path in paths.items()
                if path.is_file()
            }
            car = car_id(sheet)
            known = held(connection, car)
            addition = addition_of(sheet, known, car=car, files=files)
            batch.write(known, CAR, addition.records, addition.lines)
            cars.append(car)
        subject = named_id(COLLECTION, "shelf one")
        batch.state(held(connection, subject), COLLECTION, NAME, "Shelf one")
        for car in cars[:2]:
            batch.state(held(connection, subject), COLLECTION, f"member:{car}", value=True)
        text = (ROOT / "examples" / "club-sedge.toml").read_text("utf-8")
        value = {"name": "club-sedge.toml", "format": "carwright-rules/1", "text": text}
        batch.state(held(connection, kept_id("club-sedge.toml")), KEPT, FILE_KEPT, value)
        if revision == HEAD:
            refresh(connection, batch.touched.values())
    engine.dispose()


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
