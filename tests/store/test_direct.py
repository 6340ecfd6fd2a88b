"""Statements by the driver alone: the same rows, values and errors as by SQLAlchemy itself."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from sqlalchemy import Engine, bindparam, insert, select
from sqlalchemy.exc import IntegrityError

from mendpool.core.errors import MendpoolError, TemporarilyImpossible
from mendpool.store.direct import Added, Asked, run
from mendpool.store.engine import looking_up, make_engine, reading, writing
from mendpool.store.members import member_of
from mendpool.store.pool_store import PoolStore
from mendpool.store.tables import CHANGE, MEMBER, REPORT
from mendpool.store.troubles import NO_TABLES

from tests.databases import Databases
from tests.store.samples import LATER, NOW, add_member, an_id, put, selects

MEMBERS = select(MEMBER).where(MEMBER.c.name == bindparam("name"))
REPORTS = select(REPORT).where(REPORT.c.id == bindparam("report_id"))
SINCE = select(CHANGE.c.seq, CHANGE.c.at).where(CHANGE.c.at >= bindparam("since"))
LINES_AFTER = (
    select(CHANGE.c.seq, CHANGE.c.kind, CHANGE.c.at)
    .where(CHANGE.c.seq > bindparam("after"))
    .order_by(CHANGE.c.seq)
    .limit(bindparam("most"))
)
LINE = ("seq", "kind", "ref", "at")


def line(seq: int, at: datetime = NOW) -> dict[str, object]:
    return {"seq": seq, "kind": "report", "ref": str(an_id(seq)), "at": at}


class TestAsked:
    """Held to SQLAlchemy's own way of running the same statement."""

    @pytest.mark.parametrize("vouched", [True, False])
    def test_a_member_is_the_one_sqlalchemy_reads(
        self, store: PoolStore, vouched: bool
    ) -> None:
        add_member(store, "ana", vouched=vouched, expires_at=LATER)
        with reading(store.engine) as connection:
            found = Asked(MEMBERS).first(connection, {"name": "ana"})
            by_sqlalchemy = connection.execute(MEMBERS, {"name": "ana"}).one()
        assert found == tuple(by_sqlalchemy)
        assert member_of(found) == member_of(by_sqlalchemy)
        assert (found.expires_at, found.revoked_at, found.vouched) == (LATER, None, vouched)

    def test_ids_numbers_and_times_are_of_the_same_types(self, store: PoolStore) -> None:
        put(store, add_member(store, "ana"))
        with reading(store.engine) as connection:
            found = Asked(REPORTS).first(connection, {"report_id": an_id(1)})
            by_sqlalchemy = connection.execute(REPORTS, {"report_id": an_id(1)}).one()
        assert list(map(type, found)) == list(map(type, by_sqlalchemy))
        assert found == tuple(by_sqlalchemy)
        assert (found.id, found.received_at) == (an_id(1), NOW)

    @pytest.mark.parametrize("after", [0, 1, 9])
    def test_many_rows_are_those_that_sqlalchemy_reads(
        self, store: PoolStore, after: int
    ) -> None:
        member = add_member(store, "ana")
        for number in range(1, 4):
            put(store, member, number)
        values = {"after": after, "most": 2}
        with reading(store.engine) as connection:
            found = Asked(LINES_AFTER).all(connection, values)
            by_sqlalchemy = connection.execute(LINES_AFTER, values).all()
        assert found == [tuple(row) for row in by_sqlalchemy]
        assert [row.seq for row in found] == [n for n in (1, 2, 3) if n > after][:2]

    def test_a_time_is_asked_for_wherever_it_was_told(self, store: PoolStore) -> None:
        put(store, add_member(store, "ana"))
        there = NOW.astimezone(timezone(timedelta(hours=5)))
        with reading(store.engine) as connection:
            assert Asked(SINCE).first(connection, {"since": there}).at == NOW
            assert Asked(SINCE).first(connection, {"since": LATER}) is None

    def test_what_the_statement_itself_gives_need_not_be_given(self, store: PoolStore) -> None:
        asked = Asked(select(MEMBER.c.name).where(MEMBER.c.role == "member").limit(1))
        add_member(store, "ana", role="steward")
        with reading(store.engine) as connection:
            assert asked.first(connection, {}) is None
        add_member(store, "ben")
        with reading(store.engine) as connection:
            assert asked.first(connection, {}).name == "ben"

    def test_what_is_asked_for_and_not_given_is_a_mistake(self, store: PoolStore) -> None:
        with reading(store.engine) as connection, pytest.raises(KeyError):
            Asked(MEMBERS).first(connection, {})

    def test_it_sees_what_its_own_transaction_wrote(self, store: PoolStore) -> None:
        with writing(store.engine) as connection:
            Added(insert(CHANGE), LINE).add(connection, [line(1)])
            assert Asked(SINCE).first(connection, {"since": NOW}).seq == 1

    def test_it_is_counted_like_every_other_statement(self, store: PoolStore) -> None:
        with selects(store) as seen, reading(store.engine) as connection:
            Asked(MEMBERS).first(connection, {"name": "ana"})
            connection.execute(MEMBERS, {"name": "ana"})
        assert len(seen) == 2
        assert seen[0] == seen[1]


