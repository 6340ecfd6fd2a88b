"""Pools that exchange parcels end equal, whatever was read twice, in part or out of order."""

import json
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine as DatabaseEngine

from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.fit import Fit
from mendpool.core.privacy.coarse import coarse_report
from mendpool.core.record.report import Followup, Report
from mendpool.main import Scrubber, scrubber
from mendpool.store.copied import CopyStore
from mendpool.store.engine import make_engine
from mendpool.store.pool_store import PoolStore
from mendpool.usecases.changes import changes_after
from mendpool.usecases.derive_again import Deriver
from mendpool.usecases.file_report import file_report
from mendpool.usecases.follow_up import follow_up, withdraw
from mendpool.usecases.learned import Learned
from mendpool.usecases.look import read_report
from mendpool.usecases.make_fit import made_fit
from mendpool.usecases.members import add_member
from mendpool.usecases.own_copy import Taking
from mendpool.usecases.parcels_in import Read, read_parcel
from mendpool.usecases.parcels_out import Written, line_text, write_parcel
from mendpool.usecases.workplace import Workplace, view

if TYPE_CHECKING:
    from mendpool.store.values import Member

from tests.databases import Databases
from tests.factories import make_id, make_report

NOW = datetime(2028, 6, 1, tzinfo=UTC)
NAMES = ("alder", "birch", "cedar", "dogwood")


class Place:
    """One pool on a database of its own, with four members."""

    def __init__(
        self, database: DatabaseEngine, engine: Engine, scrub: Scrubber, key: int
    ) -> None:
        catalogue = engine.catalogue
        self.store = PoolStore(database)
        secret = bytes([key]) * 32
        self.store.init_pool(make_id(), secret, NOW)
        learned = Learned(self.store, catalogue, engine=engine)
        self.place = Workplace(self.store, learned, catalogue, secret, scrub)
        self.members: list[Member] = [
            add_member(self.store, name, "member", NOW).member for name in NAMES
        ]
        self.steward = add_member(self.store, "steward", "steward", NOW).member
        self.filed: list[tuple[Any, Member]] = []

    def file(self, who: int, **changes: Any) -> None:
        report_id, body = make_id(), make_report(**changes)
        member = self.members[who]
        file_report(self.place, member, report_id, body, Report.model_validate(body), NOW)
        self.filed.append((report_id, member))

    def follow(self, which: int, month: str) -> None:
        report_id, member = self.filed[which % len(self.filed)]
        body = {"happened": month, "state": "holding"}
        seen = Followup.model_validate(body)
        follow_up(self.place, member, report_id, make_id(), body, seen, NOW)

    def follow_anothers(self, report_id: Any, month: str) -> None:
        """The steward sees later how a report did, whoever's and of whichever pool."""
        body = {"happened": month, "state": "holding"}
        seen = Followup.model_validate(body)
        follow_up(self.place, self.steward, report_id, make_id(), body, seen, NOW)

    def held(self) -> list[Any]:
        return [report.id for report in self.store.reports_after(0, 500)]

    def take_back(self, which: int) -> None:
        report_id, member = self.filed.pop(which % len(self.filed))
        withdraw(self.place, member, report_id, NOW)

    def parcel(self) -> list[bytes]:
        return [line.encode() for line in write_parcel(self.store, Written())]

    def lines(self) -> list[bytes]:
        """What a parcel says, less its end."""
        return sorted(self.parcel()[:-1])

    def read(self, lines: list[bytes]) -> Read:
        return list(read_parcel(self.place, lines, NOW))[-1]

    def close(self) -> None:
        self.store.engine.dispose()


Begun = tuple[Databases, Engine, Scrubber]


@pytest.fixture(scope="module")
def begun(databases: Databases, engine: Engine) -> Begun:
    """A maker of databases, and the engine and the scrubber that all pools share."""
    return databases, engine, scrubber(engine.catalogue, None)


@contextmanager
def pools_of(begun: Begun, count: int) -> Iterator[list[Place]]:
    """Give so many pools on databases that go when they do."""
    databases, engine, scrub = begun
    with ExitStack() as opened:
        made = []
        for number in range(count):
            database = databases.open(opened.enter_context(databases.migrated()))
            made.append(Place(database, engine, scrub, number + 1))
            opened.callback(made[-1].close)
        yield made


def copy_of(pool: Place, file: Path) -> CopyStore:
    """A member's copy of a pool as it is now."""
    copy = CopyStore(make_engine(f"sqlite:///{file}"))
    copy.begin(make_id(), bytes(32), NOW)
    follow(copy, pool)
    return copy


