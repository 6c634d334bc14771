"""Ballast: which pieces of a stock go into which pockets of a car.

Pieces are packed in slices: across a pocket stand pieces of one type lying one way, side by side and in layers, and
slices follow one another along the pocket. So what is counted also fits (a packing by straight cuts), and the best
placement of this kind is found exactly, by integer programs in the order of what matters.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations

LONGEST = 20.0
"""Time the search may take in all [s]."""
NEAR = 1e-6
"""Two masses [g], positions or heights [mm] nearer than this count as equal."""
_SLACK = 1e-9
"""What a floor may be short by, so that three pieces of 0.1 mm fit into 0.3 mm [-]."""
_FIRST = 0.05
"""Gap left open in the first step toward the lowest centre of gravity: later steps close it [-]."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A type of ballast in stock.

    Attributes
    ----------
    name : str
        What it is called, once in a stock.
    mass : float
        Of one piece [g].
    size : tuple[float, float, float]
        Its three edges in any order [mm].
    material : str
        As in ``materials/densities``.
    cost : float
        Of one piece [any one currency].
    count : int
        How many there are [-].
    """

    name: str
    mass: float
    size: tuple[float, float, float]
    material: str
    cost: float
    count: int


@dataclass(frozen=True, slots=True)
class Pocket:
    """A box-shaped room for ballast.

    Attributes
    ----------
    name : str
        What it is called, once on a car.
    x : float
        Its middle along the car, + toward A [mm].
    z : float
        Its floor above the railhead [mm].
    length, width, height : float
        Along the car, across and up [mm].
    """

    name: str
    x: float
    z: float
    length: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Car:
    """A car before ballast.

    Attributes
    ----------
    mass : float
        [g]
    x, z : float
        Its centre of gravity along the car, + toward A, and above the railhead [mm].
    """

    mass: float
    x: float
    z: float


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the complete car should come to.

    Attributes
    ----------
    least, most, target : float
        Band of its mass, and the mass preferred within [g].
    x_tolerance : float
        How far its centre of gravity may lie from mid-length [mm].
    """

    least: float
    most: float
    target: float
    x_tolerance: float


@dataclass(frozen=True, slots=True)
class Placed:
    """Pieces of one type lying one way in one pocket.

    Attributes
    ----------
    piece, pocket : str
        Their names.
    count : int
        Pieces in all layers [-].
    layers : tuple[int, ...]
        Pieces in each layer, from the floor up [-].
    """

    piece: str
    pocket: str
    count: int
    layers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Ballast:
    """A placement and what the complete car comes to.

    Attributes
    ----------
    placed : tuple[Placed, ...]
        By pocket, then by piece.
    mass : float
        Of the complete car [g].
    x, z : float
        Its centre of gravity along the car, + toward A, and above the railhead [mm].
    cost : float
        Of the pieces placed [the stock's currency].
    in_band, in_balance : bool
        Whether mass and centre of gravity are as wanted.
    added : float
        Mass of the pieces placed [g].
    reason : str
        What is not as wanted, in plain words, or "".
    """

    placed: tuple[Placed, ...]
    mass: float
    x: float
    z: float
    cost: float
    in_band: bool
    in_balance: bool
    added: float
    reason: str


