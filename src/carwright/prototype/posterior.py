"""When a picture was taken: the exact posterior over months, from what it shows and what is claimed of it.

The car was built in some month, every month alike, and goes at an age that is normal about ``life_years``; the picture
shows it in a month of its life, every month of all lives alike. Given when the picture was taken and the car was built,
each group of features shows one of them by its share (:mod:`carwright.prototype.shares`), a thing that is there is seen
with the chance its group gives, and one that is not is taken for seen with a chance that is not known itself: a usual
one, a larger and a large one are weighed, so that pictures that clash with themselves date more widely. A legible
stencil cannot be later than the picture, and stands as long as its interval says, and seldom longer. A claim is right
with its trust, and else a near miss or a mere guess. The sum over building dates is taken in closed form, because
shares are constant between the dates of the rules for new cars.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from carwright.dates import Span, iso
from carwright.prototype.book import Book, book_of
from carwright.prototype.evidence import Claim, Dating, Piece, counted_once
from carwright.prototype.shares import Array, Curves
from carwright.prototype.subject import Shown
from carwright.prototype.window import interval_months, interval_of
from carwright.tables.dated_model import Dated, Group

FALSE_TIMES = (0.2, 1.0, 10.0)
FALSE_PRIOR = (0.65, 0.3, 0.05)
"""The chance to take a thing for seen, as multiples of the usual, and how likely each is; judgement [-]."""
CACHED = 256
"""Likelihoods kept, of about 0.2 MB each."""
Seen = tuple[npt.NDArray[np.int64], Array]
"""Breaks of the building dates, and chances."""
_FALSE_COLUMN = np.array(FALSE_PRIOR)[:, None]
DOUBTED = 0.5
"""A sighting that is more likely wrong than this is named [-]."""


@dataclass(frozen=True, slots=True)
class Observation:
    """One thing that speaks of the date: all that is seen of a group, a stencil, or a claim."""

    label: str
    group: Group | None = None
    shown: tuple[Shown, ...] = ()
    dating: Dating | None = None
    claim: Claim | None = None


@dataclass(frozen=True, slots=True)
class Telling:
    """How much one observation tells.

    Attributes
    ----------
    label : str
        What was seen, read or claimed.
    bits : float
        Kullback-Leibler divergence of the posterior from the one without it [bits].
    p10, p50, p90 : int
        Of the posterior without it [months].
    false : float
        Chance that it was seen wrongly, all considered; 0 for stencils and claims [-].
    """

    label: str
    bits: float
    p10: int
    p50: int
    p90: int
    false: float


@dataclass(frozen=True)
class Posterior:
    """Mass over months.

    Attributes
    ----------
    months : array, (n,)
        One apart [months].
    mass : array, (n,)
        Adds up to 1 [-].
    reason : str
        Why there is none, "" where there is.
    warnings : tuple[str, ...]
        What a reader must know of it.
    """

    months: npt.NDArray[np.int64]
    mass: Array
    reason: str = ""
    warnings: tuple[str, ...] = ()

    @cached_property
    def cumulative(self) -> Array:
        """Mass up to and with each month."""
        found: Array = np.cumsum(self.mass)
        return found

    def quantile(self, p: float) -> int:
        """First month at which the cumulative mass reaches ``p``."""
        index = int(np.searchsorted(self.cumulative, p * self.cumulative[-1] * (1 - 1e-12)))
        return int(self.months[min(index, self.months.size - 1)])

    def interval(self, p: float) -> tuple[Span, float]:
        """The months between the quantiles (1 − p)/2 and (1 + p)/2, both included, and the mass in them, at least p."""
        first, last = self.quantile((1 - p) / 2), self.quantile((1 + p) / 2)
        inside = (self.months >= first) & (self.months <= last)
        return Span(first, last), float(self.mass[inside].sum())


class Dater:
    """Dates pictures under one set of rules.

    Parameters
    ----------
    dated : Dated
        Rules and weights.
    """

    def __init__(self, dated: Dated) -> None:
        self.dated = dated
        self.weights = dated.weights
        self.months = np.arange(dated.weights.grid, dated.weights.horizon + 1)
        self._curves: dict[Book, Curves] = {}
        self._cache: OrderedDict[tuple[object, ...], Seen] = OrderedDict()
        self._living = _living(self.months.size, dated.weights.life_years, dated.weights.life_spread)

    def curves(self, piece: Piece) -> Curves:
        """Shares under the rules that bind the car of a piece of evidence."""
        subject = piece.subject
        book = book_of(self.dated, subject.kind, subject.use, subject.owner, subject.car_class)
        if book not in self._curves:
            self._curves[book] = Curves(book, self.months)
        return self._curves[book]

    # --- what speaks --------------------------------------------------------------------------------------

    def observations(self, piece: Piece) -> list[Observation]:
        """Everything a piece of evidence says of its date; copied claims count once."""
        by_group: dict[str, list[Shown]] = {}
        for each in piece.subject.shown:
            by_group.setdefault(self.dated.group_of[each.feature].id, []).append(each)
        found = []
        for name, own in by_group.items():
            words = ", ".join(f"{'no ' if each.state == 'absent' else ''}{self.dated.title(each.feature)}"
                              for each in own)  # fmt: skip
            found.append(Observation(words, self.dated.groups[name], tuple(own)))
        for dating in piece.datings:
            title = self.dated.stencils[dating.stencil].title
            found.append(Observation(f"{title} {iso(dating.month)}", dating=dating))
        for claim in counted_once(piece.claims):
            if claim.about in {"taken", "built", "last seen"}:
                about = "" if claim.about == "taken" else f"{claim.about} "
                found.append(Observation(f"claim: {about}{claim.words}", claim=claim))
        return found

    # --- the sum ------------------------------------------------------------------------------------------

    def posterior(self, piece: Piece, leave: Sequence[Observation] = ()) -> Posterior:
        """The posterior over months.

        Parameters
        ----------
        piece : Piece
            What is shown and claimed.
        leave : sequence of Observation
            Left out.

        Returns
        -------
        Posterior
            With a reason and no mass where no month is left.
        """
        heard = [each for each in self.observations(piece) if each not in leave]
        return self._of(piece, heard)

    def _of(self, piece: Piece, heard: Sequence[Observation]) -> Posterior:
        mass = self._joint(piece, heard).sum(axis=0)
        total = float(mass.sum())
        if not total > 0.0:
            reason = "no month is left: what is sure contradicts itself"
            return Posterior(self.months, np.zeros(self.months.size), reason)
        return Posterior(self.months, mass / total)

    def _joint(self, piece: Piece, heard: Sequence[Observation], right: Observation | None = None) -> Array:
        """Weight of each chance to take a thing for seen and each month, (chances, months); with one seen rightly."""
        curves, present = self.curves(piece), piece.subject.present()
        likely = [self._seen(curves, each, present, right=each is right) for each in heard if each.group is not None]
        edges = {int(edge) for edges, _ in likely for edge in edges} | self._built_edges(heard)
        breaks = sorted(edge for edge in edges if self.months[0] < edge <= self.months[-1])
        prior = self._prior(heard, breaks)
        alone = self._alone(piece, heard)
        found = np.zeros((len(FALSE_TIMES), self.months.size))
        begins = np.array([self.months[0], *breaks])
        places = [(chances, np.searchsorted(edges, begins, side="right")) for edges, chances in likely]
        ends = np.flatnonzero(alone)
        for row in np.flatnonzero(prior.any(axis=1)):
            # A car of this stretch is in no picture before it was built: views of its months alone are multiplied.
            first = max(int(begins[row] - self.months[0]), int(ends[0]) if ends.size else 0)
            window = slice(first, int(ends[-1]) + 1 if ends.size else 0)
            product = prior[row, window] * _FALSE_COLUMN
            for chances, place in places:
                product *= chances[:, place[row], window]
            found[:, window] += product
        found *= alone
        return found

    def _seen(self, curves: Curves, observation: Observation, present: frozenset[str], *, right: bool = False) -> Seen:
        """Chance of what is seen of a group, (chances of a false sighting, stretches of building dates, months).

        With ``right`` only of what is seen and so.
        """
        group = observation.group
        assert group is not None  # noqa: S101 - only groups are asked for
        shares = curves.group(group, present)
        key = (id(shares), right, tuple((each.feature, each.state, each.trust) for each in observation.shown))
        if key in self._cache:
            self._cache.move_to_end(key)
            return self._cache[key]
        hit = self.weights.seen(group.seen)
        found = []
        for times in FALSE_TIMES:
            usual = min(self.weights.false_seen * times, 0.5)
            chances = np.ones(len(shares.features) + 1)
            for each in observation.shown:
                doubt = 1.0 - each.trust
                false = usual if each.trust >= 1.0 else doubt / 2
                there = np.array([each.feature in {name, name.partition(".")[0]} for name in shares.features] + [False])
                seen = np.where(there, hit * each.trust + doubt / 2, false)
                chances *= seen if each.state == "present" else 1.0 - seen
                if right:
                    chances *= there if each.state == "present" else ~there
            none = chances[-1]
            found.append(none + np.tensordot(chances[:-1] - none, shares.shares, axes=([0], [1])))
        self._cache[key] = np.array(shares.breaks), np.stack(found)
        if len(self._cache) > CACHED:
            self._cache.popitem(last=False)
        return self._cache[key]

    def _built_edges(self, heard: Sequence[Observation]) -> set[int]:
        edges: set[int] = set()
        reach = int(self.weights.near_months)
        for span, _, near in self._built(heard):
            for edge in (span.first, span.last + 1 if span.last is not None else None):
                edges |= {edge} if edge is not None else set()
            if near:
                edges |= {span.first - reach} if span.first is not None else set()
                edges |= {span.last + 1 + reach} if span.last is not None else set()
        return edges

    def _built(self, heard: Sequence[Observation]) -> list[tuple[Span, float, bool]]:
        """Spans in which the car was built, the trust in each, and whether a false one may be a near miss."""
        found = []
        for each in heard:
            if each.dating is not None and each.dating.stencil == "stencil.built":
                found.append((Span(each.dating.month, each.dating.month), each.dating.trust, False))
            elif each.claim is not None and each.claim.about == "built":
                found.append((each.claim.span, each.claim.trust, True))
        return found

    def _prior(self, heard: Sequence[Observation], breaks: Sequence[int]) -> Array:
        """Weight of each stretch of building dates and each month, (stretches, months)."""
        months, living = self.months, self._living
        edges = [int(months[0]), *breaks, int(months[-1]) + 1]
        found = np.zeros((len(edges) - 1, months.size))
        offset = months - months[0]
        for index, (first, after) in enumerate(pairwise(edges)):
            weight = 1.0
            for span, trust, near in self._built(heard):
                weight *= float(self._claimed(span, trust, np.array([first]), near=near)[0])
            if weight == 0.0:
                continue
            youngest = offset - (after - 1 - months[0])
            oldest = offset - (first - months[0])
            upper = np.where(oldest >= 0, living[np.maximum(oldest, 0)], 0.0)
            lower = np.where(youngest > 0, living[np.maximum(youngest - 1, 0)], 0.0)
            found[index] = weight * (upper - lower)
        return found

    def _claimed(self, span: Span, trust: float, months: npt.NDArray[np.int64], *, near: bool = True) -> Array:
        """Likelihood of a claim in each month: right, near to it, or any.

        A false claim is as likely a near miss as one that could have named any month, unless ``near`` says otherwise.
        """
        first = max(span.first if span.first is not None else int(self.months[0]), int(self.months[0]))
        last = min(span.last if span.last is not None else int(self.months[-1]), int(self.months[-1]))
        length = max(last - first + 1, 1)  # a false claim may name months nobody thought of
        reach = int(self.weights.near_months)
        anywhere = length / self.months.size
        part = self.weights.near_part if near else 0.0
        missed = np.where((months >= first - reach) & (months <= last + reach), length / (length + 2 * reach), 0.0)
        right = ((months >= first) & (months <= last)).astype(float)
        found: Array = trust * right + (1.0 - trust) * (part * missed + (1.0 - part) * anywhere)
        return found

    def _alone(self, piece: Piece, heard: Sequence[Observation]) -> Array:
        """Likelihood of stencils and of claims about the picture, which do not ask when the car was built."""
        months = self.months
        weight = np.ones(months.size)
        if piece.until is not None:
            weight[months > piece.until] = 0.0
        for each in heard:
            if each.dating is not None:
                weight = weight * self._stencil(piece, each.dating)
            elif each.claim is not None and each.claim.about != "built":
                taken = each.claim.about == "taken"
                span = each.claim.span if taken else Span(None, each.claim.span.last)
                weight = weight * self._claimed(span, each.claim.trust, months, near=taken)
        return weight

    def _stencil(self, piece: Piece, dating: Dating) -> Array:
        """Likelihood of a stencil: none before its date, even while it may stand, fading where it is late."""
        age = self.months - dating.month
        if dating.stencil == "stencil.built":
            stands = np.where(age >= 0, 1.0, 0.0)
            return dating.trust * stands + (1.0 - dating.trust) / self.months.size
        interval = interval_of(self.dated, dating.stencil, piece.subject.kind, dating.month)
        subject = replace(piece.subject, stencils={each.stencil: each.month for each in piece.datings})
        if interval is not None:
            stands_for, fade = float(interval_months(interval, dating.month, subject)), self.weights.late_months
        else:
            stands_for, fade = self.weights.paint_months, self.weights.fade_months
        late = np.maximum(age - stands_for, 0.0)
        density = np.where(age >= 0, 0.5 ** (late / fade), 0.0)
        density /= stands_for + 1 + 0.5 ** (1 / fade) / (1 - 0.5 ** (1 / fade))
        return dating.trust * density + (1.0 - dating.trust) / self.months.size

    # --- what tells ---------------------------------------------------------------------------------------

    def tellings(self, piece: Piece) -> list[Telling]:
        """How much each observation tells, loudest first: the posterior with it against the one without."""
        heard = self.observations(piece)
        whole = self._joint(piece, heard)
        full = whole.sum(axis=0)
        if not full.sum() > 0.0:
            return []
        found = []
        for each in heard:
            without = self._of(piece, [other for other in heard if other is not each])
            false = 0.0
            if each.group is not None:
                false = 1.0 - float(self._joint(piece, heard, each).sum() / full.sum())
            mass = full / full.sum()
            inside = mass > 0.0
            bits = float(np.sum(mass[inside] * np.log2(mass[inside] / without.mass[inside])))
            p10, p50, p90 = (without.quantile(p) for p in (0.1, 0.5, 0.9))
            found.append(Telling(each.label, max(bits, 0.0), p10, p50, p90, max(false, 0.0)))
        return sorted(found, key=lambda each: -each.bits)


def _living(size: int, years: float, spread: float) -> Array:
    """Number of months of life up to and with each age, of a car whose age at its end is normal [months]."""
    from scipy.special import ndtr  # noqa: PLC0415 - SciPy is loaded only where a picture is dated

    ages = np.arange(size) / 12
    alive = ndtr((years - ages) / spread) / ndtr(years / spread)
    found: Array = np.cumsum(alive)
    return found


@lru_cache(maxsize=4)
def dater_of(dated: Dated) -> Dater:
    """The dater of one set of rules, made once."""
    return Dater(dated)


def date_piece(dated: Dated, piece: Piece) -> tuple[Posterior, list[Telling]]:
    """The posterior of one piece of evidence, and what tells in it; what was likely seen wrongly is warned of."""
    dater = dater_of(dated)
    posterior, tellings = dater.posterior(piece), dater.tellings(piece)
    doubted = [
        f"{each.label}: seen wrongly with a chance of {each.false:.0%}, all considered; the interval allows for it"
        for each in tellings
        if each.false > DOUBTED
    ]
    return replace(posterior, warnings=tuple(doubted)), tellings
