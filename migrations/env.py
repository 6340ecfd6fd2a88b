"""Run by Alembic: upgrades on the connection it is handed, or on one of its own.

`mendpool pool migrate` hands over a connection with the lock and the transaction. A
developer's `alembic revision --autogenerate` or `alembic check` takes the address of a
scratch database from MENDPOOL_DATABASE_URL.
"""

import os

from alembic import context
from sqlalchemy import Connection

from mendpool.store.engine import make_engine, rebuilding
from mendpool.store.tables import StoreTable


def _run(connection: Connection) -> None:
    context.configure(
        connection=connection,
        target_metadata=StoreTable.metadata,
        compare_type=True,
        render_as_batch=True,
        transactional_ddl=True,
    )
    with context.begin_transaction():
        context.run_migrations()


_handed: Connection | None = context.config.attributes.get("connection")
if _handed is not None:
    _run(_handed)
else:
    with rebuilding(make_engine(os.environ["MENDPOOL_DATABASE_URL"])) as _own:
        _run(_own)
