"""All pictures of the documentation made anew: `python -m tests.support.doc_pictures [NAME ...]`.

What they show is invented: the sample job S-101 at several moments of its work, and the jobs of a shop that does not
exist. Each picture is a cut from a printed page, between two headings, so that it follows the form when that changes.
Needs LibreOffice and poppler.
"""

from __future__ import annotations

import argparse
import datetime as dt
import html
import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from openpyxl import load_workbook
from PIL import Image, ImageChops, ImageOps

from tests.support.make_samples import CHECKED_AT, ROOT, entries, jobs
from tests.support.many_jobs import write_jobs
from tests.support.office import Office
from workbook_tools import check_workbook, fill_workbook, new_workbook
from workbook_tools.register.make import make_register
from workbook_tools.specs.book import spec_columns
from workbook_tools.specs.sheet import FIRST_ROW, write_specs_book

PICTURES = ROOT / "docs" / "pictures"
DOTS_PER_INCH = 200
WIDEST = 1000
#: As many colours as a form hardly needs, then fewer while a picture is heavier than a page should wait for.
COLOURS = (64, 32, 16)
MOST_BYTES = 100_000
#: Room left above a heading, in points, and white around a picture, in dots.
ABOVE, AROUND = 3.0, 12
#: What was typed when half of the work was done: up to the dry readings.
HALF_DONE = re.compile(
    r"spec_|job|date_in|customer|vehicle|plate|complaint|site|engine|ignition|system|throttle|all_plugs|compression_(s|f|d)"
)
READY = {"coolant_temperature": 158, "oil_pressure": None, "idle_speed": 555, "battery_cranking": 10.6}
REPAIRED: Mapping[str, object] = {
    "date_out": dt.date(2026, 3, 5),
    "work_1": "Head off, exhaust valve and seat ground, new gasket",
    "work_cause_1": "leaking_valve",
    "part_1": "Gasket set",
    "quantity_1": 1,
    "unit_price_1": 48.9,
    "hours_1": 6.5,
    "part_2": "Exhaust valve",
    "quantity_2": 1,
    "unit_price_2": 21.35,
    "labour_rate": 58,
    "tax_percent": 7.25,
    "tax_on": "parts",
    "after_compression_2": 125,
    "after_compression_3": 124,
    "after_compression_4": 125,
    "after_leakdown_3": 8,
    "released_by": "Technician A (invented)",
    "released_on": dt.date(2026, 3, 5),
}


@dataclass(frozen=True)
class Shot:
    """One picture: a workbook, the name of a sheet, and the words between which its page is cut.

    Without an `end` it goes to the end of the page, or as many points down as are `most`.
    """

    book: str
    sheet: str
    start: str
    end: str = ""
    most: float = 1000.0


SHOTS: dict[str, Shot] = {
    "compression": Shot("checked", "Compression", "Compression", "All cylinders together"),
    "findings": Shot("checked", "Findings", "Findings", "Discrepancies"),
    "start-job": Shot("empty", "Job", "Job", "Complaint"),
    "start-marks": Shot("half", "Warm-up", "Engine warm, at idle", "Air cleaner"),
    "start-glance": Shot("half", "Start", "Start"),
    "start-recheck": Shot("repaired", "Recheck", "Compression and leak-down again", "All cylinders together"),
    "start-repairs": Shot("repaired", "Repairs", "Repairs", "Line 5"),
    "start-bill": Shot("repaired", "Repairs", "Bill"),
    "start-proof": Shot("repaired", "Findings", "Before and after the repair", "Cautions"),
    "specs-book": Shot("specs", "Engines", "Engine specifications", most=140),
    "register-jobs": Shot("register", "Jobs", "Jobs", "J-00049"),
    "register-history": Shot("register", "Histories", "Histories"),
}


# --- the workbooks ------------------------------------------------------------------------------------------


def sample_form(folder: Path, readings: Mapping[str, object], name: str) -> Path:
    """The form of S-101 with some readings in it."""
    form = new_workbook(folder / "form.xlsx", cylinders=4, firing_order="1-3-4-2")
    fill_workbook(form, readings, folder / f"{name}.xlsx")
    return folder / f"{name}.xlsx"


def empty(folder: Path) -> Path:
    """A form as it comes, with its job number."""
    return new_workbook(folder / "empty.xlsx", cylinders=4, firing_order="1-3-4-2", job_number="117")


def half(folder: Path) -> Path:
    """S-101 with the dry readings just taken."""
    typed = {name: value for name, value in entries(jobs()[0]).items() if HALF_DONE.match(name)}
    return sample_form(folder, typed | READY, "half")


def checked(folder: Path) -> Path:
    """S-101 as it was checked."""
    done = sample_form(folder, entries(jobs()[0]), "checked")
    check_workbook(done, now=CHECKED_AT)
    return done


def repaired(folder: Path) -> Path:
    """S-101 after its repair, checked once more."""
    done = sample_form(folder, entries(jobs()[0]) | REPAIRED, "repaired")
    check_workbook(done, now=CHECKED_AT)
    return done


def specs(folder: Path) -> Path:
    """A specs book with the engines of two sample jobs."""
    return fill_specs(write_specs_book(folder / "specs.xlsx"))


def fill_specs(path: Path) -> Path:
    """Type the engines of two sample jobs into a specs book, as a person would."""
    book = load_workbook(path)
    for row, job in enumerate(jobs()[:2], start=FIRST_ROW + 1):
        shape = {
            "cylinder_count": job.cylinders,
            "cylinder_banks": job.banks,
            "firing_order": job.firing_order,
        }
        typed = shape | entries(job)
        for number, column in enumerate(spec_columns(), start=1):
            book["Engines"].cell(row, number, typed.get(column.name))
    book.save(path)
    return path


