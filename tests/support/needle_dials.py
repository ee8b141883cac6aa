"""The dials beside the choices of what the needle does, drawn anew: `python -m tests.support.needle_dials`.

Each shows where the needle stands or how far it moves, and below that its way over some seconds. Own drawings; what each
needle does is common practice, no source (the choices and what they suggest: `workbook_tools.sheets.vacuum`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

from PIL import Image, ImageDraw

import workbook_tools.generate
from workbook_tools.generate.pictures import DIALS, file_of
from workbook_tools.generate.styles import BLUE, GREY, LINE, VERMILLION
from workbook_tools.sheets.vacuum import NEEDLE

#: Shown size in pixels of 96 an inch; drawn larger and made smaller, so that lines are smooth.
WIDTH, HEIGHT, FINE, DENSITY = 92, 74, 8, 2
#: Where a sound needle stands on a scale of 30, and the angles of both ends of the scale.
SOUND, FULL, FROM, TO = 19.0, 30.0, 200.0, 340.0
STEPS = 240


def _notch(at: float, depth: float) -> float:
    """A short drop in the middle of a beat, `at` from 0 to 1."""
    return depth * max(0.0, 1 - abs(at - 0.5) / 0.12)


#: Vacuum in the units of the scale over the time shown, 0 to 1.
WAYS: dict[str, Callable[[float], float]] = {
    "steady": lambda t: SOUND,
    "evenly spaced drops": lambda t: SOUND - _notch(t * 5 % 1, 5),
    "occasional drops": lambda t: SOUND - _notch(t * 5 % 1, 5) * (0.18 < t < 0.4 or 0.8 < t),
    "fast flutter": lambda t: SOUND - 1.5 + 2.2 * math.sin(2 * math.pi * t * 14),
    "slow wander": lambda t: SOUND - 2.5 + 2.2 * math.sin(2 * math.pi * t * 1.2),
    "wide regular swing": lambda t: SOUND - 5 + 6.5 * math.sin(2 * math.pi * t * 4),
}


def dial(choice: str) -> Image.Image:
    """One dial, twice as many pixels as it is shown with."""
    scale = FINE
    picture = Image.new("RGB", (WIDTH * scale, HEIGHT * scale), "white")
    draw = ImageDraw.Draw(picture)
    middle, base, radius = WIDTH / 2 * scale, 44 * scale, 37 * scale

    def angle(vacuum: float) -> float:
        return math.radians(FROM + (TO - FROM) * vacuum / FULL)

    def on(vacuum: float, share: float) -> tuple[float, float]:
        turned = angle(vacuum)
        return middle + radius * share * math.cos(turned), base + radius * share * math.sin(turned)

    box = (middle - radius, base - radius, middle + radius, base + radius)
    held = [WAYS[choice](step / STEPS) for step in range(STEPS + 1)]
    low, high = min(held), max(held)
    if high - low > 0.5:
        draw.pieslice(box, math.degrees(angle(low)), math.degrees(angle(high)), fill="#F6D2BC")
    draw.arc(box, FROM, TO, fill=GREY, width=scale)
    for mark in range(0, 31, 5):
        draw.line((on(mark, 1), on(mark, 0.86 if mark % 10 else 0.78)), fill=GREY, width=scale)
    if high - low > 0.5:
        draw.line(((middle, base), on(low, 0.9)), fill=VERMILLION, width=2 * scale)
    draw.line(((middle, base), on(high, 0.9)), fill=BLUE, width=2 * scale)
    draw.ellipse((middle - 3 * scale, base - 3 * scale, middle + 3 * scale, base + 3 * scale), fill=BLUE)
    left, right, floor, room = 4 * scale, (WIDTH - 4) * scale, (HEIGHT - 2) * scale, 22 * scale
    draw.line((left, floor, right, floor), fill=LINE, width=scale)
    way = [
        (left + (right - left) * step / STEPS, floor - 2 * scale - room * (vacuum - 6) / 16)
        for step, vacuum in enumerate(held)
    ]
    draw.line(way, fill=BLUE, width=int(1.6 * scale), joint="curve")
    return picture.resize((WIDTH * DENSITY, HEIGHT * DENSITY), Image.Resampling.LANCZOS)


def main() -> None:
    """Draw all of them."""
    DIALS.mkdir(exist_ok=True)
    for choice in NEEDLE:
        flat = dial(choice).quantize(32, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
        flat.save(file_of(choice), optimize=True, dpi=(96 * DENSITY, 96 * DENSITY))
        print(file_of(choice).relative_to(Path(workbook_tools.generate.__file__).parent))


if __name__ == "__main__":
    main()
