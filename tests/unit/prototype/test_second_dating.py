"""The posterior against an implementation made from the text of docs/method.md alone, by plain enumeration."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
import second_dating as second

from carwright.dates import Span, month_of
from carwright.prototype.book import Book
from carwright.prototype.evidence import Claim, Dating, Piece
from carwright.prototype.posterior import Dater
from carwright.prototype.shares import Curves
from carwright.prototype.subject import Shown, Subject
from carwright.tables.dated_model import Dated

KINDS = ("box", "refrigerator", "tank", "flat", "stock", "covered hopper", "")


def made(rng: random.Random, dated: Dated, first: int, last: int) -> second.Picture:
    """A picture of anything, likely or not."""
    groups = rng.sample(sorted(dated.groups), rng.randint(1, 6))
    seen = []
    for name in groups:
        feature = rng.choice([*dated.groups[name].ids(), name])
        state = rng.choice(["present", "present", "absent"])
        seen.append(second.Seen(feature, state, rng.choice([1.0, 1.0, 0.8])))
    stencils = []
    if rng.random() < 0.5:
        stencils.append(("stencil.built", rng.randint(first, last), rng.choice([1.0, 0.9])))
    if rng.random() < 0.5:
        stencil = rng.choice(["stencil.weighed", "stencil.tested", "stencil.repainted", "stencil.repacked"])
        stencils.append((stencil, rng.randint(first, last), rng.choice([1.0, 0.7])))
    claims = []
    for index in range(rng.randint(0, 2)):
        about = rng.choice(["taken", "built", "last seen"])
        start = rng.randint(first, last)
        claims.append((about, start, start + rng.randint(0, 60), rng.choice([0.3, 0.7]), f"source {index}"))
    until = rng.choice([None, rng.randint((first + last) // 2, last)])
    return second.Picture(rng.choice(KINDS), tuple(seen), tuple(stencils), tuple(claims), until)


def as_piece(picture: second.Picture) -> Piece:
    shown = tuple(Shown(each.feature, each.state, each.trust) for each in picture.seen)  # type: ignore[arg-type]
    return Piece(
        "x", "photo", Subject(picture.kind, shown=shown),
        tuple(Dating(name, month, trust) for name, month, trust in picture.stencils),
        tuple(Claim(about, Span(low, high), trust, "", source) for about, low, high, trust, source in picture.claims),
        until=picture.until,
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(60))
def test_it_gives_the_same_posterior(dated: Dated, seed: int) -> None:
    rng = random.Random(seed)
    first = month_of(rng.randint(1895, 1985), 1)
    last = first + 12 * 25 - 1
    picture = made(rng, dated, first, last)
    own = replace(dated, weights=replace(dated.weights, grid=first, horizon=last))
    found = Dater(own).posterior(as_piece(picture))
    try:
        other = second.posterior(picture, first, last)
    except ValueError:
        assert found.reason
        return
    mass = [other.get(int(month), 0.0) for month in found.months]
    assert np.abs(found.mass - mass).max() < 1e-12


def test_it_gives_the_same_on_the_whole_grid(dated: Dated) -> None:
    picture = second.Picture(
        "box",
        (second.Seen("brake.AB", "present"), second.Seen("running-board.wood", "present"),
         second.Seen("aci-label", "absent")),
        (("stencil.weighed", month_of(1955, 3), 0.9),),
        (("taken", month_of(1961, 6), month_of(1961, 8), 0.6, "caption"),),
    )  # fmt: skip
    other = second.posterior(picture, dated.weights.grid, dated.weights.horizon)
    found = Dater(dated).posterior(as_piece(picture))
    mass = [other.get(int(month), 0.0) for month in found.months]
    assert np.abs(found.mass - mass).max() < 1e-12


def test_it_gives_the_same_shares(dated: Dated) -> None:
    months = np.arange(dated.weights.grid, dated.weights.horizon + 1)
    rng = random.Random(3)
    for kind in KINDS:
        curves = Curves(Book(dated, kind), months)
        for group in dated.groups.values():
            for present in (
                frozenset[str](),
                frozenset({"roof-hatches"}),
                frozenset({"running-board.none", "running-board"}),
            ):
                shares = curves.group(group, present)
                for _ in range(3):
                    built = rng.randint(month_of(1880, 1), month_of(2015, 1))
                    seen = rng.randint(built, month_of(2026, 1))
                    row = int(np.searchsorted(shares.breaks, built, side="right"))
                    for place, feature in enumerate(shares.features):
                        other = second.share(feature, seen, built, kind, present, int(months[0]))
                        assert shares.shares[row, place, seen - months[0]] == pytest.approx(other, abs=1e-12), feature
