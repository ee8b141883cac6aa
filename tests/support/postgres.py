"""A PostgreSQL server for tests: told by ENGINE_CHECK_POSTGRES_URL, an SQLAlchemy URL whose user may make databases.

ENGINE_CHECK_POSTGRES_URL        postgresql://postgres@127.0.0.1:54329/postgres
ENGINE_CHECK_REQUIRE_POSTGRES=1  a missing server is a failure, not a skip
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.engine import make_url


@contextmanager
def own_database() -> Iterator[str]:
    """The URL of a new, empty database, dropped in the end; without a server the test is skipped, or fails."""
    address = os.environ.get("ENGINE_CHECK_POSTGRES_URL", "")
    if not address:
        reason = "no PostgreSQL server: its URL is not in ENGINE_CHECK_POSTGRES_URL"
        if os.environ.get("ENGINE_CHECK_REQUIRE_POSTGRES", "") not in ("", "0"):
            pytest.fail(reason, pytrace=False)
        pytest.skip(reason)
    url = make_url(address).set(drivername="postgresql+psycopg")
    name = f"engine_check_{secrets.token_hex(6)}"
    engine = create_engine(url, isolation_level="AUTOCOMMIT")
    try:
        with engine.connect() as connection:
            connection.execute(text(f"CREATE DATABASE {name} ENCODING 'UTF8' TEMPLATE template0"))
        try:
            told = url.set(database=name, drivername="postgresql")
            yield told.render_as_string(hide_password=False)
        finally:
            with engine.connect() as connection:
                connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))
    finally:
        engine.dispose()
