"""Make the small fonts a page carries within it from the shipped ones: ``python tools/webfonts.py``.

Latin, Greek letters of formulas, and the signs the program itself writes; what a person writes beyond them is shown in
the reader's own fonts. Needs fontTools and brotli (``pip install fonttools brotli``); its output is kept in the
project.
"""

from __future__ import annotations

from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

FONTS = Path(__file__).resolve().parent.parent / "src" / "carwright" / "publish" / "fonts"
SIGNS = [
    *range(0x20, 0x7F),
    *range(0xA0, 0x180),
    *range(0x391, 0x3CA),
    *(ord(sign) for sign in "–—\N{LEFT SINGLE QUOTATION MARK}’“”…−×′″⁄≤≥≈←→↑↓•·±²³½¼¾√∞χ"),
]


def main() -> None:
    """Write both weights."""
    for name in ("Regular", "Semibold"):
        font = TTFont(FONTS / f"SourceSans3-{name}.ttf")
        options = subset.Options(
            flavor="woff2", layout_features=["kern", "tnum", "lnum", "mark", "ccmp"], hinting=False
        )
        cut = subset.Subsetter(options)
        cut.populate(unicodes=SIGNS)
        cut.subset(font)
        font.flavor = "woff2"
        target = FONTS / "web" / f"SourceSans3-{name}.woff2"
        target.parent.mkdir(exist_ok=True)
        font.save(target)
        print(f"{target.relative_to(FONTS)}: {target.stat().st_size} bytes")


if __name__ == "__main__":
    main()