def register(folder: Path) -> Path:
    """The register of an invented shop's jobs."""
    write_jobs(folder / "jobs", count=60, engine_count=14)
    make_register(folder / "jobs", folder / "register.xlsx")
    return folder / "register.xlsx"


BOOKS: dict[str, Callable[[Path], Path]] = {
    "empty": empty,
    "half": half,
    "checked": checked,
    "repaired": repaired,
    "specs": specs,
    "register": register,
}


# --- the cuts -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Word:
    """A printed word: its text, left and upper edge in points."""

    text: str
    left: float
    top: float


@dataclass(frozen=True)
class Page:
    """A printed page: its number, size in points, and words."""

    number: int
    width: float
    height: float
    words: tuple[Word, ...]

    @property
    def bottom(self) -> float:
        """Upper edge of the lowest line: that of the sheet's name and the number of the page."""
        return max(word.top for word in self.words)

    @property
    def footer(self) -> str:
        """The words of that line."""
        last = [word for word in self.words if abs(word.top - self.bottom) < 2]
        return " ".join(word.text for word in sorted(last, key=lambda word: word.left))

    def top_of(self, heading: str, below: float = -1.0) -> float | None:
        """Upper edge of the first such words further down than `below`, None where there are none."""
        wanted = heading.split()
        texts = [word.text for word in self.words]
        tops = [
            word.top
            for place, word in enumerate(self.words)
            if texts[place : place + len(wanted)] == wanted and word.top > below
        ]
        return min(tops, default=None)


def pages_of(pdf: Path) -> list[Page]:
    """The pages of a printed workbook with their words."""
    told = subprocess.run(["pdftotext", "-bbox", str(pdf), "-"], check=True, capture_output=True, text=True)
    pages = []
    for number, page in enumerate(re.findall(r"<page (.*?)</page>", told.stdout, re.DOTALL), start=1):
        width, height = (float(size) for size in re.findall(r'(?:width|height)="([\d.]+)"', page)[:2])
        words = re.findall(r'xMin="([\d.]+)" yMin="([\d.]+)"[^>]*>(.*?)</word>', page)
        found = [Word(html.unescape(text), float(left), float(top)) for left, top, text in words]
        pages.append(Page(number, width, height, tuple(found)))
    return pages


def cut(pdf: Path, pages: list[Page], shot: Shot) -> Image.Image:
    """The part of a page that a shot shows, without its white edges; fails where the headings are not there."""
    for page in pages:
        starts = page.top_of(shot.start)
        if not page.footer.startswith(f"{shot.sheet} ") or starts is None:
            continue
        ends = page.top_of(shot.end, starts) if shot.end else None
        ends = min(page.bottom if ends is None else ends, starts + shot.most)
        return _drawn(pdf, page, max(0.0, starts - ABOVE), ends - ABOVE)
    raise ValueError(
        f"no page of {shot.sheet} holds the words {shot.start!r}: give the headings that it has now"
    )


def _drawn(pdf: Path, page: Page, top: float, bottom: float) -> Image.Image:
    scale = DOTS_PER_INCH / 72
    box = ["-x", "0", "-y", f"{top * scale:.0f}", "-W", f"{page.width * scale:.0f}"]
    box += ["-H", f"{(bottom - top) * scale:.0f}"]
    pages = ["-f", str(page.number), "-l", str(page.number)]
    command = ["pdftoppm", "-r", str(DOTS_PER_INCH), *pages, *box, str(pdf), str(pdf.with_suffix(""))]
    subprocess.run(command, check=True)
    (drawn,) = pdf.parent.glob(f"{pdf.stem}-*.ppm")
    image = Image.open(drawn).convert("RGB")
    drawn.unlink()
    inked = ImageChops.difference(image, Image.new("RGB", image.size, "white")).getbbox()
    assert inked is not None
    return ImageOps.expand(image.crop(inked), AROUND, "white")


def save(image: Image.Image, path: Path) -> None:
    """A picture of few colours, no wider than a page and no heavier than MOST_BYTES; ValueError if it is."""
    if image.width > WIDEST:
        image = image.resize((WIDEST, round(image.height * WIDEST / image.width)), Image.Resampling.LANCZOS)
    for colours in COLOURS:
        image.quantize(colours, dither=Image.Dither.NONE).save(path, optimize=True)
        if path.stat().st_size < MOST_BYTES:
            return
    raise ValueError(
        f"{path.name} has {path.stat().st_size} bytes, more than {MOST_BYTES}: cut less of the page"
    )


def main() -> None:
    """Make the pictures named, or all."""
    parser = argparse.ArgumentParser(description="Make the pictures of the documentation anew.")
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(SHOTS))
    wanted = parser.parse_args().names or list(SHOTS)
    if shutil.which("pdftoppm") is None:
        raise SystemExit("pdftoppm is not installed: install poppler-utils")
    PICTURES.mkdir(parents=True, exist_ok=True)
    with Office() as office, tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        for book in dict.fromkeys(SHOTS[name].book for name in wanted):
            pdf = folder / f"{book}.pdf"
            office.to_pdf(BOOKS[book](folder), pdf)
            pages = pages_of(pdf)
            for name in (each for each in wanted if SHOTS[each].book == book):
                save(cut(pdf, pages, SHOTS[name]), PICTURES / f"{name}.png")
                print(PICTURES / f"{name}.png")


if __name__ == "__main__":
    main()
