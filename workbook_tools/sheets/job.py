"""Sheet Job: whose engine it is, what is complained of, where and with which gauges the readings are taken."""

from __future__ import annotations

from workbook_tools.language.expressions import constant, largest, number, table
from workbook_tools.language.measures import (
    BAROMETER,
    COMPRESSION,
    DISTANCE,
    ELEVATION,
    FUEL_PRESSURE,
    TEMPERATURE,
    VACUUM,
)
from workbook_tools.language.model import Block, Field, Result, Sheet

COMPLAINTS = (
    "lacks power",
    "rough idle",
    "hard starting",
    "misfires",
    "uses oil",
    "overheats",
    "high fuel use",
    "knocks",
    "stalls",
    "does not start",
    "other",
)


elevation, barometer = number("site_elevation"), number("barometer")
standard = number("standard_pressure")
pressure_ratio = largest(0, 1 - elevation.or_zero / constant("elevation_scale"))
#: Weather reports reduce a barometer to sea level: it then stands above the standard at this height.
reduced_to_sea_level = elevation.known & (barometer - standard > constant("barometer_conflict"))

JOB = Sheet(
    name="Job",
    purpose="Say whose engine it is, what is wrong with it, and which gauges you use.",
    cost="5 minutes, no tools",
    parts=(
        Block(
            "Job and customer",
            (
                Field(
                    "job_number", "Job number", "text", help="the shop's own number; the key of the register"
                ),
                Field("date_in", "Date in", "date", help="day the engine came in"),
                Field("date_out", "Date out", "date", help="day it left; not before the date in"),
                Field("customer_name", "Customer", "text", wide=True),
                Field("customer_contact", "Customer's phone or mail", "text", wide=True),
                Field("technician", "Technician", "text", wide=True),
            ),
        ),
        Block(
            "Vehicle or machine",
            (
                Field(
                    "vehicle",
                    "Vehicle or machine",
                    "text",
                    help="make and model as the shop writes it",
                    wide=True,
                ),
                Field("vehicle_year", "Year", "whole", low=1900, high=2100),
                Field("plate", "Plate or fleet number", "text"),
                Field(
                    "engine_serial",
                    "Engine or chassis serial",
                    "text",
                    help="with the plate, the key of the engine's history",
                ),
                Field(
                    "odometer",
                    "Odometer or hours",
                    measure=DISTANCE,
                    low=0,
                    high=2_000_000,
                ),
                Field("odometer_unit", "Odometer unit", "choice", choices=("mi", "km", "h"), is_unit=True),
            ),
        ),
        Block(
            "Complaint",
            (
                Field("complaint", "Complaint", "choice", choices=COMPLAINTS),
                Field("complaint_notes", "In the customer's words", "text", wide=True, lines=2),
            ),
        ),
        Block(
            "Site",
            (
                Field(
                    "site_elevation",
                    "Height above sea level",
                    measure=ELEVATION,
                    low=-1500,
                    high=16_000,
                    help="of the shop; blank counts as 0; used where no barometer is read",
                ),
                Field(
                    "barometer",
                    "Barometer",
                    measure=BAROMETER,
                    low=15,
                    high=32,
                    help="station pressure as read here, not reduced to sea level as weather reports are",
                ),
                Field("air_temperature", "Air temperature", measure=TEMPERATURE, low=-40, high=130),
                Result(
                    "standard_pressure",
                    "Standard pressure at this height",
                    constant("sea_level_pressure") * pressure_ratio ** constant("pressure_exponent"),
                    BAROMETER,
                    help="U.S. Standard Atmosphere 1976",
                ),
                Result(
                    "station_pressure",
                    "Station pressure used",
                    table((barometer.missing | reduced_to_sea_level, standard), otherwise=barometer),
                    BAROMETER,
                    help="moves the limits for vacuum and compression",
                ),
            ),
        ),
        Block(
            "Gauges",
            (
                Field(
                    "vacuum_gauge_tolerance",
                    "Vacuum gauge, limit of error",
                    measure=VACUUM,
                    low=0,
                    high=3,
                    help="blank counts as none",
                ),
                Field(
                    "compression_gauge_tolerance",
                    "Compression gauge, limit of error",
                    measure=COMPRESSION,
                    low=0,
                    high=20,
                ),
                Field(
                    "fuel_gauge_tolerance", "Fuel gauge, limit of error", measure=FUEL_PRESSURE, low=0, high=2
                ),
                Field("vacuum_gauge_id", "Vacuum gauge, number", "text"),
                Field("compression_gauge_id", "Compression gauge, number", "text"),
                Field("gauges_checked_on", "Gauges last checked on", "date", help="against a reference"),
            ),
        ),
        Block(
            "Shop",
            (
                Field(
                    "shop_name",
                    "Shop",
                    "text",
                    help="stands above the bill; the specs book fills it in",
                    wide=True,
                    since=4,
                ),
                Field("shop_address", "Address", "text", wide=True, since=4),
                Field("shop_contact", "Telephone or mail", "text", wide=True, since=4),
                Field("shop_tax_number", "Tax number", "text", wide=True, since=4),
                Field("bill_note", "Note under every bill", "text", wide=True, since=4),
            ),
        ),
    ),
)
