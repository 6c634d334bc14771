"""Draw the icons of the web app: a wheelset between its limits. Run by hand: ``python tools/icons.py``."""

from __future__ import annotations

from pathlib import Path

from PIL import Image, ImageDraw

FOLDER = Path(__file__).resolve().parent.parent / "src" / "carwright" / "web" / "static"
GROUND, INK = "#0c5c63", "#fbfaf7"
SIDE = 512


def drawn() -> Image.Image:
    """The icon, with room around it for a mask."""
    icon = Image.new("RGB", (SIDE, SIDE), GROUND)
    pen = ImageDraw.Draw(icon)
    for sign in (-1, 1):
        x = SIDE // 2 + sign * 96
        pen.rectangle((min(x, x + sign * 44), 170, max(x, x + sign * 44), 342), fill=INK)
        pen.rectangle((min(x - sign * 16, x), 150, max(x - sign * 16, x), 362), fill=INK)
        pen.rectangle((min(x, x + sign * 60), 350, max(x, x + sign * 60), 366), fill=INK)
    pen.rectangle((160, 246, 352, 266), fill=INK)
    for x in (172, 340):
        pen.line((x, 110, x, 140), fill=INK, width=8)
    pen.line((172, 125, 340, 125), fill=INK, width=8)
    return icon


if __name__ == "__main__":
    for side in (192, 512):
        drawn().resize((side, side), Image.Resampling.LANCZOS).save(FOLDER / f"icon-{side}.png", optimize=True)
