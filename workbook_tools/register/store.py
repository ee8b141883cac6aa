"""The store behind the register: an SQLite file beside it, or a database server that several shops share.

with Store.open("shop.sqlite", shop="") as store:
    store.known_files()                 what was read before, by path
    store.keep(batch)                   files and records, each batch as a whole or not at all
    store.mark_missing(paths, day)      files that are no longer there; their jobs stay
    store.forget(paths)                 files to be dropped, and content that no file holds
    store.frame("jobs")                 a table as a pandas frame
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import pandas as pd
from sqlalchemy import (
    Connection,
    Engine,
    create_engine,
    delete,
    event,
    func,
    inspect,
    select,
    text,
    update,
)
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError, SQLAlchemyError
from sqlalchemy.schema import Table

from workbook_tools.errors import BadRequest, EngineCheckError, UnusableFile
from workbook_tools.register import schema
from workbook_tools.register.records import JobRecord
from workbook_tools.register.upgrade import upgrade

INSERTS = {"sqlite": sqlite.insert, "postgresql": postgresql.insert}
#: How long a run waits for another one that is writing to the same store.
PATIENCE_SECONDS = 60
ROWS_AT_ONCE = 500
#: A number of our own, under which runs that begin at once wait for each other on a server.
FIRST_RUN = 7_241_937

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
    missing_since: dt.date | None = None


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
        #: Number of each content of this shop by its digest, and the last number that was looked at.
        self._numbers: dict[str, int] = {}
        self._looked_at = 0
        self._is_long_run = False

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
            if self.engine.dialect.name == "postgresql":
                # Several first runs at once would each make the tables.
                connection.execute(select(func.pg_advisory_xact_lock(FIRST_RUN)))
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
        if version < schema.SCHEMA_VERSION and not upgrade(connection, version):
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
            # Nobody else writes meanwhile, so the next numbers are free.
            last = connection.scalar(select(func.max(schema.jobs.c.id))) or 0
            for table, rows in self._rows(records, last + 1).items():
                self._insert(connection, table, rows)
            files = {each.file.path: {"shop": self.shop, **vars(each.file)} for each in batch}
            self._drop_files(connection, files)
            self._insert(connection, schema.files, list(files.values()))

    def mark_missing(self, paths: Iterable[str], since: dt.date | None) -> None:
        """Note since when files are missing; None for files that are there again."""
        with self._writing() as connection:
            for piece in _pieces(list(paths)):
                here = self._is_mine & schema.files.c.path.in_(piece)
                connection.execute(update(schema.files).where(here).values(missing_since=since))

    def forget(self, paths: Iterable[str] = ()) -> None:
        """Drop files, and content that no file holds."""
        held = select(schema.files.c.sha256).where(self._is_mine)
        with self._writing() as connection:
            self._drop_files(connection, paths)
            of_shop = schema.jobs.c.shop == self.shop
            unheld = select(schema.jobs.c.sha256).where(of_shop, schema.jobs.c.sha256.not_in(held))
            self._drop_contents(connection, connection.scalars(unheld).all())

    def numbers(self) -> dict[str, tuple[str, str, dt.date | None]]:
        """What tells each content: its job number, the digest of what was typed, and the day in, by its digest."""
        table = schema.jobs.c
        asked = select(table.sha256, table.job_number, table.typed_digest, table.date_in)
        with self._writing(locked=False) as connection:
            rows = connection.execute(asked.where(table.shop == self.shop))
            return {row.sha256: (row.job_number, row.typed_digest, row.date_in) for row in rows}

    def shops(self) -> list[str]:
        """The shops that share the store."""
        with self._writing(locked=False) as connection:
            return list(
                connection.scalars(select(schema.files.c.shop).distinct().order_by(schema.files.c.shop))
            )

    def frame(self, name: str, every_shop: bool = False) -> pd.DataFrame:
        """The table `jobs`, `files`, `findings`, `discrepancies`, `repairs`, `readings` or `lines` as a frame.

        A part has the shop and content of its job. Raises UnusableFile where the database does not hold what was stored.
        """
        jobs, files = schema.jobs, schema.files
        if name == "files":
            asked, of_shop = select(files).order_by(files.c.shop, files.c.path), files.c.shop
        elif name == "jobs":
            columns = [column for column in jobs.columns if column.name != "id"]
            asked, of_shop = select(*columns).order_by(jobs.c.shop, jobs.c.sha256), jobs.c.shop
        else:
            part = schema.PARTS[name]
            columns = [column for column in part.columns if column.name != "job"]
            asked = select(jobs.c.shop, jobs.c.sha256, *columns).join_from(
                part, jobs, part.c.job == jobs.c.id
            )
            asked, of_shop = asked.order_by(jobs.c.shop, jobs.c.sha256, part.c.place), jobs.c.shop
        if not every_shop:
            asked = asked.where(of_shop == self.shop)
        with self._writing(locked=False) as connection:
            found = pd.read_sql(asked, connection)
            _refuse_spoilt(found, FileFacts if name == "files" else schema.KINDS[name])
            return found

    # --- rows --------------------------------------------------------------------------------------------------------

    @property
    def _is_mine(self) -> Any:
        return schema.files.c.shop == self.shop

    def _rows(self, records: Mapping[str, JobRecord], first: int) -> dict[Table, list[dict[str, object]]]:
        rows: dict[Table, list[dict[str, object]]] = {
            schema.jobs: [],
            **{table: [] for table in schema.PARTS.values()},
        }
        for number, (sha256, record) in enumerate(records.items(), start=first):
            rows[schema.jobs].append({"id": number, "shop": self.shop, "sha256": sha256} | vars(record.job))
            for name, table in schema.PARTS.items():
                parts = enumerate(getattr(record, name))
                rows[table] += [{"job": number, "place": place} | vars(part) for place, part in parts]
        return rows

    def _insert(self, connection: Connection, table: Table, rows: Sequence[Mapping[str, object]]) -> None:
        for piece in _pieces(rows):
            connection.execute(table.insert(), piece)

    def _drop_files(self, connection: Connection, paths: Iterable[str]) -> None:
        for piece in _pieces(list(paths)):
            connection.execute(delete(schema.files).where(self._is_mine, schema.files.c.path.in_(piece)))

    def _drop_contents(self, connection: Connection, digests: Iterable[str]) -> None:
        """Drop contents; called while nobody else writes.

        Which number a content has is remembered, and only what was added since is asked for: an index of digests costs
        more at every batch than all the rest.
        """
        jobs, digests = schema.jobs, list(digests)
        of_shop = jobs.c.shop == self.shop
        if not self._is_long_run and len(digests) <= ROWS_AT_ONCE:
            # Mostly there is one batch, of a new job or two: the database looks for those itself.
            self._is_long_run = True
            found = connection.execute(select(jobs.c.id).where(of_shop, jobs.c.sha256.in_(digests)))
            self._drop_numbers(connection, [row.id for row in found])
            return
        added = select(jobs.c.id, jobs.c.sha256).where(of_shop, jobs.c.id > self._looked_at)
        for row in connection.execute(added):
            self._numbers[row.sha256] = row.id
            self._looked_at = max(self._looked_at, row.id)
        known = [digest for digest in digests if digest in self._numbers]
        self._drop_numbers(connection, [self._numbers.pop(digest) for digest in known])

    def _drop_numbers(self, connection: Connection, numbers: Sequence[int]) -> None:
        for piece in _pieces(numbers):
            for table in schema.PARTS.values():
                connection.execute(delete(table).where(table.c.job.in_(piece)))
            connection.execute(delete(schema.jobs).where(schema.jobs.c.id.in_(piece)))

    @contextmanager
    def _writing(self, locked: bool = True) -> Iterator[Connection]:
        """A transaction; a locked one waits for other writers, so that two runs at once do not undo each other."""
        with self.engine.begin() as connection:
            if locked and self.engine.dialect.name == "postgresql":
                connection.execute(text(f"LOCK TABLE {schema.info.name} IN SHARE ROW EXCLUSIVE MODE"))
            try:
                yield connection
            except (EngineCheckError, SQLAlchemyError):
                raise
            except (ValueError, TypeError, OverflowError, pd.errors.DatabaseError) as problem:
                # What the database gave is no date, no number or no text.
                raise UnusableFile(
                    f"The store {self.label} is damaged: what is in it can't be read; take it from a backup, or name another "
                    "store, and the jobs are read into it anew."
                ) from problem


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


def _refuse_spoilt(frame: pd.DataFrame, facts: type) -> None:
    """Raises ValueError where a column of amounts, numbers or texts holds something else, as a damaged file does."""
    for name, kind in ((field.name, str(field.type)) for field in dataclasses.fields(facts)):
        values = frame[name].dropna()
        if kind.startswith(("int", "float")):
            pd.to_numeric(values)
        elif kind == "str" and not all(isinstance(value, str) for value in values):
            raise ValueError(name)
        if name.endswith("_cents") and len(values) < len(frame):
            raise ValueError(name)


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
