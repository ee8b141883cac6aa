"""The store behind the register: an SQLite file beside it, or a database server that several shops share.

with Store.open("shop.sqlite", shop="") as store:
    store.known_files()                 what was read before, by path
    store.keep(batch)                   files and records, each batch as a whole or not at all
    store.forget_missing(paths)         files that are no longer there, and content that no file holds
    store.frame("jobs")                 a table as a pandas frame
"""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import pandas as pd
from sqlalchemy import Connection, Engine, Select, create_engine, delete, event, exists, inspect, select, text
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError, SQLAlchemyError
from sqlalchemy.schema import Table

from workbook_tools.errors import BadRequest, UnusableFile
from workbook_tools.register import schema
from workbook_tools.register.records import JobRecord

INSERTS = {"sqlite": sqlite.insert, "postgresql": postgresql.insert}
#: How long a run waits for another one that is writing to the same store.
PATIENCE_SECONDS = 60
ROWS_AT_ONCE = 500

Item = TypeVar("Item")


@dataclass(frozen=True)
class FileFacts:
    """One file of the folder: path from there with slashes, its stamp, the digest of its bytes, and what it is."""

    path: str
    size: int
    modified_ns: int
    sha256: str
    judged_by: str
    status: str
    message: str = ""


@dataclass(frozen=True)
class Kept:
    """A file with the record of its content; None where the store has that already, or it is no job."""

    file: FileFacts
    record: JobRecord | None


class Store:
    """The jobs of one shop in a database; other shops' jobs may lie beside them."""

    def __init__(self, engine: Engine, label: str, shop: str) -> None:
        self.engine = engine
        self.label = label
        self.shop = shop

    @classmethod
    @contextmanager
    def open(cls, place: str | Path, shop: str = "") -> Iterator[Store]:
        """A store at a path or SQLAlchemy URL, its tables made where it is new.

        Raises BadRequest for a kind of database that is not known, UnusableFile for one that can't be reached, is no
        store, or was written by a newer program.
        """
        url = _url(place)
        label = (
            url.render_as_string(hide_password=True)
            if url.host or url.drivername != "sqlite"
            else str(url.database)
        )
        store = cls(_engine(url), label, shop)
        try:
            store._prepare()
            yield store
        except SQLAlchemyError as problem:
            raise UnusableFile(_in_a_sentence(problem, label)) from problem
        finally:
            store.engine.dispose()

    def _prepare(self) -> None:
        with self._writing(locked=False) as connection:
            if inspect(connection).has_table(schema.info.name):
                self._check_version(connection)
                return
            schema.metadata.create_all(connection)
            insert = INSERTS[self.engine.dialect.name](schema.info).on_conflict_do_nothing()
            connection.execute(insert, [{"name": "schema_version", "value": str(schema.SCHEMA_VERSION)}])

    def _check_version(self, connection: Connection) -> None:
        found = connection.scalar(select(schema.info.c.value).where(schema.info.c.name == "schema_version"))
        version = int(found) if found and found.isdigit() else 0
        if version > schema.SCHEMA_VERSION:
            raise UnusableFile(
                f"The store {self.label} was written by a newer engine-check (its tables are version {version}, this program "
                f"knows {schema.SCHEMA_VERSION}); update this program, or name another store."
            )
        if version < schema.SCHEMA_VERSION:
            raise UnusableFile(
                f"The store {self.label} has tables of version {version}, which this program can't use; name another "
                "store, and the jobs are read into it anew."
            )

    def known_files(self) -> dict[str, FileFacts]:
        """Every file of this shop as it was found last, by path."""
        columns = [schema.files.c[field.name] for field in dataclasses.fields(FileFacts)]
        with self._writing(locked=False) as connection:
            rows = connection.execute(select(*columns).where(schema.files.c.shop == self.shop))
            return {row.path: FileFacts(*row) for row in rows}

    def folder(self) -> str:
        """The folder of this shop's last run, '' before the first."""
        with self._writing(locked=False) as connection:
            found = connection.scalar(
                select(schema.info.c.value).where(schema.info.c.name == self._folder_name)
            )
        return found or ""

    def note_folder(self, folder: str) -> None:
        """Note the folder of this run."""
        with self._writing() as connection:
            connection.execute(delete(schema.info).where(schema.info.c.name == self._folder_name))
            connection.execute(schema.info.insert(), [{"name": self._folder_name, "value": folder}])

    @property
    def _folder_name(self) -> str:
        return f"folder of {self.shop}"

    def known_contents(self, judged_by: str) -> set[str]:
        """Digests of the job contents that were judged by this program."""
        asked = select(schema.jobs.c.sha256).where(
            schema.jobs.c.shop == self.shop, schema.jobs.c.judged_by == judged_by
        )
        with self._writing(locked=False) as connection:
            return set(connection.scalars(asked))

    def keep(self, batch: Sequence[Kept]) -> None:
        """Store a batch of files with their records, in one transaction; what was kept of them before is replaced."""
        with self._writing() as connection:
            records = {each.file.sha256: each.record for each in batch if each.record is not None}
            self._drop_contents(connection, records)
            for table, rows in self._rows(records).items():
                self._insert(connection, table, rows)
            files = [{"shop": self.shop, **dataclasses.asdict(each.file)} for each in batch]
            for paths in _pieces([each["path"] for each in files]):
                here = schema.files.c.path.in_(paths)
                connection.execute(delete(schema.files).where(schema.files.c.shop == self.shop, here))
            self._insert(connection, schema.files, files)

    def forget_missing(self, paths: Collection[str]) -> list[str]:
        """Forget the files that are not among `paths`, and content that no file holds; returns the files that went."""
        there = set(paths)
        gone = sorted(path for path in self.known_files() if path not in there)
        held = exists().where(
            schema.files.c.shop == schema.jobs.c.shop, schema.files.c.sha256 == schema.jobs.c.sha256
        )
        with self._writing() as connection:
            for piece in _pieces(gone):
                here = schema.files.c.path.in_(piece)
                connection.execute(delete(schema.files).where(schema.files.c.shop == self.shop, here))
            unheld = select(schema.jobs.c.sha256).where(schema.jobs.c.shop == self.shop, ~held)
            self._drop_contents(connection, connection.scalars(unheld).all())
        return gone

    def shops(self) -> list[str]:
        """The shops that share the store."""
        with self._writing(locked=False) as connection:
            return list(
                connection.scalars(select(schema.files.c.shop).distinct().order_by(schema.files.c.shop))
            )

    def frame(self, name: str, every_shop: bool = False) -> pd.DataFrame:
        """The table `jobs`, `files`, `findings`, `discrepancies`, `repairs` or `readings` as a frame."""
        table = {"jobs": schema.jobs, "files": schema.files, **schema.PARTS}[name]
        keys = [column for column in table.primary_key.columns]
        asked: Select[Any] = select(table).order_by(*keys)
        if not every_shop:
            asked = asked.where(table.c.shop == self.shop)
        with self._writing(locked=False) as connection:
            return pd.read_sql(asked, connection)

    # --- rows --------------------------------------------------------------------------------------------------------

    def _rows(self, records: Mapping[str, JobRecord]) -> dict[Table, list[dict[str, object]]]:
        rows: dict[Table, list[dict[str, object]]] = {
            schema.jobs: [],
            **{table: [] for table in schema.PARTS.values()},
        }
        for sha256, record in records.items():
            key = {"shop": self.shop, "sha256": sha256}
            rows[schema.jobs].append(key | dataclasses.asdict(record.job))
            for name, table in schema.PARTS.items():
                for place, part in enumerate(getattr(record, name)):
                    rows[table].append(key | {"place": place} | dataclasses.asdict(part))
        return rows

    def _insert(self, connection: Connection, table: Table, rows: Sequence[Mapping[str, object]]) -> None:
        for piece in _pieces(rows):
            connection.execute(table.insert(), piece)

    def _drop_contents(self, connection: Connection, digests: Iterable[str]) -> None:
        for piece in _pieces(list(digests)):
            for table in (*schema.PARTS.values(), schema.jobs):
                connection.execute(delete(table).where(table.c.shop == self.shop, table.c.sha256.in_(piece)))

    @contextmanager
    def _writing(self, locked: bool = True) -> Iterator[Connection]:
        """A transaction; a locked one waits for other writers, so that two runs at once do not undo each other."""
        with self.engine.begin() as connection:
            if locked and self.engine.dialect.name == "postgresql":
                connection.execute(text(f"LOCK TABLE {schema.info.name} IN SHARE ROW EXCLUSIVE MODE"))
            yield connection


