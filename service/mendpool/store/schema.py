"""Whether a database has the tables this code was written for, without Alembic."""

from pathlib import Path
from typing import Literal

from sqlalchemy import Engine, column, inspect, select, table

from mendpool.store.engine import reading

SchemaState = Literal["missing", "behind", "current", "ahead"]

REVISIONS = ("0001", "0002", "0003", "0004", "0005", "0006", "0007", "0008", "0009")
"""Every revision of the migrations in order, the newest last."""

HEAD = REVISIONS[-1]

_VERSION = select(table("alembic_version", column("version_num")).c.version_num)


def schema_state(engine: Engine) -> SchemaState:
    """Say how the database's tables stand to this code.

    Returns:
        ``missing``: no tables yet, or none of ours. ``behind``: made by an older version,
        to be migrated. ``current``. ``ahead``: made by a newer version, which this one
        must not touch. A file that is not there is not made, for it would be anybody's.
    """
    if engine.dialect.name == "sqlite" and not Path(str(engine.url.database)).exists():
        return "missing"
    with reading(engine) as connection:
        if not inspect(connection).has_table("alembic_version"):
            return "missing"
        found = connection.execute(_VERSION).scalars().all()
    if not found:
        return "missing"
    if list(found) == [HEAD]:
        return "current"
    return "behind" if all(one in REVISIONS for one in found) else "ahead"
