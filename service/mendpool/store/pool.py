"""What the pool knows of itself, and whether it can take a write now."""

import os
import shutil
from datetime import datetime
from pathlib import Path
from uuid import UUID

from sqlalchemy import Connection, insert, select, update

from mendpool.core.errors import MendpoolError, TemporarilyImpossible
from mendpool.store.again import undone_again
from mendpool.store.room import Room
from mendpool.store.tables import POOL
from mendpool.store.values import PoolSettings

FORMAT_VERSION = 1
KEY_BYTES_MIN = 32  # as long as the hash it is used with (RFC 2104, section 3)
ROOM_TO_WRITE = 2 * 1_048_576  # bytes: the largest report, once in the log and once in place


class Pool(Room):
    """Keeps the pool's own settings."""

    @undone_again
    def init_pool(self, new_pool_id: UUID, new_key: bytes, now: datetime) -> PoolSettings:
        """Begin the pool, or find it begun: the id and key kept are the first ever given.

        Args:
            new_pool_id: the id to take if there is none.
            new_key: the secret to take if there is none, 32 bytes or more.
            now: aware.
        """
        if len(new_key) < KEY_BYTES_MIN:
            raise MendpoolError(f"the pool's key needs {KEY_BYTES_MIN} bytes or more")
        with self._writing() as connection:
            if not _values(connection):
                values = {
                    "pool_id": str(new_pool_id),
                    "key": new_key.hex(),
                    "format_version": str(FORMAT_VERSION),
                    "made": now.isoformat(),
                }
                rows = [{"key": name, "value": value} for name, value in values.items()]
                connection.execute(insert(POOL), rows)
            return _settings(connection)

    def pool_settings(self) -> PoolSettings:
        """Return the pool's settings.

        Raises:
            MendpoolError: the pool was never begun.
        """
        with self._reading() as connection:
            return _settings(connection)

    def ready(self) -> None:
        """Return if a write can be taken now; nothing is written for good.

        Raises:
            TemporarilyImpossible: the database is out of reach, busy, full, read-only,
                damaged, or has no tables; its words say which.
        """
        try:
            self._try_to_write()
        except TemporarilyImpossible:
            raise
        except MendpoolError as error:
            raise TemporarilyImpossible(str(error)) from error
        if self.engine.dialect.name == "sqlite":
            _disk_takes_more(Path(str(self.engine.url.database)).resolve().parent)

    def _try_to_write(self) -> None:
        with self._writing() as connection:
            try_one = update(POOL).where(POOL.c.key == "format_version")
            found = connection.execute(try_one.values(value=str(FORMAT_VERSION)))
            if not found.rowcount:
                raise TemporarilyImpossible(_NOT_BEGUN)
            connection.rollback()


_NOT_BEGUN = "the pool was never begun: run `mendpool pool init`"


def pool_key(connection: Connection) -> bytes:
    """Return the pool's secret, within a transaction that is already open."""
    return _settings(connection).key


def _disk_takes_more(folder: Path) -> None:
    # What is rolled back never reaches the disk, so the disk itself is asked.
    if hasattr(os, "statvfs") and os.statvfs(folder).f_flag & os.ST_RDONLY:
        raise TemporarilyImpossible("the database is read-only")
    if shutil.disk_usage(folder).free < ROOM_TO_WRITE:
        raise TemporarilyImpossible("the disk of the database is full")


def _values(connection: Connection) -> dict[str, str]:
    return {row.key: row.value for row in connection.execute(select(POOL))}


def _settings(connection: Connection) -> PoolSettings:
    values = _values(connection)
    if not values:
        raise MendpoolError(_NOT_BEGUN)
    return PoolSettings(
        pool_id=UUID(values["pool_id"]),
        key=bytes.fromhex(values["key"]),
        format_version=int(values["format_version"]),
        made=datetime.fromisoformat(values["made"]),
    )
