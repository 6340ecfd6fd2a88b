"""Cases as a question and a fit read them, and the turn that one process has."""

import json
import threading

from mendpool.store.pool_store import PoolStore
from mendpool.store.values import HeldCase

from tests.store.samples import NOW, add_member, an_id, new_report, selects


def filled(store: PoolStore, count: int) -> list[int]:
    """Reports whose ids fall while their numbers rise; the second was followed up twice."""
    member = add_member(store, "alder", vouched=True)
    reports = [
        new_report(member, count - number, case_body=json.dumps({"number": number}))
        for number in range(count)
    ]
    put = store.put_reports(reports, NOW)
    for number, state in ((90, "holding"), (91, "returned")):
        store.put_followup(
            put[1].record.id, an_id(number), member.id, False, "s", f'"{state}"', NOW
        )
    return [result.record.seq for result in put]


def numbers(cases: list[HeldCase]) -> list[int]:
    return [json.loads(case.case_body)["number"] for case in cases]


def test_cases_are_read_by_number_in_one_query(store: PoolStore) -> None:
    seqs = filled(store, 7)
    with selects(store) as seen:
        found = {case.seq: case for case in store.cases_by_seq([*seqs[:5], 999])}
    assert len(seen) == 1
    assert sorted(found) == seqs[:5]
    assert found[seqs[0]].followups == ()
    assert found[seqs[1]].followups == ('"holding"', '"returned"')
    assert found[seqs[0]].vouched is True
    assert store.cases_by_seq([]) == []


def test_what_was_taken_back_is_not_read(store: PoolStore) -> None:
    seqs = filled(store, 3)
    (gone,) = store.cases_by_seq(seqs[1:2])
    store.withdraw(gone.report_id, 1, True, NOW)
    assert numbers(store.cases_by_seq(seqs)) == [0, 2]
    assert store.last_withdrawal() == store.last_seq()


def test_one_has_the_turn_and_the_next_gets_it(store: PoolStore) -> None:
    with store.alone("fit") as mine:
        assert mine
        with store.alone("fit") as again, store.alone("other") as other:
            assert (again, other) == (False, True)
    with store.alone("fit") as mine:
        assert mine


def test_who_waits_for_the_turn_gets_it(store: PoolStore) -> None:
    got: list[bool] = []

    def wait() -> None:
        with store.alone("fit", 20) as mine:
            got.append(mine)

    waiting = threading.Thread(target=wait)
    with store.alone("fit"):
        waiting.start()
        waiting.join(0.3)
        assert got == []
    waiting.join(20)
    assert got == [True]
