"""What an instrument does: declared on the sheet, taken from a preset, or read off the digits written."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from fnmatch import fnmatchcase

from carwright.errors import UnitError
from carwright.history.entries import InstrumentRow
from carwright.history.faults import Faults
from carwright.history.records import Figures, GaugeLimits
from carwright.units import Kind, Quantity, parse
from carwright.words import Vocabulary, nearest

ASSUMED_DOF = 5.0
"""Degrees of freedom of a repeatability nobody has tried (judgement)."""


class Instruments:
    """The instruments one sheet may name.

    Parameters
    ----------
    rows : list of (int, InstrumentRow)
        Number in the file and row.
    words : Vocabulary
        For the presets.
    faults : Faults
        Where to note what is wrong.
    broken : collection of str
        Names of instruments that could not be read, which need no second fault.
    """

    def __init__(
        self, rows: list[tuple[int, InstrumentRow]], words: Vocabulary, faults: Faults, broken: Collection[str] = ()
    ) -> None:
        self._words, self._faults, self._broken = words, faults, broken
        self._rows: dict[str, tuple[int, InstrumentRow]] = {}
        self._figures: dict[tuple[str, Kind], Figures | None] = {}
        for number, row in rows:
            place = f"instrument {number + 1} ({row.name})"
            if row.name in self._rows:
                faults.add(place, "stands twice", "instrument", number, "name")
            if row.preset is not None and row.preset not in words.instruments:
                hint = nearest(row.preset, words.instruments)
                faults.add(place, f"unknown preset {row.preset!r}{hint}", "instrument", number, "preset")
            if row.kind == "measure" and row.preset is None and row.resolution is None:
                faults.add(place, "needs resolution, or a preset", "instrument", number)
            self._rows[row.name] = (number, row)

    @property
    def used(self) -> Mapping[tuple[str, Kind], Figures]:
        """Every instrument that was used, by kind of quantity."""
        return {key: figures for key, figures in self._figures.items() if figures is not None}

    def names(self) -> list[str]:
        """All names: the sheet's own and the presets."""
        return [*self._rows, *(name for name in self._words.instruments if name not in self._rows)]

    def declared(self) -> list[str]:
        """The sheet's own measuring instruments."""
        return [name for name, (_, row) in self._rows.items() if row.kind == "measure"]

    def figures(self, name: str | None, kind: Kind, values: tuple[Quantity, ...], what: str = "") -> Figures | str:
        """Figures for one kind of quantity, or what is wrong with the name; "" where that was said already."""
        if name is None:
            return self.written_digits(values, kind, what)
        if name in self._broken:
            return ""
        known = self._rows.get(name)
        if known is None and name not in self._words.instruments:
            return f"unknown instrument {name!r}{nearest(name, self.names())}"
        if known is not None and known[1].kind == "gauge":
            return f"{name!r} is a gauge: it belongs in an entry of kind gauge"
        if (name, kind) not in self._figures:
            self._figures[name, kind] = self._read(name, kind)
        found = self._figures[name, kind]
        if (
            found is None
            and known is not None
            and not (known[1].resolution or known[1].preset in self._words.instruments)
        ):
            return ""
        return found if found is not None else f"{name!r} does not measure a {kind}"

    def written_digits(self, values: tuple[Quantity, ...], kind: Kind, what: str) -> Figures:
        """Assume of an unnamed instrument that its last written digit is its resolution.

        Calibration is taken as half a step and repeatability as a whole one, but neither as better than the tabled
        instruments that show such digits and suit the characteristic: to leave a name out never makes a reading surer.
        """
        step = max(value.last_place for value in values)
        calibration, repeatability = step / 2, step
        for name, row in self._words.instruments.items():
            suits = any(fnmatchcase(what, pattern) for pattern in row.get("suits", "").split())
            preset = self._preset(name, kind) if suits else None
            if preset is not None and preset.resolution <= step * 1.001:
                calibration = max(calibration, preset.calibration)
                repeatability = max(repeatability, preset.repeatability)
        return Figures("digits written", step, calibration, repeatability, ASSUMED_DOF, "assumed")

    def _preset(self, name: str, kind: Kind) -> Figures | None:
        row = self._words.instruments[name]
        try:
            step, offset, spread = (
                parse(row[key], kind).value for key in ("resolution", "calibration", "repeatability")
            )
        except UnitError:
            return None
        return Figures(name, step, offset, spread, ASSUMED_DOF, "judgement", row.get("suits", ""))

    def _read(self, name: str, kind: Kind) -> Figures | None:
        number, row = self._rows.get(name, (-1, InstrumentRow(name=name, preset=name)))
        preset = self._words.instruments.get(row.preset or "", {})
        texts = {key: getattr(row, key) or preset.get(key) for key in ("resolution", "calibration", "repeatability")}
        read: dict[str, float] = {}
        for key, text in texts.items():
            if text is None:
                continue
            try:
                value = parse(text, kind).value
            except UnitError:
                if key == "resolution" or number < 0:
                    return None
                self._faults.add(
                    f"instrument {number + 1} ({name})", f"{text!r} does not go with its resolution",
                    "instrument", number, key,
                )  # fmt: skip
                return None
            if value < 0 or (value == 0 and key == "resolution"):
                self._faults.add(
                    f"instrument {number + 1} ({name})",
                    f"must be above zero, got {text!r}",
                    "instrument",
                    number,
                    key,
                )
                return None
            read[key] = value
        if "resolution" not in read:
            return None
        resolution = read["resolution"]
        own = row.repeatability is not None
        dof = float(row.repeatability_n - 1) if row.repeatability_n and own else ASSUMED_DOF
        basis = "declared" if own and row.calibration is not None else "judgement" if preset else "assumed"
        return Figures(
            name=name,
            resolution=resolution,
            calibration=read.get("calibration", resolution / 2),
            repeatability=read.get("repeatability") or resolution / 2,
            dof=dof,
            basis=basis,
            suits=preset.get("suits", ""),
        )

    def gauge(self, name: str | None, kind: Kind | None) -> GaugeLimits | str | None:
        """A gauge's own limits; None by eye; or what is wrong with it."""
        if name is None or name in self._broken:
            return None
        known = self._rows.get(name)
        if known is None:
            own = [key for key, (_, row) in self._rows.items() if row.kind == "gauge"]
            return f"unknown gauge {name!r}{nearest(name, own) or '; describe it as an [[instrument]] of kind gauge'}"
        _, row = known
        if row.kind != "gauge":
            return f'{name!r} is not a gauge: set kind = "gauge" and what it accepts'
        if row.accepts is None or kind is None:
            return None
        try:
            lower, upper = (parse(text, kind).value for text in row.accepts)
            u = parse(row.u, kind).value if row.u else 0.0
        except UnitError as error:
            return str(error)
        if not lower < upper or u < 0:
            return f"{name!r} must accept a lower and a higher limit, with u of zero or more"
        return GaugeLimits(name, lower, upper, u, row.edition or "")