class TestAdded:
    @pytest.mark.parametrize("many", [1, 5])
    def test_rows_are_there_after_the_commit(self, store: PoolStore, many: int) -> None:
        at = [NOW + timedelta(microseconds=n) for n in range(many)]
        with writing(store.engine) as connection:
            Added(insert(CHANGE), LINE).add(
                connection, [line(n + 1, one) for n, one in enumerate(at)]
            )
        with reading(store.engine) as connection:
            rows = connection.execute(select(CHANGE.c.seq, CHANGE.c.at).order_by(CHANGE.c.seq))
            assert [tuple(row) for row in rows] == [(n + 1, one) for n, one in enumerate(at)]

    def test_they_go_with_the_transaction(self, store: PoolStore) -> None:
        with pytest.raises(ZeroDivisionError):
            roll_back(store.engine)
        with reading(store.engine) as connection:
            assert connection.execute(SINCE, {"since": NOW}).first() is None

    def test_another_zone_is_kept_as_the_same_moment(self, store: PoolStore) -> None:
        told = NOW.astimezone(timezone(-timedelta(hours=3)))
        with writing(store.engine) as connection:
            Added(insert(CHANGE), LINE).add(connection, [line(1, told)])
        with reading(store.engine) as connection:
            kept = connection.execute(SINCE, {"since": NOW}).one().at
        assert (kept, kept.tzinfo) == (NOW, UTC)


def roll_back(engine: Engine) -> None:
    with writing(engine) as connection:
        Added(insert(CHANGE), LINE).add(connection, [line(1)])
        raise ZeroDivisionError


def add_twice(engine: Engine) -> None:
    with writing(engine) as connection:
        for _ in range(2):
            Added(insert(CHANGE), LINE).add(connection, [line(1)])


def ask(engine: Engine, name: str) -> object:
    with reading(engine) as connection:
        return Asked(MEMBERS).first(connection, {"name": name})


def ask_over_a_cut(engine: Engine) -> None:
    with reading(engine) as connection:
        run(connection, "SELECT 1")
        other = make_engine(engine.url.render_as_string(hide_password=False))
        with other.connect() as killer:
            killer.exec_driver_sql(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
        other.dispose()
        Asked(MEMBERS).first(connection, {"name": "ana"})


class TestLookingUp:
    def test_it_sees_what_was_committed(self, store: PoolStore) -> None:
        add_member(store, "ana")
        with looking_up(store.engine) as connection:
            assert Asked(MEMBERS).first(connection, {"name": "ana"}).name == "ana"

    def test_no_transaction_is_left_open_meanwhile(self, store: PoolStore) -> None:
        """By `sqlite3_get_autocommit`, and by `PQtransactionStatus`, whose idle is 0."""
        with looking_up(store.engine) as connection:
            Asked(MEMBERS).first(connection, {"name": "ana"})
            raw = connection.connection.dbapi_connection
            assert raw is not None
            if store.engine.dialect.name == "postgresql":
                assert raw.info.transaction_status == 0
            else:
                assert not raw.in_transaction

    def test_who_gets_the_connection_next_has_transactions_again(
        self, store: PoolStore
    ) -> None:
        with looking_up(store.engine) as connection:
            assert Asked(SINCE).first(connection, {"since": NOW}) is None
            looked = connection.connection.dbapi_connection
        with pytest.raises(ZeroDivisionError):
            roll_back(store.engine)
        with reading(store.engine) as connection:
            assert connection.connection.dbapi_connection is looked  # the pool has but one
            assert connection.execute(SINCE, {"since": NOW}).first() is None


class TestErrors:
    def test_a_number_twice_is_refused_as_sqlalchemy_refuses_it(self, store: PoolStore) -> None:
        with pytest.raises(IntegrityError) as told:
            add_twice(store.engine)
        assert told.value.params is None  # they are people's texts

    def test_a_database_without_tables_says_so(self, databases: Databases) -> None:
        with databases.empty() as url:
            engine = databases.open(url)
            with pytest.raises(MendpoolError) as told:
                ask(engine, "ana")
            engine.dispose()
        assert str(told.value) == NO_TABLES

    @pytest.mark.postgres
    def test_a_lost_connection_is_told_and_replaced(self, postgres_store: PoolStore) -> None:
        with pytest.raises(TemporarilyImpossible, match="connection to the database was lost"):
            ask_over_a_cut(postgres_store.engine)
        assert ask(postgres_store.engine, "ana") is None
