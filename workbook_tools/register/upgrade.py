"""Tables of an earlier version brought to today's, with all that is in them: an archive loses nothing to a new program."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Column, Connection, Integer, MetaData, Table, Text, select, text, update

from workbook_tools.register import schema
from workbook_tools.register.records import (
    DiscrepancyFacts,
    FindingFacts,
    JobFacts,
    ReadingFacts,
    RepairFacts,
)

#: Fields of a job that the first version had not, and what they are where nothing is known.
_NOT_IN_1: dict[str, Any] = {
    "invoice_number": "",
    "invoice_date": None,
    "paid_on": None,
    "tax_percent": None,
    "station_pressure": None,
    "compression_min": None,
    "vacuum_min": None,
}
_KEY_OF_1 = ("shop", "sha256")


def upgrade(connection: Connection, version: int) -> bool:
    """Bring the tables from that version to today's, in the transaction that is open; False where it is not known."""
    if version != 1:
        return False
    old = MetaData()
    jobs = _table_of_1(old, "register_jobs", JobFacts)
    parts = {
        "findings": _table_of_1(old, "register_findings", FindingFacts),
        "discrepancies": _table_of_1(old, "register_discrepancies", DiscrepancyFacts),
        "repairs": _table_of_1(old, "register_repairs", RepairFacts),
        "readings": _table_of_1(old, "register_readings", ReadingFacts),
    }
    held = [dict(row) for row in connection.execute(select(jobs).order_by(*jobs.primary_key)).mappings()]
    number = {(row["shop"], row["sha256"]): place for place, row in enumerate(held, start=1)}
    held_parts = {
        name: [dict(row) for row in connection.execute(select(table)).mappings()]
        for name, table in parts.items()
    }
    for table in (*parts.values(), jobs):
        table.drop(connection)
    connection.execute(text(f"ALTER TABLE {schema.files.name} ADD COLUMN missing_since DATE"))
    connection.execute(text("DROP INDEX IF EXISTS register_files_by_content"))
    schema.metadata.create_all(connection)
    if held:
        rows = [row | _NOT_IN_1 | {"id": number[row["shop"], row["sha256"]]} for row in held]
        connection.execute(schema.jobs.insert(), rows)
    for name, part_rows in held_parts.items():
        rows = [
            {key: value for key, value in row.items() if key not in _KEY_OF_1}
            | {"job": number[row["shop"], row["sha256"]]}
            for row in part_rows
        ]
        if rows:
            connection.execute(schema.PARTS[name].insert(), rows)
    is_version = schema.info.c.name == "schema_version"
    connection.execute(update(schema.info).where(is_version).values(value=str(schema.SCHEMA_VERSION)))
    return True


def _table_of_1(metadata: MetaData, name: str, kind: type) -> Table:
    place = () if kind is JobFacts else (Column("place", Integer, primary_key=True, autoincrement=False),)
    columns = [
        column for column in schema.columns_of(kind) if kind is not JobFacts or column.name not in _NOT_IN_1
    ]
    keys = (Column(each, Text, primary_key=True) for each in _KEY_OF_1)
    return Table(name, metadata, *keys, *place, *columns)