def place(pieces: Sequence[Piece], pockets: Sequence[Pocket], car: Car, wanted: Wanted) -> Ballast:
    """Place pieces so that the mass is in its band, then the car in balance, then its centre of gravity lowest.

    Each aim counts only among the placements that are best by the aims before it: how far the mass is outside its
    band; how far the first moment |Σ m x| is beyond x_tolerance times the mass; the height Σ m z / M of the centre of
    gravity; the distance of the mass from the target; the cost.

    Parameters
    ----------
    pieces : sequence of Piece
        The stock.
    pockets : sequence of Pocket
        Where pieces may go. What a pocket holds is packed about its middle, so its x counts as the pocket's.
    car : Car
        Before ballast.
    wanted : Wanted
        Mass [g] and balance [mm].

    Returns
    -------
    Ballast
        The best placement; ``reason`` says what it does not reach, or that it could not be proven the best in time.

    Raises
    ------
    ValueError
        "piece 'x' must have mass > 0 g and three edges > 0 mm, got 5.0 g and 0.0 x 8.0 x 4.0 mm"
        "piece 'x' must have a count >= 0, got -1" and "piece 'x' must have a cost >= 0, got -1.0"
        "pocket 'x' must have length, width and height > 0 mm, got 40.0 x 0.0 x 5.0 mm"
        "pocket 'x' must have a finite x and z, got nan and 12.0 mm"
        "every piece must have its own name, got 'x' twice" and the same of pockets
        "car must have mass > 0 g and a finite x and z, got 0.0 g at 0.0 and 20.0 mm"
        "wanted must have least <= target <= most, got 100.0, 90.0 and 110.0 g"
        "wanted must have x_tolerance >= 0 mm, got -1.0"

    Notes
    -----
    The lowest centre of gravity is a ratio of two sums that are linear in the counts; Dinkelbach's steps
    (W. Dinkelbach, On nonlinear fractional programming, Management Science 13, 1967; *memory*) find it by minimising
    Σ m (z − z₀) for the height z₀ of the last placement until nothing lower is found.
    """
    _check(pieces, pockets, car, wanted)
    stock = [piece for piece in pieces if piece.count > 0]
    model = _Model(stock, pockets, car, wanted)
    found = model.best()
    if not stock:
        reasons = ["no pieces in stock"]
    elif not pockets:
        reasons = ["no pockets on the car"]
    else:
        reasons = [model.mass_reason(found), model.balance_reason(found)]
        if not model.proven:
            reasons.append(f"not proven the best placement within {LONGEST:g} s")
    mass = model.mass(found)
    return Ballast(
        placed=model.placed(found),
        mass=mass,
        x=model.moment(found) / mass,
        z=model.height(found),
        cost=model.cost(found),
        in_band=model.beyond_band(found) <= NEAR,
        in_balance=model.beyond_balance(found) <= NEAR * mass,
        added=model.added(found),
        reason="; ".join(filter(None, reasons)),
    )


def _check(pieces: Sequence[Piece], pockets: Sequence[Pocket], car: Car, wanted: Wanted) -> None:
    for piece in pieces:
        _check_piece(piece)
    for pocket in pockets:
        _check_pocket(pocket)
    _check_names("piece", [piece.name for piece in pieces])
    _check_names("pocket", [pocket.name for pocket in pockets])
    if not (positive(car.mass) and math.isfinite(car.x) and math.isfinite(car.z)):
        raise ValueError(f"car must have mass > 0 g and a finite x and z, got {car.mass} g at {car.x} and {car.z} mm")
    if not -math.inf < wanted.least <= wanted.target <= wanted.most < math.inf:
        raise ValueError(
            f"wanted must have least <= target <= most, got {wanted.least}, {wanted.target} and {wanted.most} g"
        )
    if not 0 <= wanted.x_tolerance < math.inf:
        raise ValueError(f"wanted must have x_tolerance >= 0 mm, got {wanted.x_tolerance}")


def _check_piece(piece: Piece) -> None:
    if len(piece.size) != 3 or not all(positive(each) for each in (piece.mass, *piece.size)):  # noqa: PLR2004 - edges
        edges = " x ".join(str(edge) for edge in piece.size)
        raise ValueError(
            f"piece {piece.name!r} must have mass > 0 g and three edges > 0 mm, got {piece.mass} g and {edges} mm"
        )
    if piece.count < 0:
        raise ValueError(f"piece {piece.name!r} must have a count >= 0, got {piece.count}")
    if not 0 <= piece.cost < math.inf:
        raise ValueError(f"piece {piece.name!r} must have a cost >= 0, got {piece.cost}")


def _check_pocket(pocket: Pocket) -> None:
    edges = (pocket.length, pocket.width, pocket.height)
    if not all(positive(edge) for edge in edges):
        shown = " x ".join(str(edge) for edge in edges)
        raise ValueError(f"pocket {pocket.name!r} must have length, width and height > 0 mm, got {shown} mm")
    if not (math.isfinite(pocket.x) and math.isfinite(pocket.z)):
        raise ValueError(f"pocket {pocket.name!r} must have a finite x and z, got {pocket.x} and {pocket.z} mm")