def follow(copy: CopyStore, pool: Place) -> None:
    catalogue = pool.place.catalogue
    lines = changes_after(pool.place, copy.last_seq(), 99)["items"]
    derive = Deriver(catalogue, lambda: pool.place.learned.engine)
    Taking(copy, derive, catalogue, NOW).take(lines)


def exchange_until_nothing_is_new(pools: list[Place]) -> None:
    for _ in range(6):
        new = 0
        for giver in pools:
            parcel = giver.parcel()
            for taker in pools:
                if taker is not giver and len(parcel) > 1:
                    new += taker.read(parcel).taken["new"]
        if not new:
            return
    raise AssertionError("the exchange does not come to an end")


def act(pools: list[Place], what: str, at: int, first: int, second: int) -> None:
    """Do one step; one that can't be done as things stand does nothing."""
    pool = pools[at]
    if what == "file":
        pool.file(first, machine={"fuel": FUELS[second], "rated_kva": 5.0})
    elif what == "follow" and pool.filed:
        pool.follow(first, ("2026-11", "2027-02", "2027-10")[second])
    elif what == "see" and (held := pool.held()):
        pool.follow_anothers(held[first % len(held)], ("2026-11", "2027-02")[second % 2])
    elif what == "take back" and pool.filed:
        pool.take_back(first)
    elif what == "carry" and first != at:
        parcel = pool.parcel()
        part = parcel[: len(parcel) * second // 99]
        if len(parcel) > 1 and part:
            pools[first].read(part)


STEP = st.one_of(
    st.tuples(st.just("file"), st.integers(0, 2), st.integers(0, 3), st.integers(0, 2)),
    st.tuples(st.just("follow"), st.integers(0, 2), st.integers(0, 9), st.integers(0, 2)),
    st.tuples(st.just("see"), st.integers(0, 2), st.integers(0, 9), st.integers(0, 1)),
    st.tuples(st.just("take back"), st.integers(0, 2), st.integers(0, 9), st.just(0)),
    st.tuples(st.just("carry"), st.integers(0, 2), st.integers(0, 2), st.integers(0, 99)),
)
FUELS = ("diesel", "petrol", "lpg")


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(steps=st.lists(STEP, min_size=6, max_size=20))
def test_pools_that_exchange_end_equal(
    begun: Begun, steps: list[tuple[str, int, int, int]]
) -> None:
    with pools_of(begun, 3) as pools:
        for step in steps:
            act(pools, *step)
        exchange_until_nothing_is_new(pools)
        lines = [pool.lines() for pool in pools]
        assert lines[0] == lines[1] == lines[2]
        # Once more, backwards and torn, and back into where they came from: nothing changes.
        for giver in pools:
            for taker in pools:
                parcel = giver.parcel()
                if len(parcel) > 1:
                    taker.read(parcel[::-1][1:])
                    taker.read(parcel[: len(parcel) // 2 + 1])
        assert [pool.lines() for pool in pools] == lines


class TestOneParcel:
    def test_it_tells_neither_who_nor_where_nor_when(self, begun: Begun) -> None:
        with pools_of(begun, 1) as (pool,):
            for who in range(3):
                pool.file(
                    who, region="river flats", note="left it on the sill", happened="2026-10"
                )
            pool.follow(0, "2026-11")
            text = b"".join(pool.parcel()).decode()
        for word in ("Harrow", "6D", "river", "sill", "2026-10", "1240", "alder", "m-"):
            assert word not in text
        assert '"rated_kva":9.0' in text  # the class from 6 to 12
        assert '"hours":1000' in text

    def test_a_class_of_two_people_stays_at_home(self, begun: Begun) -> None:
        with pools_of(begun, 1) as (pool,):
            for who in (0, 1, 1, 1):
                pool.file(who)
            written = Written()
            assert len(list(write_parcel(pool.store, written))) == 1
            assert written.kept_home == 4
            pool.file(2)
            assert len(pool.lines()) == 5

    def test_what_came_counts_and_is_searched_like_the_pools_own(self, begun: Begun) -> None:
        with pools_of(begun, 2) as (giver, taker):
            for who in range(3):
                giver.file(who)
            giver.follow(1, "2027-08")
            done = taker.read(giver.parcel())
            assert (done.taken["new"], done.whole, done.left_out) == (4, True, 0)
            assert taker.store.report_count() == 3
            fit = taker.place.learned.newest_fit()
            assert fit.reports == 3
            assert fit.cause_total["brushes/worn"] > 0

    def test_a_withdrawal_reaches_whoever_has_it_and_it_never_comes_back(
        self, begun: Begun
    ) -> None:
        with pools_of(begun, 3) as (origin, second, third):
            for who in range(3):
                origin.file(who)
            before = origin.parcel()
            second.read(before)
            origin.take_back(0)
            second.read(origin.parcel())
            assert second.store.report_count() == 2
            # The third hears of the withdrawal first, and of the report from an old parcel.
            third.read(second.parcel())
            assert third.read(before).taken["withdrawn"] == 1
            assert third.store.report_count() == 2
            gone = str(second.store.withdrawn_own()) + str(
                [row.line for row in second.store.foreign_lines("report")]
            )
            (withdrawn,) = second.store.foreign_lines("withdrawal")
            assert str(withdrawn.id) not in gone

    def test_what_a_steward_takes_back_is_gone_here_and_nowhere_else(
        self, begun: Begun
    ) -> None:
        with pools_of(begun, 3) as (origin, second, third):
            for who in range(3):
                origin.file(who)
            origin.follow(0, "2026-11")
            parcel = origin.parcel()
            second.read(parcel)
            taken = origin.filed[0][0]
            second.store.withdraw(taken, second.steward.id, True, NOW)
            assert str(taken) not in str(second.lines())
            # It does not come back, under whatever hash, and is not taken back for others.
            assert second.read(parcel).taken["withdrawn"] == 2
            third.read(second.parcel())
            assert third.read(parcel).taken["new"] >= 1
            # But when its own pool takes it back, that is passed on.
            origin.take_back(0)
            second.read(origin.parcel())
            assert str(taken) in str(second.lines())
            assert third.read(second.parcel()).taken["new"] == 1

    def test_what_was_seen_elsewhere_of_an_own_report_is_kept(self, begun: Begun) -> None:
        with pools_of(begun, 2) as (origin, second):
            for who in range(3):
                origin.file(who)
            second.read(origin.parcel())
            second.follow_anothers(origin.filed[0][0], "2026-11")
            assert origin.read(second.parcel()).taken["new"] == 1
            exchange_until_nothing_is_new([origin, second])
            assert origin.lines() == second.lines()
            assert len(origin.lines()) == 4
            origin.take_back(0)
            exchange_until_nothing_is_new([origin, second])
            assert origin.lines() == second.lines()
            assert "followup" not in str(origin.lines())

    @pytest.mark.parametrize(
        "more", [{"note": "ring 020 7946 0123"}, {"hours_run": 41}, {"happened": "2099-12"}]
    )
    def test_a_follow_up_is_as_coarse_as_its_report(
        self, begun: Begun, more: dict[str, object]
    ) -> None:
        with pools_of(begun, 2) as (giver, taker):
            giver.file(0)
            line = {
                "kind": "report", "id": str(make_id()), "author": "a" * 16,
                "origin": str(make_id()), "body": coarse_report(make_report()),
            }  # fmt: skip
            follow = line | {
                "kind": "followup", "id": str(make_id()), "report": line["id"],
                "body": {"happened": "2026-01", "state": "holding"} | more,
            }  # fmt: skip
            done = taker.read([line_text(line).encode(), line_text(follow).encode()])
            assert (done.taken["new"], done.left_out) == (1, 1)

    def test_a_line_that_is_replaced_breaks_no_copy_and_is_counted(
        self, begun: Begun, tmp_path: Path
    ) -> None:
        with pools_of(begun, 2) as (giver, taker):
            for who in range(2):
                giver.file(who)
            report = {
                "kind": "report", "id": str(make_id()), "origin": str(make_id()),
                "body": coarse_report(make_report()),
            }  # fmt: skip
            lines = [line_text(report | {"author": f"{n:016x}"}).encode() for n in range(2)]
            greater, smaller = sorted(lines, key=lambda one: sha256(one).hexdigest())[::-1]
            taker.read([greater])
            taker.follow_anothers(UUID(str(report["id"])), "2026-11")
            copy = copy_of(taker, tmp_path / "copy.db")
            taker.read([smaller])
            (held,) = taker.store.reports_after(0, 9)
            assert len(held.followups) == 1, "what was seen here stays with it"
            last, expected = taker.store.last_seq(), taker.place.learned.engine.expectations
            assert Fit.from_bytes(made_fit(taker.store, expected, last)).reports == 1
            assert taker.place.learned.search({"k:fuel=diesel": 1}).searched == 1
            for one in (copy, copy_of(taker, tmp_path / "fresh.db")):
                follow(one, taker)
                assert len(one.get_report(UUID(str(report["id"]))).followups) == 1
                assert one.count_reports() == 1
                one.engine.dispose()

    def test_of_another_pools_months_only_the_year_and_the_distance_are_shown(
        self, begun: Begun, tmp_path: Path
    ) -> None:
        with pools_of(begun, 2) as (giver, taker):
            for who in range(3):
                giver.file(who, happened="2026-10")
            giver.follow(0, "2027-05")
            taker.read(giver.parcel())
            shown = read_report(taker.place, taker.steward, giver.filed[0][0])
            assert (shown["happened"], shown["from_another_pool"]) == ("2026", True)
            (later,) = shown["followups"]
            assert later == {"id": later["id"], "state": "holding", "months_after": 6}
            # A copy is told so too.
            copy = copy_of(taker, tmp_path / "copy.db")
            held = view(copy.get_report(giver.filed[0][0]), None)
            assert (held["happened"], held["followups"]) == ("2026", [later])
            copy.engine.dispose()

    def test_nobody_takes_back_for_another(self, begun: Begun) -> None:
        with pools_of(begun, 2) as (own, other):
            for who in range(3):
                own.file(who)
            report_id = own.filed[0][0]
            origin = other.store.pool_settings().pool_id
            line = f'{{"id":"{report_id}","kind":"withdrawal","origin":"{origin}"}}\n'
            own.read([line.encode()])
            assert own.store.report_count() == 3

    def test_an_id_of_another_kind_is_nobodys_to_take(self, begun: Begun) -> None:
        with pools_of(begun, 2) as (giver, taker):
            for who in range(3):
                giver.file(who)
            giver.follow(0, "2027-02")
            parcel = giver.parcel()
            taker.read(parcel)
            before = taker.lines()
            report, followup = (
                next(json.loads(line) for line in parcel if kind in line)
                for kind in (b'"kind":"report"', b'"kind":"followup"')
            )
            swapped = [
                followup | {"id": report["id"]},
                report | {"id": followup["id"]},
                {"kind": "withdrawal", "id": followup["id"], "origin": report["origin"]},
            ]
            # Under whatever hash they come, smaller ones among them.
            for author in range(6):
                lines = [
                    line_text(line | ({"author": f"{author:016x}"} if "author" in line else {}))
                    for line in swapped
                ]
                done = taker.read([line.encode() for line in lines])
                assert done.taken == {"unchanged": 3}
            assert taker.lines() == before

    def test_one_hash_for_two_people_of_two_pools_makes_two_authors(self, begun: Begun) -> None:
        with pools_of(begun, 2) as (giver, taker):
            giver.file(0)
            report = giver.filed[0][0]
            body = coarse_report(make_report())
            for origin in (make_id(), make_id()):
                line = {"kind": "report", "id": str(make_id()), "origin": str(origin),
                        "author": "0" * 16, "body": body}  # fmt: skip
                assert taker.read([line_text(line).encode()]).taken == {"new": 1}
            foreign = [m for m in taker.store.list_members() if m.revoked]
            assert len({m.group for m in foreign}) == len({m.pseudonym for m in foreign}) == 2
            assert str(report) not in str(foreign)

    def test_a_line_again_after_its_report_was_replaced_in_the_same_batch(
        self, begun: Begun
    ) -> None:
        with pools_of(begun, 3) as (giver, first, second):
            giver.file(0)
            report = {
                "kind": "report", "id": str(giver.filed[0][0]), "author": "a" * 16,
                "origin": str(make_id()), "body": coarse_report(make_report()),
            }  # fmt: skip
            lines = [line_text(report | {"author": f"{n:016x}"}).encode() for n in range(2)]
            greater, smaller = sorted(lines, key=lambda one: sha256(one).hexdigest())[::-1]
            follower = report | {
                "kind": "followup", "id": str(make_id()), "report": report["id"],
                "body": {"happened": "2027-01", "state": "holding"},
            }  # fmt: skip
            follow = line_text(follower).encode()
            first.read([greater, follow])
            first.read([smaller, follow])
            second.read([smaller, follow])
            held = [list(pool.store.reports_after(0, 9)) for pool in (first, second)]
            assert [len(reports[0].followups) for reports in held] == [1, 1]
            assert held[0][0].pseudonym == held[1][0].pseudonym

    @pytest.mark.parametrize(
        "spoil",
        [
            lambda line: line.replace(b'"kind":"report"', b'"kind":"rumour"'),
            lambda line: line.replace(b'"outcome":"repaired"', b'"outcome":"mendd"'),
            lambda line: line.replace(b'"machine":{', b'"machine":{"make":"Harrow",'),
            lambda line: line.replace(b'":"', b'": "', 1),
            lambda line: b"\xff" + line,
            lambda line: line[:-9],
            lambda _: b"[" * 2000,
        ],
    )
    def test_a_spoilt_line_is_left_out_and_the_rest_is_read(
        self, begun: Begun, spoil: Any
    ) -> None:
        with pools_of(begun, 2) as (giver, taker):
            for who in range(3):
                giver.file(who)
            parcel = giver.parcel()
            parcel[0] = spoil(parcel[0])
            done = taker.read(parcel)
            assert (done.left_out, done.taken["new"], done.whole) == (1, 2, False)
