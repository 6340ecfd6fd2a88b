"""What every database must do with reports and follow-ups."""

from dataclasses import replace

import pytest

from mendpool.core.errors import Conflict, NotAllowed, NotFound, Withdrawn
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import ReportFilters

from tests.store.samples import (
    LATER,
    NOW,
    add_member,
    an_id,
    facets,
    follow,
    new_report,
    put,
    selects,
)


class TestPutting:
    def test_a_report_put_once_is_read_back_whole(self, store: PoolStore) -> None:
        ana = add_member(store, "ana")
        result = put(store, ana)
        assert result.created
        assert store.get_report(an_id(1)) == result.record
        assert result.record.pseudonym == "hand-ana"
        assert result.record.received == NOW
        assert result.record.received.utcoffset() is not None
        assert result.record.body == '{"said": "report 1"}'

    def test_the_same_body_again_is_the_stored_report_and_no_change(
        self, store: PoolStore
    ) -> None:
        ana = add_member(store, "ana")
        first = put(store, ana)
        # What is stored counts, not what enriching makes of the same body today.
        again = put(store, ana, body='{"said": "enriched anew"}')
        assert not again.created
        assert again.record == first.record
        assert store.last_seq() == 1

    def test_another_body_or_another_member_under_the_id_is_a_conflict(
        self, store: PoolStore
    ) -> None:
        ana, bo = add_member(store, "ana"), add_member(store, "bo")
        first = put(store, ana)
        with pytest.raises(Conflict):
            put(store, ana, sameness="other")
        with pytest.raises(Conflict):
            put(store, bo)
        assert store.get_report(an_id(1)) == first.record

    def test_a_report_of_nobody_is_refused_and_leaves_nothing(self, store: PoolStore) -> None:
        ana = add_member(store, "ana")
        with pytest.raises(NotFound):
            put(store, replace(ana, id=999))
        assert (store.report_count(), store.last_seq()) == (0, 0)

    def test_many_reports_are_kept_together_or_not_at_all(self, store: PoolStore) -> None:
        ana = add_member(store, "ana")
        put(store, ana, 2)
        good, bad = new_report(ana, 1), new_report(ana, 2, sameness="other")
        with pytest.raises(Conflict):
            store.put_reports([good, bad], NOW)
        assert store.report_count() == 1
        results = store.put_reports([good, new_report(ana, 2), new_report(ana, 3)], NOW)
        assert [result.created for result in results] == [True, False, True]
        assert [result.record.seq for result in results] == [2, 1, 3]

    def test_a_text_beyond_the_bmp_and_a_repeated_code_are_kept(self, store: PoolStore) -> None:
        ana = add_member(store, "ana")
        body = '{"said": "läuft rund 🔧"}'
        put(store, ana, body=body, facets=facets(symptoms=("no-output", "no-output")))
        assert store.get_report(an_id(1)).body == body

    def test_what_a_member_sent_since_a_time_is_counted(self, store: PoolStore) -> None:
        ana, bo = add_member(store, "ana"), add_member(store, "bo")
        put(store, ana, 1)
        put(store, bo, 2)
        assert store.reports_by_member(ana.id, NOW) == 1
        assert store.reports_by_member(ana.id, LATER) == 0


class TestReading:
    def test_an_id_nobody_used_is_not_found(self, store: PoolStore) -> None:
        with pytest.raises(NotFound) as caught:
            store.get_report(an_id(1))
        assert not isinstance(caught.value, Withdrawn)

    def test_some_come_in_the_order_asked_without_the_missing(self, store: PoolStore) -> None:
        ana = add_member(store, "ana")
        for number in (1, 2, 3):
            put(store, ana, number)
        store.withdraw(an_id(2), ana.id, steward=False, now=NOW)
        asked = [an_id(3), an_id(9), an_id(2), an_id(1), an_id(3)]
        assert [report.id for report in store.get_reports(asked)] == [an_id(3), an_id(1)]
        assert store.get_reports([]) == []

    def test_some_cost_two_queries_however_many(self, store: PoolStore) -> None:
        ana = add_member(store, "ana")
        for number in range(1, 6):
            put(store, ana, number)
            follow(store, ana, number)
        asked = [an_id(number) for number in range(1, 6)]
        with selects(store) as seen:
            got = store.get_reports(asked)
        assert [len(report.followups) for report in got] == [1] * 5
        assert len(seen) == 2

    def test_a_list_is_newest_first_and_pages_without_gap_or_repeat(
        self, store: PoolStore
    ) -> None:
        ana = add_member(store, "ana")
        for number in range(1, 8):
            put(store, ana, number)
        store.withdraw(an_id(4), ana.id, steward=False, now=NOW)
        pages: list[list[int]] = []
        before = None
        while True:
            page = store.list_reports(ReportFilters(), before, 2)
            if not page:
                break
            pages.append([report.seq for report in page])
            before = page[-1].seq
        assert pages == [[7, 6], [5, 3], [2, 1]]

    @pytest.mark.parametrize(
        ("filters", "found"),
        [
            (ReportFilters(symptom="hunting"), [4, 3]),
            (ReportFilters(component="governor"), [4, 2]),
            (ReportFilters(symptom="hunting", component="governor"), [4]),
            (ReportFilters(fuel="petrol"), [3, 2]),
            (ReportFilters(excitation="capacitor"), [2]),
            (ReportFilters(outcome="open"), [4, 1]),
            (ReportFilters(fuel="petrol", symptom="hunting", outcome="repaired"), [3]),
            (ReportFilters(symptom="smoke"), []),
        ],
    )
    def test_filters_must_all_hold(
        self, store: PoolStore, filters: ReportFilters, found: list[int]
    ) -> None:
        ana = add_member(store, "ana")
        both = ("hunting", "no-output")
        put(store, ana, 1, facets=facets(outcome="open", excitation=None))
        put(
            store,
            ana,
            2,
            facets=facets(fuel="petrol", excitation="capacitor", components=("governor",)),
        )
        put(store, ana, 3, facets=facets(fuel="petrol", symptoms=both))
        put(
            store,
            ana,
            4,
            facets=facets(symptoms=both, components=("avr", "governor"), outcome="open"),
        )
        assert [report.seq for report in store.list_reports(filters, None, 10)] == found
        below = [seq for seq in found if seq < 4]
        assert [report.seq for report in store.list_reports(filters, 4, 10)] == below

    def test_a_new_derivation_reaches_the_stale_and_only_those_still_held(
        self, store: PoolStore
    ) -> None:
        ana = add_member(store, "ana")
        put(store, ana, 1)
        put(store, ana, 2, derived_version="2")
        put(store, ana, 3)
        stale = store.stale_cases("2", 0, 10)
        assert [case.seq for case in stale] == [1, 3]
        assert stale[0].body == '{"said": "report 1"}'
        store.withdraw(an_id(3), ana.id, steward=False, now=NOW)
        store.set_cases([(case.report_id, '{"terms": []}') for case in stale], "2")
        store.set_cases([], "2")
        with selects(store) as seen:
            assert store.stale_cases("2", 0, 10) == []
        assert len(seen) == 1, "that there are none is told by the ends of an index"
        assert [case.case_body for case in store.cases_after(0, 3)][::2] == [
            '{"terms": []}',
            None,
        ]


