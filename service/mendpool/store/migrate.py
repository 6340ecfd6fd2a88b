"""Brings a database to the tables of this version; the only importer of Alembic here."""

import os
from contextlib import suppress

from alembic import command
from alembic.config import Config
from sqlalchemy.engine import make_url

from mendpool._places import place_of
from mendpool.store.engine import make_engine, rebuilding


def migrate(url: str) -> None:
    """Make or change the tables, in one transaction: all of it or nothing.

    Two at once are one: the second waits and finds nothing left to do.

    Raises:
        TemporarilyImpossible: the database is out of reach or busy for a minute.
        MendpoolError: the database is damaged, its address is wrong, or the installation
            lacks its migrations.
    """
    config = Config()
    config.set_main_option("script_location", str(place_of("migrations")).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    _make_private(url)
    engine = make_engine(url)
    try:
        with rebuilding(engine) as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
    finally:
        engine.dispose()


def _make_private(url: str) -> None:
    """Begin a new SQLite file as its owner's alone; its log and journal are then as it is."""
    address = make_url(url)
    if address.get_backend_name() != "sqlite" or not address.database:
        return
    # Where it can't be made, SQLite itself will say why.
    with suppress(OSError):
        file = os.open(address.database, os.O_CREAT | os.O_RDWR, 0o600)
        try:
            if not os.fstat(file).st_size and hasattr(os, "fchmod"):
                os.fchmod(file, 0o600)  # an empty one that something else left there
        finally:
            os.close(file)