def _check_names(what: str, names: Sequence[str]) -> None:
    twice = [name for name, times in Counter(names).items() if times > 1]
    if twice:
        raise ValueError(f"every {what} must have its own name, got {twice[0]!r} twice")


def positive(value: float) -> bool:
    """Whether a number is above zero and finite."""
    return 0 < value < math.inf


@dataclass(frozen=True, slots=True)
class _Lie:
    """A type of piece lying one way in a pocket; its slices and layers are columns of the program."""

    piece: Piece
    pocket: Pocket
    along: float
    side: int
    up: float
    first: int
    slices: int
    layers: int

    @property
    def columns(self) -> range:
        """Those of its layers, from the floor up."""
        return range(self.first + 1, self.first + 1 + self.layers)

    def z(self, column: int) -> float:
        """Height of a piece in the layer of a column above the railhead [mm]."""
        return self.pocket.z + (column - self.first - 0.5) * self.up


def _ways(piece: Piece, pocket: Pocket) -> list[tuple[float, int, float]]:
    """Edge along, pieces side by side and edge up of the ways a piece fits that no other way beats in all three."""
    ways = set()
    for along, across, up in permutations(piece.size):
        side = min(_floor(pocket.width, across), piece.count)
        if side and _floor(pocket.height, up) and _floor(pocket.length, along):
            ways.add((along, side, up))
    return sorted(
        way
        for way in ways
        if not any(one[0] <= way[0] and one[1] >= way[1] and one[2] <= way[2] for one in ways - {way})
    )


def _floor(room: float, edge: float) -> int:
    return math.floor(room / edge + _SLACK)


def _held(missed: float) -> float:
    """Bound that keeps an aim as good as it is, past the rounding of its sum."""
    return missed * (1 + _SLACK) + _SLACK


_ENDED = (0, 1)
"""States of a search that is proven, or that ran out of time [-]."""
Counts = Sequence[int]
"""Slices or pieces in each column of the program."""
Row = tuple[dict[int, float], float]
"""Coefficients by column, and what their sum may be at most."""