class TestFollowingUp:
    def test_follow_ups_stand_under_their_report_in_the_order_they_came(
        self, store: PoolStore
    ) -> None:
        ana, sten = add_member(store, "ana"), add_member(store, "sten", role="steward")
        put(store, ana)
        second = follow(store, sten, followup_id=an_id(12), now=LATER)
        third = follow(store, ana, followup_id=an_id(11))
        assert second.created
        assert store.get_report(an_id(1)).followups == (second.record, third.record)
        assert (second.record.pseudonym, second.record.received) == ("hand-sten", LATER)
        assert [second.record.seq, third.record.seq] == [2, 3]
        assert put(store, ana).record.followups == (second.record, third.record)

    def test_the_same_again_is_welcome_and_another_is_a_conflict(
        self, store: PoolStore
    ) -> None:
        ana, bo = add_member(store, "ana"), add_member(store, "bo")
        put(store, ana, 1)
        put(store, ana, 2)
        first = follow(store, ana, 1)
        again = follow(store, ana, 1)
        assert (again.created, again.record) == (False, first.record)
        with pytest.raises(Conflict):
            follow(store, ana, 1, sameness="other")
        with pytest.raises(Conflict):
            follow(store, ana, 1, report_id=an_id(2))
        with pytest.raises(Conflict):
            follow(store, bo, 1, steward=True)

    def test_a_stranger_may_not_and_nothing_is_kept(self, store: PoolStore) -> None:
        ana, bo = add_member(store, "ana"), add_member(store, "bo")
        put(store, ana)
        with pytest.raises(NotAllowed):
            follow(store, bo, 1)
        with pytest.raises(NotFound):
            follow(store, ana, 2)
        assert store.last_seq() == 1


class TestWithdrawing:
    def test_all_it_said_goes_and_the_fact_stays(self, store: PoolStore) -> None:
        ana = add_member(store, "ana")
        put(store, ana, 1)
        put(store, ana, 2)
        follow(store, ana, 1)
        assert store.withdraw(an_id(1), ana.id, steward=False, now=LATER)
        with pytest.raises(Withdrawn):
            store.get_report(an_id(1))
        with pytest.raises(Withdrawn):
            put(store, ana, 1)
        with pytest.raises(Withdrawn):
            follow(store, ana, 1)
        assert store.report_count() == 1
        for filters in (ReportFilters(), ReportFilters(symptom="no-output")):
            assert [r.id for r in store.list_reports(filters, None, 9)] == [an_id(2)]

    def test_a_second_time_changes_nothing(self, store: PoolStore) -> None:
        ana = add_member(store, "ana")
        put(store, ana)
        assert store.withdraw(an_id(1), ana.id, steward=False, now=NOW)
        assert not store.withdraw(an_id(1), ana.id, steward=False, now=LATER)
        assert store.last_seq() == 2

    def test_only_its_contributor_or_a_steward_may(self, store: PoolStore) -> None:
        ana, bo = add_member(store, "ana"), add_member(store, "bo")
        put(store, ana)
        with pytest.raises(NotAllowed):
            store.withdraw(an_id(1), bo.id, steward=False, now=NOW)
        with pytest.raises(NotFound):
            store.withdraw(an_id(2), bo.id, steward=True, now=NOW)
        assert store.withdraw(an_id(1), bo.id, steward=True, now=NOW)
        with pytest.raises(NotAllowed):
            store.withdraw(an_id(1), 77, steward=False, now=NOW)