def _url(place: str | Path) -> URL:
    asked = str(place)
    if "://" not in asked:
        return URL.create("sqlite", database=asked)
    try:
        url = make_url(asked)
    except ArgumentError as problem:
        raise BadRequest(
            f"{asked} is no address of a database; write postgresql://USER@HOST/DATABASE."
        ) from problem
    # The driver that this project is tested with, where none is named.
    return url.set(drivername="postgresql+psycopg") if url.drivername in ("postgresql", "postgres") else url


def _engine(url: URL) -> Engine:
    kind = url.get_backend_name()
    if kind not in INSERTS:
        raise BadRequest(
            f"A store is an SQLite file or a PostgreSQL database, not {kind}; name one of these."
        )
    try:
        if kind == "postgresql":
            return create_engine(url)
        engine = create_engine(url, connect_args={"timeout": PATIENCE_SECONDS})
    except (ImportError, NoSuchModuleError) as problem:
        raise BadRequest(
            f"The driver for {url.drivername} is not installed; pip install 'workbook-tools[postgresql]' installs it."
        ) from problem
    event.listen(engine, "connect", _leave_transactions_to_us)
    # Taken at once, the lock makes a second run wait at its beginning and not fail in the middle.
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("BEGIN IMMEDIATE"))
    return engine


def _leave_transactions_to_us(connection: Any, _: object) -> None:
    connection.isolation_level = None


def _pieces(rows: Sequence[Item], at_once: int = ROWS_AT_ONCE) -> Iterator[list[Item]]:
    for start in range(0, len(rows), at_once):
        yield list(rows[start : start + at_once])


def _in_a_sentence(problem: SQLAlchemyError, label: str) -> str:
    """The database's own first line, without the statement and its values."""
    original = getattr(problem, "orig", None) or problem
    told = str(original).strip().splitlines()
    reason = told[0].rstrip(".") if told else type(original).__name__
    return (
        f"The store {label} can't be used ({reason}); check its name and its rights, or name another store."
    )
