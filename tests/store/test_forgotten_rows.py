"""What a member who is shut out or forgotten leaves in a database: no code, no name, no row."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from mendpool.core.errors import NotFound
from mendpool.store.engine import reading
from mendpool.store.invitations import Invitation, Token
from mendpool.store.pool_store import PoolStore
from mendpool.store.sessions import Kept, Session

from tests.databases import PostgresDatabases
from tests.own_postgres import OwnServer, own_server
from tests.store.samples import NOW, POOL_ID, POOL_KEY, add_member

NAMED = "Quillfeatherstone"
LATER = NOW + timedelta(days=14)


def invite(store: PoolStore, name: str, made_by: int | None) -> str:
    """Keep an invitation and return its code's beginning."""
    code = f"code-{name}"[:12]
    made = Invitation(
        name, LATER, vouched=False, token_days=365, used=None, made=NOW, made_by=made_by
    )
    digest = name.encode().hex().ljust(64, "0")[:64]
    store.add_invitation(made, digest, code, NOW)
    return code


def token(name: str) -> Token:
    return Token(name.encode().hex().ljust(64, "1")[:64], f"mp_{name}", f"hand-{name}")


@pytest.mark.parametrize("how", ["revoked", "forgotten"])
def test_open_invitations_of_who_is_shut_out_make_nobody(store: PoolStore, how: str) -> None:
    """Else a stopped steward would come in again by a code made before, under any name."""
    ana, bo = add_member(store, "ana", role="steward"), add_member(store, "bo", role="steward")
    used = invite(store, "cy", ana.id)
    store.use_invitation(used, token("cy"), NOW)
    hers = invite(store, "dee", ana.id)
    others = [invite(store, "eli", bo.id), invite(store, "fay", None)]
    if how == "revoked":
        store.revoke_member("ana", NOW)
    else:
        store.forget_member("ana", NOW)
    with pytest.raises(NotFound):
        store.use_invitation(hers, token("dee"), NOW)
    waiting = {one.name for one in store.list_invitations() if one.used is None}
    assert waiting == {"eli", "fay"}
    for code, name in zip(others, ("eli", "fay"), strict=True):
        assert store.use_invitation(code, token(name), NOW).name == name
    # Who came by one while it was good stays.
    assert {m.name for m in store.list_members() if m.revoked is None} >= {"bo", "cy"}


@pytest.fixture(scope="module")
def server() -> Iterator[OwnServer]:
    with own_server() as running:
        yield running


@pytest.fixture
def on_disk(server: OwnServer) -> Iterator[PoolStore]:
    """A pool whose files a test may read."""
    with PostgresDatabases(server.server).migrated() as url:
        made = PostgresDatabases(server.server)
        store = PoolStore(made.open(url))
        store.init_pool(POOL_ID, POOL_KEY, NOW)
        yield store
        store.engine.dispose()
        made.close()


def files_with(store: PoolStore, server: OwnServer, word: str) -> set[str]:
    """Return which tables' files hold a word, dead rows and all."""
    tables = ("member", "invitation", "session")
    with store.engine.begin() as connection:
        connection.exec_driver_sql("CHECKPOINT")
    with reading(store.engine) as connection:
        paths = {
            table: connection.exec_driver_sql(
                f"SELECT pg_relation_filepath('{table}')"
            ).scalar_one()
            for table in tables
        }
    return {
        t for t, path in paths.items() if word.encode() in Path(server.data, path).read_bytes()
    }


@pytest.mark.postgres
def test_no_dead_row_of_a_postgresql_names_who_was_forgotten(
    on_disk: PoolStore, server: OwnServer
) -> None:
    """An UPDATE or DELETE leaves the old row in the file until the table is rewritten."""
    ana = add_member(on_disk, "ana", role="steward")
    invite(on_disk, NAMED, ana.id)
    made = on_disk.use_invitation(f"code-{NAMED}"[:12], token("q"), NOW)
    phone = Session(prefix=NAMED[:12], sha256="5" * 64, made=NOW, expires=LATER)
    on_disk.add_session(Kept(made.token_prefix, made.token_sha256), phone)
    assert files_with(on_disk, server, NAMED) == {"member", "invitation"}
    assert files_with(on_disk, server, NAMED[:12]) == {"member", "invitation", "session"}
    on_disk.forget_member(NAMED, NOW)
    assert files_with(on_disk, server, NAMED), "or the test could not fail"
    on_disk.erase_remnants()
    assert files_with(on_disk, server, NAMED[:12]) == set()
