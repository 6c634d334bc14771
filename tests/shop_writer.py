"""Writes to a shop until it is done or killed, and says what was confirmed: run by tests as a program of its own."""

from __future__ import annotations

import sys

from shops import given

from carwright.shop import open_shop


def main(place: str, name: str, count: int) -> None:
    """Add a car, then entries and now and then another car; a line of every confirmed id."""
    with open_shop(place, create=True) as shop:
        car = ""
        for number in range(count):
            if number % 20 == 0:
                added = shop.add([given(f"Car {name} {number}")], who=name)[0]
                car = added.addition.car
                sys.stdout.write(" ".join([car, *added.addition.ids]) + "\n")
                sys.stdout.flush()
                continue
            bodies = [{"kind": "note", "note": f"{name} {number} {part}"} for part in ("first", "second")]
            sys.stdout.write(" ".join([car, *shop.append(car, bodies, who=name)]) + "\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