class _Model:
    """The integer program: columns of slices and layers, then three of how far mass, balance and target are missed."""

    def __init__(self, pieces: Sequence[Piece], pockets: Sequence[Pocket], car: Car, wanted: Wanted) -> None:
        self.car, self.wanted = car, wanted
        self.proven = True
        self._fullest: float | None = None
        self._end = time.monotonic() + LONGEST
        self._lies: list[_Lie] = []
        self._whole = 0
        for pocket in pockets:
            for piece in pieces:
                for way in _ways(piece, pocket):
                    self._lies.append(_lie(piece, pocket, way, self._whole))
                    self._whole += 1 + self._lies[-1].layers
        columns = [(column, lie) for lie in self._lies for column in lie.columns]
        self._mass = {column: lie.piece.mass for column, lie in columns}
        self._cost = {column: lie.piece.cost for column, lie in columns}
        self._moment = {column: lie.piece.mass * lie.pocket.x for column, lie in columns}
        self._lift = {column: lie.piece.mass * lie.z(column) for column, lie in columns}
        self._upper = [0.0] * self._whole + [math.inf] * 3
        self._rows = [*self._packing(pieces, pockets), *self._weighing()]

    def _packing(self, pieces: Sequence[Piece], pockets: Sequence[Pocket]) -> Iterator[Row]:
        for lie in self._lies:
            self._upper[lie.first] = lie.slices
            for layer, column in enumerate(lie.columns):
                self._upper[column] = min(lie.slices * lie.side, lie.piece.count // (layer + 1))
                yield {column: 1.0, column - 1: -1.0 if layer else -float(lie.side)}, 0.0
        for pocket in pockets:
            yield {lie.first: lie.along for lie in self._lies if lie.pocket is pocket}, pocket.length
        for piece in pieces:
            taken = (column for lie in self._lies if lie.piece is piece for column in lie.columns)
            yield dict.fromkeys(taken, 1.0), piece.count

    def _weighing(self) -> Iterator[Row]:
        band, balance, tolerance = self._whole, self._whole + 1, self.wanted.x_tolerance
        yield self._mass | {band: -1.0}, self.wanted.most - self.car.mass
        yield _scaled(self._mass, -1.0) | {band: -1.0}, self.car.mass - self.wanted.least
        for end in (-1.0, 1.0):
            row = {column: (end * self._moment[column] - tolerance * mass) for column, mass in self._mass.items()}
            room = self.car.mass * (tolerance - end * self.car.x)
            # in mm of a car of its own mass, so that the solver's tolerance means as much here as for the mass
            yield _scaled(row, 1 / self.car.mass) | {balance: -1.0}, room / self.car.mass

    def best(self) -> Counts:
        """The best placement, aim after aim; each aim reached is held while the next is sought."""
        band, balance, target = range(self._whole, self._whole + 3)
        found: Counts = [0] * self._whole
        if not self._lies:
            return found
        found = self._least({band: 1.0}, found, self.beyond_band)
        if self.mass(found) < self.wanted.least - NEAR:
            full = self._solve(_scaled(self._mass, -1.0))
            self._fullest = None if full is None else self.mass(full)
        self._upper[band] = _held(self.beyond_band(found))
        found = self._least({balance: 1.0}, found, self.beyond_balance)
        self._upper[balance] = _held(self.beyond_balance(found) / self.car.mass)
        found = self._lowest(found)
        height = self.height(found)
        room = self.car.mass * (height - self.car.z) / self.mass(found)
        self._rows.append((self._above(found), room + NEAR / 2))
        for sign in (-1.0, 1.0):
            room = sign * (self.wanted.target - self.car.mass)
            self._rows.append((_scaled(self._mass, sign) | {target: -1.0}, room))
        found = self._least({target: 1.0}, found, self.off_target)
        self._upper[target] = _held(self.off_target(found))
        return self._least(self._cost, found, self.cost)

    def _above(self, found: Counts) -> dict[int, float]:
        """How much a piece in each layer would raise or lower the centre of gravity, to first order [mm]."""
        height, mass = self.height(found), self.mass(found)
        return {column: (lift - height * self._mass[column]) / mass for column, lift in self._lift.items()}

    def _lowest(self, found: Counts) -> Counts:
        """Dinkelbach's steps; the first need not be exact, since only the last one proves."""
        gap = _FIRST
        while True:
            lower = self._solve(self._above(found), gap)
            if lower is not None and self.height(lower) < self.height(found) - NEAR / 1000:
                found = lower
            elif not gap or lower is None:
                return found
            gap = 0.0

    def _least(self, worth: Mapping[int, float], found: Counts, aim: Callable[[Counts], float]) -> Counts:
        """What serves an aim best, or what is already found where that is as good."""
        if aim(found) <= _SLACK:
            return found
        better = self._solve(worth)
        return found if better is None or aim(better) >= aim(found) else better

    def _solve(self, worth: Mapping[int, float], gap: float = 0.0) -> Counts | None:
        import numpy as np  # noqa: PLC0415 - loaded only where pieces are placed
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415
        from scipy.sparse import csr_array  # noqa: PLC0415

        left = self._end - time.monotonic()
        if left <= 0:
            self.proven = False
            return None
        size = len(self._upper)
        cells = [(value, row, column) for row, (held, _) in enumerate(self._rows) for column, value in held.items()]
        values, rows, columns = zip(*cells, strict=True)
        matrix = csr_array((values, (rows, columns)), shape=(len(self._rows), size))
        # The HiGHS of SciPy 1.17 was seen to prove a cost of 2.1 where 1.5 is feasible, in its presolve and only there;
        # without it a few searches stop with an error, so presolve is kept for those.
        for presolve in (False, True):
            solved = milp(
                [worth.get(column, 0.0) for column in range(size)],
                integrality=np.repeat([1, 0], [self._whole, 3]),
                bounds=Bounds([0.0] * size, self._upper),
                constraints=LinearConstraint(matrix, ub=[most for _, most in self._rows]),
                options={"time_limit": left, "mip_rel_gap": gap, "presolve": presolve},
            )
            if solved.status in _ENDED:
                break
        self.proven = self.proven and solved.status == 0
        return None if solved.x is None else [round(each) for each in solved.x[: self._whole]]

    def placed(self, found: Counts) -> tuple[Placed, ...]:
        """Pieces by pocket and piece, in the order they were given."""
        rows = []
        for lie in self._lies:
            layers = tuple(found[column] for column in lie.columns if found[column])
            if layers:
                rows.append(Placed(lie.piece.name, lie.pocket.name, sum(layers), layers))
        return tuple(rows)

    def added(self, found: Counts) -> float:
        """Mass of the pieces placed [g]."""
        return _total(found, self._mass)

    def mass(self, found: Counts) -> float:
        """Of the complete car [g]."""
        return self.car.mass + self.added(found)

    def cost(self, found: Counts) -> float:
        """Of the pieces placed."""
        return _total(found, self._cost)

    def moment(self, found: Counts) -> float:
        """First moment Σ m x of the complete car about mid-length [g mm]."""
        return self.car.mass * self.car.x + _total(found, self._moment)

    def height(self, found: Counts) -> float:
        """Height Σ m z / M of the centre of gravity of the complete car above the railhead [mm]."""
        return (self.car.mass * self.car.z + _total(found, self._lift)) / self.mass(found)

    def beyond_band(self, found: Counts) -> float:
        """How far the mass is outside its band [g]."""
        mass = self.mass(found)
        return max(self.wanted.least - mass, mass - self.wanted.most, 0.0)

    def beyond_balance(self, found: Counts) -> float:
        """How far the first moment is beyond what the tolerance allows [g mm]."""
        return max(abs(self.moment(found)) - self.wanted.x_tolerance * self.mass(found), 0.0)

    def off_target(self, found: Counts) -> float:
        """Distance of the mass from the target [g]."""
        return abs(self.mass(found) - self.wanted.target)

    def mass_reason(self, found: Counts) -> str:
        """Why the mass is outside its band, or ""."""
        missed, mass = self.beyond_band(found), self.mass(found)
        if missed <= NEAR:
            return ""
        short = mass < self.wanted.least
        by = f"{grams(missed)} {'short' if short else 'too heavy'}"
        if short and (not self._lies or (self._fullest is not None and self._fullest <= mass + NEAR)):
            return f"the pockets take at most {grams(self.added(found))} of this stock: {by}"
        if not short and not any(found):
            return f"the car alone weighs {grams(mass)}: {by}"
        return f"no placement comes into the band of mass: nearest is {grams(mass)}, {by}"

    def balance_reason(self, found: Counts) -> str:
        """Why the car is out of balance, or ""."""
        mass, tolerance = self.mass(found), float(self.wanted.x_tolerance)
        if self.beyond_balance(found) <= NEAR * mass:
            return ""
        x = self.moment(found) / mass
        digits = next((digits for digits in range(1, 7) if round(abs(x), digits) > tolerance), 7)
        return (
            f"no placement balances within {tolerance} mm: nearest is {abs(x):.{digits}f} mm "
            f"toward {'A' if x > 0 else 'B'}"
        )


def _lie(piece: Piece, pocket: Pocket, way: tuple[float, int, float], first: int) -> _Lie:
    along, side, up = way
    slices = min(_floor(pocket.length, along), -(-piece.count // side))
    return _Lie(piece, pocket, along, side, up, first, slices, min(_floor(pocket.height, up), piece.count))


def _scaled(row: Mapping[int, float], factor: float) -> dict[int, float]:
    return {column: factor * value for column, value in row.items()}


def _total(found: Counts, values: Mapping[int, float]) -> float:
    return math.fsum(found[column] * value for column, value in values.items())


def grams(mass: float) -> str:
    """One decimal, or two digits of what would else read 0.0 g."""
    return f"{mass:.1f} g" if mass >= 0.05 or mass == 0 else f"{mass:.2g} g"  # noqa: PLR2004 - half the last digit
