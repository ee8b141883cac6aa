"""The sample jobs of an invented shop, as a spreadsheet program saved them filled.

    write_sample(folder)        copies of the filled workbooks, ready to be checked

They are stored once, in `sample_workbooks` of the repository; an installed package carries them inside.
"""

from __future__ import annotations

from pathlib import Path

from workbook_tools.errors import UnusableFile
from workbook_tools.package.safe_write import replace_file

PACKAGED = Path(__file__).parent.parent / "sample_jobs"
IN_CHECKOUT = Path(__file__).parent.parent.parent / "sample_workbooks"


def filled_workbooks() -> list[Path]:
    """The filled sample workbooks by name, from the installed package or the checkout.

    Raises UnusableFile where the package was installed without them.
    """
    for home in (PACKAGED, IN_CHECKOUT):
        found = sorted((home / "filled").glob("*.xlsx"))
        if found:
            return found
    raise UnusableFile("The sample workbooks are missing from this installation; install the package again.")


def write_sample(folder: str | Path) -> list[Path]:
    """Write copies of the filled sample workbooks into `folder`, made where missing; return their paths.

    Raises UnusableFile, with nothing written, where a file of the same name is there with something else in
    it: it may hold somebody's work.
    """
    target = Path(folder)
    try:
        target.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise UnusableFile(
            f"The folder {target} can't be made ({problem.strerror}); choose another."
        ) from problem
    copies = {target / shipped.name: shipped.read_bytes() for shipped in filled_workbooks()}
    for path, content in copies.items():
        if path.exists() and (not path.is_file() or path.read_bytes() != content):
            raise UnusableFile(f"{path} is there already and is no untouched sample; choose another folder.")
    for path, content in copies.items():
        if not path.exists():
            replace_file(path, content)
    return list(copies)
