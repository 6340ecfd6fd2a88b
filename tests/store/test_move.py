"""A pool moved to the other kind of database and back is the same pool."""

from datetime import timedelta
from pathlib import Path

import pytest

from mendpool.core.errors import Conflict
from mendpool.store.engine import make_engine
from mendpool.store.invitations import Invitation
from mendpool.store.migrate import migrate
from mendpool.store.move import move
from mendpool.store.pool_store import PoolStore
from mendpool.store.sessions import HeldSession, Kept, Session

from tests.store.samples import LATER, NOW, add_member, an_id, follow, put, put_photo


def an_empty(tmp_path: Path, name: str) -> PoolStore:
    migrate(f"sqlite:///{tmp_path / name}")
    return PoolStore(make_engine(f"sqlite:///{tmp_path / name}"))


def a_code(name: str) -> Invitation:
    return Invitation(name, LATER + timedelta(days=14), vouched=True, token_days=9, used=None)


def test_all_arrives_and_it_goes_on_from_there(store: PoolStore, tmp_path: Path) -> None:
    alder = add_member(store, "alder")
    for number in (1, 2, 3):
        put(store, alder, number)
    follow(store, alder, 2)
    put_photo(store, alder, 2, b"\xff\xd8picture")
    store.withdraw(an_id(3), alder.id, steward=False, now=LATER)
    signed = Session("se_phone", "c" * 64, NOW, LATER)
    store.add_session(Kept(alder.token_prefix, alder.token_sha256), signed)
    store.add_member_code(a_code("alder"), "d" * 64, "in_alder", LATER)
    target = an_empty(tmp_path, "there.db")
    moved = move(store.engine, target.engine)
    assert (moved.rows["report"], moved.rows["followup"], moved.rows["change"]) == (3, 1, 5)
    assert target.changes_after(0, 99) == store.changes_after(0, 99)
    assert moved.rows["photo"] == 1
    sha256 = target.photos_of(an_id(2))[0].sha256
    assert target.get_photo(an_id(2), sha256)[1] == b"\xff\xd8picture"
    assert target.session_by_prefix("se_phone") == HeldSession(signed, alder)
    assert target.list_invitations() == store.list_invitations()
    assert target.list_members() == store.list_members()
    assert target.pool_settings() == store.pool_settings()
    with pytest.raises(Conflict, match="not empty"):
        move(store.engine, target.engine)
    assert put(target, add_member(target, "willow"), 9).record.seq == 6


@pytest.mark.postgres
def test_back_from_there_it_has_the_same_hash(
    postgres_store: PoolStore, tmp_path: Path
) -> None:
    first = an_empty(tmp_path, "first.db")
    first.init_pool(an_id(7), bytes(32), LATER)
    put(first, add_member(first, "alder"))
    first.add_invitation(a_code("rowan"), "a" * 64, "in_rowan", LATER)
    first.keep_report(an_id(1), 1, "looked at", LATER)
    there = move(first.engine, postgres_store.engine)
    assert there.rows["member"] == 1
    assert move(postgres_store.engine, an_empty(tmp_path, "back.db").engine) == there
    # Of each the next number is free there.
    add_member(postgres_store, "willow")
    postgres_store.add_invitation(a_code("hazel"), "b" * 64, "in_hazel", LATER)
    postgres_store.keep_report(an_id(1), 1, "looked at again", LATER)
    assert move(postgres_store.engine, an_empty(tmp_path, "more.db").engine) != there
