"""The sheets of the form in the order of the work: first readiness, last what the work costs and proves."""

from __future__ import annotations

from workbook_tools.form.cautions_sheet import CAUTIONS_SHEET
from workbook_tools.form.compression import COMPRESSION_SHEET
from workbook_tools.form.engine import ENGINE
from workbook_tools.form.fuel_and_air import FUEL_AND_AIR
from workbook_tools.form.fuel_states import FUEL_SUMMARY
from workbook_tools.form.ignition import IGNITION
from workbook_tools.form.ignition_states import IGNITION_SUMMARY
from workbook_tools.form.job import JOB
from workbook_tools.form.recheck import RECHECK
from workbook_tools.form.repairs import REPAIRS
from workbook_tools.form.spark_plugs import SPARK_PLUGS
from workbook_tools.form.summary import summary_sheet
from workbook_tools.form.vacuum import VACUUM_SHEET
from workbook_tools.form.warm_up import WARM_UP
from workbook_tools.language.model import Sheet

SHEETS: tuple[Sheet, ...] = (
    JOB,
    ENGINE,
    WARM_UP,
    VACUUM_SHEET,
    COMPRESSION_SHEET,
    SPARK_PLUGS,
    IGNITION,
    FUEL_AND_AIR,
    REPAIRS,
    RECHECK,
    summary_sheet(ignition=IGNITION_SUMMARY, fuel=FUEL_SUMMARY),
    CAUTIONS_SHEET,
)
