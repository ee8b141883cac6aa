"""Pictures of a workbook's sheets as they print: `python -m tests.support.pictures FILE.xlsx OUTDIR`."""

from __future__ import annotations

import argparse
import shutil
import subprocess
import tempfile
from pathlib import Path

from tests.support.office import Office, OfficeError

DOTS_PER_INCH = 80


def draw_pages(
    office: Office, workbook: Path, folder: Path, dots_per_inch: int = DOTS_PER_INCH
) -> list[Path]:
    """Write one PNG for each printed page of `workbook` into `folder`, and return their paths in page order.

    Pages are called NAME-1.png and on (with leading zeros from ten pages up). Older pictures of the same
    workbook are removed first. Raises OfficeError where LibreOffice or poppler's pdftoppm is missing.
    """
    if shutil.which("pdftoppm") is None:
        raise OfficeError("pdftoppm is not installed: install it (on Debian: apt-get install poppler-utils)")
    folder.mkdir(parents=True, exist_ok=True)
    pattern = f"{workbook.stem}-*.png"
    for old in folder.glob(pattern):
        old.unlink()
    with tempfile.TemporaryDirectory() as temporary:
        pdf = Path(temporary, "pages.pdf")
        office.to_pdf(workbook, pdf)
        subprocess.run(
            ["pdftoppm", "-png", "-r", str(dots_per_inch), str(pdf), str(folder / workbook.stem)], check=True
        )
    return sorted(folder.glob(pattern))


def main() -> None:
    """Draw the pages of one workbook and print their paths."""
    parser = argparse.ArgumentParser(description="Draw the printed pages of a workbook as PNG files.")
    parser.add_argument("workbook", type=Path)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--dpi", type=int, default=DOTS_PER_INCH)
    options = parser.parse_args()
    with Office() as office:
        for page in draw_pages(office, options.workbook, options.folder, options.dpi):
            print(page)


if __name__ == "__main__":
    main()
