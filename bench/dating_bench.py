"""Dating and windows, beside the plainest way to the same result in the same run."""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence

import dating_study
import numpy as np

from carwright.dates import ALWAYS, Spans, overlap
from carwright.prototype.evidence import Piece
from carwright.prototype.posterior import FALSE_PRIOR, FALSE_TIMES, Dater
from carwright.prototype.subject import Shown, Subject
from carwright.prototype.window import window_of
from carwright.tables import shipped
from carwright.tables.dated import dated_of
from carwright.tables.dated_model import Dated

PHOTOS, MODELS, DENSE = 1000, 10_000, 3
KINDS = ("box", "refrigerator", "tank", "flat", "covered hopper")


def cpu(work: Callable[[], object]) -> float:
    """CPU seconds of a piece of work."""
    start = time.process_time()
    work()
    return time.process_time() - start


def photographs(count: int) -> list[Piece]:
    """Synthetic photographs, three to eight groups of features each."""
    generator = np.random.default_rng(7)
    lives = dating_study.lives(wrong=False)
    return [dating_study.drawn(generator, lives, dating_study.CASES[0]).piece for _ in range(count)]


def dense(dater: Dater, piece: Piece) -> np.ndarray:
    """The same posterior by a full grid of building and picture months, as an array program has it first."""
    months, weights = dater.months, dater.weights
    ages = months[None, :] - months[:, None]
    alive = np.diff(dater._living, prepend=0.0)  # noqa: SLF001 - the same prior
    joint = np.where(ages >= 0, alive[np.maximum(ages, 0)], 0.0)
    total = np.zeros(months.size)
    curves = dater.curves(piece)
    present = piece.subject.present()
    for times, chance in zip(FALSE_TIMES, FALSE_PRIOR, strict=True):
        weight = joint * chance
        for each in piece.subject.shown:
            group = dater.dated.group_of[each.feature]
            shares = curves.group(group, present)
            there = shares.shares[
                np.searchsorted(shares.breaks, months, side="right"), shares.features.index(each.feature)
            ]
            seen = there * weights.seen(group.seen) + (1 - there) * min(weights.false_seen * times, 0.5)
            weight = weight * (seen if each.state == "present" else 1 - seen)
        total += weight.sum(axis=0)
    found: np.ndarray = total / total.sum()
    return found


def dating() -> str:
    """A thousand photographs."""
    dater = Dater(dated_of(shipped()))
    pieces = photographs(PHOTOS)
    dater.posterior(pieces[0])
    taken = cpu(lambda: [dater.posterior(piece) for piece in pieces]) / PHOTOS
    plain = [Piece("x", "photo", Subject(piece.subject.kind, shown=piece.subject.shown)) for piece in pieces[:DENSE]]
    full = cpu(lambda: [dense(dater, piece) for piece in plain]) / DENSE
    for piece in plain:
        difference = float(np.abs(dense(dater, piece) - dater.posterior(piece).mass).max())
        if difference > 1e-12:  # noqa: PLR2004 - the two are the same sum
            message = f"the dense grid differs by {difference}"
            raise ArithmeticError(message)
    whole = f"{PHOTOS:,}: {taken * PHOTOS:.2f} s"
    return f"date a photograph {taken * 1e3:24.2f} ms CPU   1/{full / taken:.0f} of a dense grid; {whole}"


def models(dated: Dated, count: int) -> list[Subject]:
    """Models that show a feature in each of four to twelve groups."""
    rng = random.Random(11)  # noqa: S311 - models, no secrets
    found = []
    for _ in range(count):
        groups = rng.sample(sorted(dated.groups), rng.randint(4, 12))
        shown = [Shown(rng.choice(dated.groups[name].ids()), rng.choice(["present", "absent"])) for name in groups]
        stencils = {"stencil.built": rng.randint(22800, 24200)} if rng.random() < 0.7 else {}  # noqa: PLR2004
        if rng.random() < 0.5:  # noqa: PLR2004
            stencils["stencil.weighed"] = rng.randint(22800, 24200)
        found.append(Subject(rng.choice(KINDS), shown=tuple(shown), stencils=stencils))
    return found


def intersected(parts: Sequence[Sequence[Spans]]) -> None:
    """The bare intersections."""
    for part in parts:
        both: Spans = (ALWAYS,)
        for spans in part:
            both = overlap(both, spans)


def windows() -> str:
    """Ten thousand models."""
    dated = dated_of(shipped())
    subjects = models(dated, MODELS)
    window_of(dated, subjects[0])
    found: list[Sequence[Spans]] = []
    taken = cpu(lambda: found.extend(
        [each.soft for each in window_of(dated, subject).stretches] for subject in subjects))  # fmt: skip
    bare = cpu(lambda: intersected(found))
    whole = f"{MODELS:,}: {taken:.2f} s"
    return (
        f"window of a model {taken / MODELS * 1e3:25.3f} ms CPU   {taken / bare:.1f} x its bare intersections; {whole}"
    )


def measure() -> list[str]:
    """Every line."""
    return [dating(), windows()]


if __name__ == "__main__":
    print("\n".join(measure()))
