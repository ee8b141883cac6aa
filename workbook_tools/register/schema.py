"""The tables of the store, the same in an SQLite file and on a PostgreSQL server.

    register_info ......... name, value: the version of these tables
    register_files ........ one row a file of a shop's folder: its stamp, its digest, and what it is
    register_jobs ......... one row a job workbook's content: a number, and what it is known by (shop, sha256)
      register_findings, register_discrepancies, register_repairs, register_readings, register_lines: its parts, by place

Rows follow the dataclasses of `records.py` field by field. Content is known by the digest of the file's bytes, so a
moved or renamed file is not read again, and the same bytes in two places are one content with two files. The parts
follow the job's number, and no index is kept of the digests: rows are added at the end of each table, where random keys
would scatter every batch all over it (ten times the jobs were written with thirty times the bytes).
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import typing

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Date,
    Float,
    ForeignKeyConstraint,
    Integer,
    MetaData,
    Table,
    Text,
)

from workbook_tools.register.records import (
    DiscrepancyFacts,
    FindingFacts,
    JobFacts,
    LineFacts,
    ReadingFacts,
    RepairFacts,
)

#: Raise it with every change of the tables.
SCHEMA_VERSION = 2

_TYPES = {str: Text, int: Integer, float: Float, bool: Boolean, dt.date: Date}

metadata = MetaData()

info = Table(
    "register_info", metadata, Column("name", Text, primary_key=True), Column("value", Text, nullable=False)
)


def columns_of(kind: type) -> list[Column[typing.Any]]:
    """A column for each field of a dataclass; amounts of money are wide, a field that may be None may be null."""
    hints = typing.get_type_hints(kind)
    columns = []
    for field in dataclasses.fields(kind):
        choices = [each for each in typing.get_args(hints[field.name]) if each is not type(None)]
        plain = choices[0] if choices else hints[field.name]
        wide = BigInteger if field.name.endswith("_cents") else _TYPES[plain]
        columns.append(Column(field.name, wide, nullable=bool(choices)))
    return columns


def _part(name: str, kind: type) -> Table:
    """A table of a job's parts, in the order in which they stood."""
    return Table(
        name,
        metadata,
        Column("job", Integer, primary_key=True, autoincrement=False),
        Column("place", Integer, primary_key=True, autoincrement=False),
        *columns_of(kind),
        ForeignKeyConstraint(["job"], ["register_jobs.id"], ondelete="CASCADE"),
    )


jobs = Table(
    "register_jobs",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("shop", Text, nullable=False),
    Column("sha256", Text, nullable=False),
    *columns_of(JobFacts),
)
findings = _part("register_findings", FindingFacts)
discrepancies = _part("register_discrepancies", DiscrepancyFacts)
repairs = _part("register_repairs", RepairFacts)
readings = _part("register_readings", ReadingFacts)
lines = _part("register_lines", LineFacts)
#: What the rows of each table follow.
KINDS = {
    "jobs": JobFacts,
    "findings": FindingFacts,
    "discrepancies": DiscrepancyFacts,
    "repairs": RepairFacts,
    "readings": ReadingFacts,
    "lines": LineFacts,
}
PARTS = {
    "findings": findings,
    "discrepancies": discrepancies,
    "repairs": repairs,
    "readings": readings,
    "lines": lines,
}

#: `status` is one of JOB, BLANK, OTHER (no workbook of ours) and UNUSABLE, with `message` saying why. A job whose file is
#: gone stays, with the day since when; one whose file can't be read any more stays with the message.
files = Table(
    "register_files",
    metadata,
    Column("shop", Text, primary_key=True),
    Column("path", Text, primary_key=True),
    Column("size", BigInteger, nullable=False),
    Column("modified_ns", BigInteger, nullable=False),
    Column("sha256", Text, nullable=False),
    Column("judged_by", Text, nullable=False),
    Column("status", Text, nullable=False),
    Column("message", Text, nullable=False),
    Column("missing_since", Date),
)
JOB, BLANK, OTHER, UNUSABLE = "job", "blank", "other", "unusable"
