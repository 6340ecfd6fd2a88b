"""What every database must do with members and the pool's own settings."""

from datetime import timedelta
from uuid import UUID

import pytest

from mendpool.core.errors import Conflict, MendpoolError, NotFound
from mendpool.store.pool_store import PoolStore

from tests.store.samples import LATER, NOW, POOL_ID, POOL_KEY, add_member


class TestMembers:
    def test_a_member_is_found_by_the_beginning_of_the_token(self, store: PoolStore) -> None:
        made = add_member(store, "ana", role="steward", expires_at=LATER, vouched=False)
        assert store.member_by_prefix("mp_ana") == made
        assert (made.role, made.expires, made.vouched) == ("steward", LATER, False)
        assert (made.created, made.revoked, made.last_used) == (NOW, None, None)
        assert made.token_sha256 == "616e61".ljust(64, "0")
        assert store.member_by_prefix("mp_an") is None

    @pytest.mark.parametrize("field", ["name", "pseudonym", "token_prefix"])
    def test_what_tells_members_apart_is_taken_once(self, store: PoolStore, field: str) -> None:
        ana = add_member(store, "ana")
        same = {field: getattr(ana, field)}
        with pytest.raises(Conflict):
            add_member(store, str(same.pop("name", "bo")), **same)
        assert store.list_members() == [ana]

    def test_a_revoked_member_is_still_there_and_stays_revoked(self, store: PoolStore) -> None:
        ana, bo = add_member(store, "ana"), add_member(store, "bo")
        assert store.revoke_member("ana", NOW).revoked == NOW
        assert store.revoke_member("ana", LATER).revoked == NOW
        assert [m.revoked for m in store.list_members()] == [NOW, None]
        assert [m.id for m in store.list_members()] == [ana.id, bo.id]
        with pytest.raises(NotFound):
            store.revoke_member("cy", NOW)

    def test_use_is_remembered_to_the_day(self, store: PoolStore) -> None:
        ana = add_member(store, "ana")
        day = NOW.replace(hour=0, minute=0, second=0, microsecond=0)
        store.touch_member(ana.id, NOW)
        store.touch_member(ana.id, day + timedelta(hours=23, minutes=59))
        assert _last_used(store) == day
        store.touch_member(ana.id, day + timedelta(hours=24))
        assert _last_used(store) == day + timedelta(days=1)
        store.touch_member(ana.id, day)
        assert _last_used(store) == day + timedelta(days=1)

    def test_another_token_takes_the_place_of_the_one_before(self, store: PoolStore) -> None:
        ana = add_member(store, "ana")
        store.touch_member(ana.id, NOW)
        fresh = store.rotate_member("ana", "f" * 64, "mp_other", LATER)
        assert (fresh.id, fresh.group, fresh.pseudonym) == (ana.id, ana.group, ana.pseudonym)
        assert (fresh.expires, fresh.last_used) == (LATER, None)
        assert store.member_by_prefix("mp_ana") is None
        assert store.member_by_prefix("mp_other") == fresh

    def test_a_revoked_member_gets_no_token_unless_taken_back(self, store: PoolStore) -> None:
        add_member(store, "ana")
        store.revoke_member("ana", NOW)
        with pytest.raises(Conflict, match="revoked"):
            store.rotate_member("ana", "f" * 64, "mp_other", None)
        assert store.rotate_member("ana", "f" * 64, "mp_other", None, True).revoked is None
        with pytest.raises(NotFound):
            store.rotate_member("bo", "f" * 64, "mp_third", None)


class TestPool:
    def test_a_pool_is_begun_once(self, store: PoolStore) -> None:
        first = store.pool_settings()
        assert (first.pool_id, first.key, first.made) == (POOL_ID, POOL_KEY, NOW)
        other = UUID("0193b0a0-0000-7000-8000-00000000bbbb")
        assert store.init_pool(other, bytes(32), LATER) == first

    def test_a_short_key_is_refused(self, store: PoolStore) -> None:
        with pytest.raises(MendpoolError, match="32 bytes"):
            store.init_pool(POOL_ID, bytes(31), NOW)

    def test_a_healthy_pool_is_ready_and_stays_as_it_was(self, store: PoolStore) -> None:
        before = store.pool_settings()
        store.ready()
        assert (store.pool_settings(), store.last_seq()) == (before, 0)


def _last_used(store: PoolStore) -> object:
    return store.list_members()[0].last_used


class TestUsage:
    def test_counts_add_up_and_old_ones_go(self, store: PoolStore) -> None:
        ana, ben = add_member(store, "ana"), add_member(store, "ben")
        assert store.add_usage(ana.id, {10: 3}, 5) == {10: 3}
        assert store.add_usage(ana.id, {10: 2, 11: 1}, 6) == {10: 5, 11: 1}
        assert store.add_usage(ben.id, {11: 7}, 6) == {11: 7}
        assert store.add_usage(ana.id, {12: 1}, 11) == {11: 1, 12: 1}
        assert store.add_usage(ana.id, {12: 1}, 5) == {11: 1, 12: 2}
        assert store.last_seq() == 0
