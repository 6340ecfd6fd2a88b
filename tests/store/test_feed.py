"""What every database must do with the change feed and the fits in it."""

from typing import Any

import pytest

from mendpool.core.errors import Conflict
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import CaseRow, Change

from tests.store.samples import LATER, NOW, add_member, an_id, follow, put, selects

FOLLOWED = '{"state": "of 1"}'


class TestChanges:
    def test_every_change_is_told_in_order_with_its_body_and_its_group(
        self, store: PoolStore
    ) -> None:
        ana = add_member(store, "ana")
        bo = add_member(store, "bo", vouched=False)
        put(store, ana, 1)
        put(store, bo, 2)
        follow(store, ana, 1, now=LATER)
        fit = store.save_fit(3, "c1", b"learned", LATER)
        by_ana: dict[str, Any] = {"group": ana.group, "vouched": True}
        by_bo: dict[str, Any] = {"group": bo.group, "vouched": False}
        one, two = an_id(1), an_id(2)
        assert store.changes_after(0, 100) == [
            Change(
                1,
                "report",
                str(one),
                NOW,
                one,
                body='{"said": "report 1"}',
                **by_ana,
                case_body='{"terms": ["case 1"]}',
                derived_version="1",
            ),
            Change(
                2,
                "report",
                str(two),
                NOW,
                two,
                body='{"said": "report 2"}',
                **by_bo,
                case_body='{"terms": ["case 2"]}',
                derived_version="1",
            ),
            Change(3, "followup", str(an_id(101)), LATER, one, body=FOLLOWED, **by_ana),
            Change(4, "fit", "4", LATER, fit=fit),
        ]
        assert store.last_seq() == 4

    def test_what_was_withdrawn_keeps_its_line_and_loses_its_words(
        self, store: PoolStore
    ) -> None:
        ana = add_member(store, "ana")
        put(store, ana, 1)
        follow(store, ana, 1)
        store.withdraw(an_id(1), ana.id, steward=False, now=LATER)
        assert store.changes_after(0, 100) == [
            Change(1, "report", str(an_id(1)), NOW, report_id=an_id(1)),
            Change(2, "followup", str(an_id(101)), NOW),
            Change(3, "withdrawal", str(an_id(1)), LATER, report_id=an_id(1)),
        ]

    def test_pages_join_up_to_the_whole(self, store: PoolStore) -> None:
        ana = add_member(store, "ana")
        for number in range(1, 8):
            put(store, ana, number)
        whole = store.changes_after(0, 100)
        joined: list[Change] = []
        while page := store.changes_after(joined[-1].seq if joined else 0, 3):
            joined.extend(page)
        assert joined == whole
        assert [change.seq for change in whole] == [1, 2, 3, 4, 5, 6, 7]

    def test_a_page_costs_at_most_four_queries(self, store: PoolStore) -> None:
        ana = add_member(store, "ana")
        for number in range(1, 9):
            put(store, ana, number)
            follow(store, ana, number)
        store.save_fit(16, "c1", b"", NOW)
        with selects(store) as seen:
            assert len(store.changes_after(0, 100)) == 17
        assert len(seen) == 4
        with selects(store) as seen:
            assert store.changes_after(17, 100) == []
        assert len(seen) == 1

    def test_a_group_tells_authors_apart_and_is_not_their_number(
        self, store: PoolStore
    ) -> None:
        members = [add_member(store, name) for name in ("ana", "bo", "cy")]
        groups = [member.group for member in members]
        assert len(set(groups)) == 3
        assert not {member.id for member in members} & set(groups)
        assert all(0 <= group < 2**53 for group in groups)  # exact in JSON, RFC 8259 section 6


class TestCases:
    def test_the_index_reads_derived_forms_follow_ups_and_withdrawals(
        self, store: PoolStore
    ) -> None:
        ana = add_member(store, "ana")
        put(store, ana, 1)
        put(store, ana, 2)
        follow(store, ana, 2)
        store.withdraw(an_id(1), ana.id, steward=False, now=NOW)
        store.save_fit(4, "c1", b"", NOW)
        who = (ana.id, ana.group, True)
        assert store.cases_after(0, 100) == [
            CaseRow(1, "report", an_id(1), None, None, None, None),
            CaseRow(2, "report", an_id(2), *who, '{"terms": ["case 2"]}'),
            CaseRow(3, "followup", an_id(2), *who, '{"state": "of 2"}'),
            CaseRow(4, "withdrawal", an_id(1), None, None, None, None),
            CaseRow(5, "fit", None, None, None, None, None),
        ]
        assert [case.seq for case in store.cases_after(2, 2)] == [3, 4]


class TestFits:
    def test_the_newest_of_its_catalogue_is_kept_and_the_older_goes(
        self, store: PoolStore
    ) -> None:
        ana = add_member(store, "ana")
        put(store, ana, 1)
        store.save_fit(1, "c1", b"one", NOW)
        put(store, ana, 2)
        second = store.save_fit(3, "c1", b"two", LATER)
        other = store.save_fit(3, "c2", b"other", LATER)
        assert store.newest_fit("c1") == second
        assert store.newest_fit("c2") == other
        assert store.newest_fit("c3") is None
        fits = [c.fit for c in store.changes_after(0, 100) if c.kind == "fit"]
        assert fits == [None, second, other]
        assert second.body == b"two"

    def test_the_same_cut_again_is_the_fit_already_kept(self, store: PoolStore) -> None:
        put(store, add_member(store, "ana"), 1)
        first = store.save_fit(1, "c1", b"one", NOW)
        assert store.save_fit(1, "c1", b"other", LATER) == first
        assert store.save_fit(0, "c1", b"older", LATER) == first
        assert store.last_seq() == 2

    def test_a_fit_that_knows_a_withdrawn_report_is_refused_and_old_ones_go(
        self, store: PoolStore
    ) -> None:
        ana = add_member(store, "ana")
        put(store, ana, 1)
        store.save_fit(1, "c1", b"knows report 1", NOW)
        store.save_fit(1, "c2", b"knows report 1", NOW)
        put(store, ana, 2)
        store.withdraw(an_id(1), ana.id, steward=False, now=NOW)
        with pytest.raises(Conflict):
            store.save_fit(4, "c1", b"knows report 1", NOW)
        kept = store.save_fit(5, "c1", b"knows it no more", NOW)
        assert store.newest_fit("c1") == kept
        assert store.newest_fit("c2") is None

    def test_a_cut_beyond_the_feed_is_refused(self, store: PoolStore) -> None:
        with pytest.raises(Conflict):
            store.save_fit(1, "c1", b"", NOW)
