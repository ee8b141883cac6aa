"""The sheets of the form in the order of the work: where the job stands, then readiness, last what the work costs and proves.

The verdict cells of the causes are put where they belong: those of a cylinder beside its readings, those of the engine
on Start.
"""

from __future__ import annotations

from dataclasses import replace

from workbook_tools.faults.causes import verdicts
from workbook_tools.form.customer import CUSTOMER
from workbook_tools.form.guide_sheet import GUIDE
from workbook_tools.form.repairs import REPAIRS
from workbook_tools.form.start import START
from workbook_tools.language.model import Result, Sheet, Table
from workbook_tools.sheets.cautions_sheet import CAUTIONS_SHEET
from workbook_tools.sheets.compression import COMPRESSION_SHEET
from workbook_tools.sheets.engine import ENGINE
from workbook_tools.sheets.fuel_and_air import FUEL_AND_AIR
from workbook_tools.sheets.ignition import IGNITION
from workbook_tools.sheets.job import JOB
from workbook_tools.sheets.recheck import RECHECK
from workbook_tools.sheets.spark_plugs import SPARK_PLUGS
from workbook_tools.sheets.vacuum import VACUUM_SHEET
from workbook_tools.sheets.warm_up import WARM_UP


def with_verdicts(sheet: Sheet, title: str, found: tuple[Result, ...]) -> Sheet:
    """The sheet with verdict cells beside the columns of one of its tables."""
    parts = tuple(
        replace(part, columns=(*part.columns, *found))
        if isinstance(part, Table) and part.title == title
        else part
        for part in sheet.parts
    )
    return replace(sheet, parts=parts)


SHEETS: tuple[Sheet, ...] = (
    START,
    JOB,
    ENGINE,
    WARM_UP,
    VACUUM_SHEET,
    with_verdicts(COMPRESSION_SHEET, "Wet test and leak-down", verdicts("compression", "cylinder")),
    with_verdicts(SPARK_PLUGS, "Plugs", verdicts("ignition", "cylinder")),
    IGNITION,
    FUEL_AND_AIR,
    REPAIRS,
    RECHECK,
    CUSTOMER,
    CAUTIONS_SHEET,
    GUIDE,
)
#: The sheets that a form shows. Guide is hidden in every form: whoever wants to look at it unhides it.
SHOWN: tuple[Sheet, ...] = tuple(sheet for sheet in SHEETS if sheet is not GUIDE)
