"""The one test on PostgreSQL that runs wherever its programs are, without being asked."""

import pytest

from mendpool.core.errors import Withdrawn
from mendpool.store.engine import make_engine
from mendpool.store.pool_store import PoolStore
from mendpool.store.schema import schema_state

from tests.store.samples import NOW, POOL_ID, POOL_KEY, add_member, an_id, put
from tests.store.test_races import feed_under_many_writers, same_report_put_by_all


def test_postgresql_keeps_orders_and_forgets_as_sqlite_does(postgres_store: PoolStore) -> None:
    store = postgres_store
    assert schema_state(store.engine) == "current"
    store.init_pool(POOL_ID, POOL_KEY, NOW)
    store.ready()
    feed_under_many_writers(store)
    ana = store.list_members()[0]
    assert store.withdraw(an_id(1000), ana.id, steward=False, now=NOW)
    store.erase_remnants()
    with pytest.raises(Withdrawn):
        put(store, ana, 1000)
    assert store.cases_after(160, 9)[0].kind == "withdrawal"


@pytest.mark.postgres
def test_of_the_same_report_put_by_all_postgresql_creates_one(
    postgres_store: PoolStore,
) -> None:
    postgres_store.init_pool(POOL_ID, POOL_KEY, NOW)
    same_report_put_by_all(postgres_store)


@pytest.mark.postgres
def test_a_connection_cut_by_the_server_is_replaced(postgres_store: PoolStore) -> None:
    postgres_store.init_pool(POOL_ID, POOL_KEY, NOW)
    ana = add_member(postgres_store, "ana")
    other = make_engine(postgres_store.engine.url.render_as_string(hide_password=False))
    with other.connect() as killer:
        killed = killer.exec_driver_sql(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
            " WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )
        assert killed.all()
    other.dispose()
    assert put(postgres_store, ana).created
