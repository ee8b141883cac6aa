"""What the shop's own jobs taught: proven repairs by complaint and cause, for the guide of new forms.

experience_of("shop.store.sqlite")      of a store, a database, or the store beside a register
"""

from __future__ import annotations

from pathlib import Path

from workbook_tools.errors import UnusableFile
from workbook_tools.guide.fits import Experience
from workbook_tools.register.contents import one_row_a_job, proven_repairs, with_paths
from workbook_tools.register.make import STORE_SUFFIX
from workbook_tools.register.store import Store

REGISTER_SUFFIX = ".xlsx"


def experience_of(place: str, shop: str = "") -> Experience:
    """The proven repairs in a store (a file or URL), or in the store beside a register.

    Each job counts once a cause; with `shop` only that shop's jobs, else those of all shops in the store. Raises
    UnusableFile where there is no store, or none of this program.
    """
    path = Path(place)
    if path.suffix.lower() == REGISTER_SUFFIX:
        path = path.with_name(path.name.removesuffix(path.suffix) + STORE_SUFFIX)
        place = str(path)
    if "://" not in place and not path.is_file():
        raise UnusableFile(
            f"{path} does not exist, so there are no proven repairs to learn from; run engine-check register first, or name its store."
        )
    with Store.open(place, shop) as store:
        every_shop = not shop
        files = store.frame("files", every_shop)
        jobs = one_row_a_job(with_paths(store.frame("jobs", every_shop), files))
        repairs = store.frame("repairs", every_shop)
    return proven_repairs(jobs, repairs)
