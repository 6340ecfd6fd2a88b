"""Many reports with their follow-ups: one transaction, and each refused alone."""

from mendpool.core.errors import Conflict, MendpoolError, Withdrawn
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import HeldFollowup, Member, NewFollowup

from tests.store.samples import NOW, add_member, an_id, follow, new_report, put


def seen(member: Member, number: int, report: int | None = None) -> NewFollowup:
    """The follow-up ``an_id(100 + number)``, as `follow` puts it."""
    return NewFollowup(
        an_id(100 + number),
        an_id(report or number),
        member.id,
        f"follows-{number}",
        f'{{"state": "of {number}"}}',
    )


def told(outcome: bool | MendpoolError) -> bool | type[MendpoolError]:
    return outcome if isinstance(outcome, bool) else type(outcome)


def test_each_is_new_there_already_or_refused_alone(store: PoolStore) -> None:
    ana, ben = add_member(store, "ana"), add_member(store, "ben")
    put(store, ana, 1)
    put(store, ben, 2)
    put(store, ana, 3)
    store.withdraw(an_id(3), ana.id, False, NOW)
    numbers = (1, 2, 3, 4, 5)
    reports = [(new_report(ana, n), [seen(ana, n)]) for n in numbers]
    reports.append((new_report(ana, 4, sameness="another"), [seen(ana, 9, report=4)]))
    done = store.put_bulk(reports, [], NOW)
    expected = [False, Conflict, Withdrawn, True, True, Conflict]
    assert [told(outcome) for outcome in done.reports] == expected
    assert done.followed == 3
    held = {r.id: [f.id for f in r.followups] for r in store.reports_after(0, 10)}
    assert held[an_id(4)] == [an_id(104)]
    assert held[an_id(2)] == []
    lines = [(c.seq, c.kind) for c in store.changes_after(4, 10)]
    assert lines == [
        (5, "report"), (6, "report"), (7, "followup"), (8, "followup"), (9, "followup"),
    ]  # fmt: skip


def test_a_follow_up_is_kept_once_and_only_to_ones_own_report(store: PoolStore) -> None:
    ana, ben = add_member(store, "ana"), add_member(store, "ben")
    put(store, ana, 1)
    put(store, ben, 2)
    follow(store, ana, 1)
    more = [seen(ana, 1), seen(ana, 2), seen(ana, 7, report=1), seen(ana, 7, report=1)]
    assert store.put_bulk([], more, NOW).followed == 1
    assert store.put_bulk([], more, NOW).followed == 0
    assert store.held_followups([an_id(101), an_id(107), an_id(102)]) == {
        an_id(101): HeldFollowup(an_id(1), ana.id, "follows-1"),
        an_id(107): HeldFollowup(an_id(1), ana.id, "follows-7"),
    }
