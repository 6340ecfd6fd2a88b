"""A fit is a function of which reports are held: by whatever way they came into the ledger."""

import json
import random
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest import mock
from uuid import UUID

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.case import Case, Healthy, case_to_text
from mendpool.core.evidence.copies import sizes_of_groups
from mendpool.core.evidence.duplicates import group_sizes
from mendpool.core.evidence.fit import Fit, fit, fit_of
from mendpool.core.evidence.ledger import Ledger, joined, ledger_of
from mendpool.core.evidence.reports import reports_of
from mendpool.core.evidence.sums import UNIT, Sparse, amount, summed, units
from mendpool.store.values import CaseRow
from mendpool.usecases.ledger_folder import LedgerFolder
from mendpool.usecases.make_fit import made_fit

from tests.factories import make_attempt, make_case, make_id

PARTS = ("brushes", "avr", "capacitor", "fuel-filter")
WORDS = ("dim", "dead", "hums", "smells", "outlet", "kettle", "hot", "rain", "zebra")
RESULTS = ("fixed", "no-change", "improved", "found-good", "found-bad", "part-no-good")
CAUSES = ("brushes/worn", "avr/failed", "capacitor/open", "fuel-filter/blocked", "avr")
KINDS = (
    {"fuel": "diesel", "excitation": "brushed-avr"},
    {"fuel": "petrol", "phases": 1},
    {"fuel": "diesel"},
    {},
)


@st.composite
def a_case(draw: st.DrawFn) -> Case:
    """A report of one of four people, of few words, so that there are copies."""
    words = draw(st.lists(st.sampled_from(WORDS), max_size=6, unique=True))
    tried = draw(
        st.lists(st.tuples(st.sampled_from(PARTS), st.sampled_from(RESULTS)), max_size=3)
    )
    together = draw(st.booleans())
    return make_case(
        id=str(make_id(draw(st.integers(0, 1 << 40)))),
        group=draw(st.integers(1, 4)),
        vouched=draw(st.booleans()),
        kind=draw(st.sampled_from(KINDS)),
        causes=(draw(st.sampled_from(CAUSES)),) if draw(st.booleans()) else (),
        attempts=tuple(
            make_attempt(part, result=result, shared=len(tried) if together else 1)
            for part, result in tried
        ),
        symptoms=draw(st.sampled_from([(), ("no-output",), ("hunting", "no-output")])),
        terms=("s:no-output", "k:fuel=diesel", *(f"w:{word}" for word in words)),
        words=tuple(words),
        found=draw(st.sampled_from([(), ("residual-volts=low",)])),
        defeated=draw(st.booleans()),
        healthy=draw(st.sampled_from([(), (Healthy(("a", "b"), 3.5),)])),
    )


def pools(most: int = 12) -> st.SearchStrategy[list[Case]]:
    return st.lists(a_case(), max_size=most, unique_by=lambda case: case.id)


# --- the ledger: in whatever blocks and order


@settings(max_examples=25)
@given(pools(), st.randoms(use_true_random=False), st.integers(1, 5))
def test_reports_in_any_blocks_and_order_teach_the_same_bytes(
    engine: Engine, cases: list[Case], rng: random.Random, size: int
) -> None:
    expected = engine.expectations
    wanted = fit(cases, expected).to_bytes()
    other = list(cases)
    rng.shuffle(other)
    ledger = ledger_of(other, expected.protections)
    blocks = [block.take(np.arange(i, min(i + size, len(block)))) for block in ledger.blocks()
              for i in range(0, len(block), size)]  # fmt: skip
    rng.shuffle(blocks)
    assert fit_of(Ledger(lambda: iter(blocks), ledger.names), expected).to_bytes() == wanted
    if blocks:
        whole = joined(blocks)
        assert (
            fit_of(Ledger(lambda: iter([whole]), ledger.names), expected).to_bytes() == wanted
        )


@settings(max_examples=20)
@given(pools(20), st.randoms(use_true_random=False))
def test_of_a_large_pool_a_part_teaches_what_attempts_do_and_it_is_always_the_same_part(
    engine: Engine, cases: list[Case], rng: random.Random
) -> None:
    other = list(cases)
    rng.shuffle(other)
    with mock.patch("mendpool.core.evidence.labels.SAMPLE", 5):
        bodies = {fit(order, engine.expectations).to_bytes() for order in (cases, other)}
    assert len(bodies) == 1


@given(pools(30))
def test_copies_are_counted_as_when_all_are_taken_one_by_one(cases: list[Case]) -> None:
    in_order = sorted(cases, key=lambda case: case.id)
    wanted = group_sizes(in_order)
    reports = reports_of(ledger_of(cases))
    found = dict(zip(reports.ids.tolist(), sizes_of_groups(reports).tolist(), strict=True))
    assert {name.decode(): size for name, size in found.items()} == wanted


@pytest.mark.parametrize("crowd", [1, 256])
def test_a_flood_of_reports_nearly_alike_is_one_voice(crowd: int) -> None:
    rng = random.Random(crowd)
    flood = [
        make_case(group=7, terms=tuple(f"w:{letter}" for letter in rng.sample("abcdefgh", 7)))
        for _ in range(400)
    ]
    others = [make_case(group=i, terms=tuple(f"w:{i}{k}" for k in "abcd")) for i in range(9)]
    wanted = group_sizes(sorted([*flood, *others], key=lambda case: case.id))
    with mock.patch("mendpool.core.evidence.copies._CROWD", crowd):
        reports = reports_of(ledger_of([*flood, *others]))
        sizes = sizes_of_groups(reports)
    assert {n.decode(): s for n, s in zip(reports.ids.tolist(), sizes, strict=True)} == wanted
    assert max(sizes) > 100


# --- sums


@given(st.lists(st.tuples(st.integers(0, 5), st.floats(0, 1)), max_size=50))
def test_sums_are_exact(pairs: list[tuple[int, float]]) -> None:
    """Beside Python's own whole numbers, which have no bounds."""
    places = np.array([place for place, _ in pairs], dtype=np.int64)
    of = units(np.array([weight for _, weight in pairs], dtype=np.float64))
    wanted = [sum(u for p, u in zip(places.tolist(), of.tolist(), strict=True) if p == place)
              for place in range(6)]  # fmt: skip
    assert summed(places, of, 6).tolist() == wanted
    sparse = Sparse.of(places, of)
    half = len(pairs) // 2
    parts = Sparse.of(places[:half], of[:half]) + Sparse.of(places[half:], of[half:])
    assert sparse.keys.tolist() == parts.keys.tolist() == sorted(set(places.tolist()))
    assert sparse.sums.tolist() == parts.sums.tolist() == [wanted[k] for k in sparse.keys]


def test_a_unit_is_far_below_what_is_shown() -> None:
    assert UNIT * 1_000_000 < 1e-4
    assert amount(units(np.array([1 / 3]))[0]) == 0.333333


# --- the feed: reports, follow-ups, withdrawals, in whatever steps


class Feed:
    """A store of which only the feed is there."""

    def __init__(self) -> None:
        self.rows: list[CaseRow] = []
        self.held: dict[str, Case] = {}

    def vouched_since(self, upto: int) -> frozenset[int]:
        del upto
        return frozenset()  # nobody earned it

    def report(self, case: Case) -> None:
        self.held[case.id] = case
        self._add("report", case.id, case)

    def followup(self, report: str) -> None:
        self._add("followup", report, None)

    def withdraw(self, report: str) -> None:
        del self.held[report]
        self.rows = [_erased(row, report) for row in self.rows]
        self._add("withdrawal", report, None)

    def _add(self, kind: Any, report: str, case: Case | None) -> None:
        group = None if case is None else case.group
        vouched = None if case is None else case.vouched
        body = None if case is None else case_to_text(case)
        seq = len(self.rows) + 1
        self.rows.append(CaseRow(seq, kind, UUID(report), group, group, vouched, body))

    def cases_after(self, seq: int, limit: int) -> Sequence[CaseRow]:
        return self.rows[seq : seq + limit]


def _erased(row: CaseRow, report: str) -> CaseRow:
    if row.report_id != UUID(report):
        return row
    return CaseRow(row.seq, row.kind, row.report_id, None, None, None, None)


@contextmanager
def folders() -> Iterator[LedgerFolder]:
    with TemporaryDirectory() as place, mock.patch("mendpool.usecases.make_fit.BLOCK", 4):
        yield LedgerFolder(Path(place), "v1")


STEPS = st.lists(
    st.sampled_from(["report", "report", "followup", "withdraw", "fit"]), max_size=25
)


@settings(max_examples=20)
@given(STEPS, pools(25), st.randoms(use_true_random=False))
def test_a_fit_kept_up_step_by_step_is_the_fit_made_anew(
    engine: Engine, steps: list[str], cases: list[Case], rng: random.Random
) -> None:
    expected, feed, waiting = engine.expectations, Feed(), list(cases)
    with folders() as folder:
        for step in [*steps, "fit"]:
            if step == "report" and waiting:
                feed.report(waiting.pop())
            elif step == "fit":
                store: Any = feed
                cut = rng.randint(0, len(feed.rows)) if rng.random() < 0.2 else len(feed.rows)
                made = made_fit(store, expected, cut, folder)
                assert made == made_fit(store, expected, cut)
                if cut == len(feed.rows):
                    assert made == fit(feed.held.values(), expected).to_bytes()
            elif step in {"followup", "withdraw"} and feed.held:
                getattr(feed, step)(rng.choice(sorted(feed.held)))


def held(words: Sequence[str]) -> tuple[Feed, list[str]]:
    feed = Feed()
    cases = [
        make_case(group=i, words=(word,), terms=("w:dead", f"w:{word}"), causes=("avr/failed",))
        for i, word in enumerate(words)
    ]
    for case in cases:
        feed.report(case)
    return feed, [case.id for case in cases]


def test_nothing_of_a_report_taken_back_is_left_on_disk(engine: Engine) -> None:
    feed, ids = held(["heron", "zebra", "otter"])
    store: Any = feed
    with folders() as folder:
        made_fit(store, engine.expectations, 3, folder)
        assert b"zebra" in _all_bytes(folder)
        feed.withdraw(ids[1])
        made_fit(store, engine.expectations, 4, folder)
        assert b"zebra" not in _all_bytes(folder)
        assert ids[1].encode() not in _all_bytes(folder, "block")
        assert b"otter" in _all_bytes(folder)


def _all_bytes(folder: LedgerFolder, what: str = "") -> bytes:
    return b"".join(file.read_bytes() for file in sorted(folder.path.glob(f"{what}*")))


@pytest.mark.parametrize("harm", ["cut short", "gone", "other bytes"])
@pytest.mark.parametrize("what", ["manifest", "names", "block"])
def test_whatever_becomes_of_the_files_the_fit_is_the_same(
    engine: Engine, what: str, harm: str
) -> None:
    feed, _ = held(["heron", "zebra", "otter", "finch", "tern", "wren"])
    store: Any = feed
    with folders() as folder:
        made_fit(store, engine.expectations, 5, folder)
        file = next(f for f in sorted(folder.path.iterdir()) if f.name.startswith(what))
        body = file.read_bytes()
        if harm == "gone":
            file.unlink()
        else:
            file.write_bytes(
                body[: len(body) // 2] if harm == "cut short" else b"x" * len(body)
            )
        wanted = fit(feed.held.values(), engine.expectations).to_bytes()
        assert made_fit(store, engine.expectations, 6, folder) == wanted
        assert made_fit(store, engine.expectations, 6, folder) == wanted


@pytest.mark.parametrize("killed_at", [1, 2])
def test_whoever_is_killed_leaves_the_old_state_or_the_new_one(
    engine: Engine, killed_at: int
) -> None:
    """Killed before the names are written, and before the manifest."""
    feed, _ = held(["heron", "zebra", "otter", "finch", "tern", "wren"])
    store: Any = feed
    written: list[Path] = []

    def dies(path: Path, body: bytes) -> None:
        written.append(path)
        if len(written) == killed_at:
            raise KeyboardInterrupt
        path.write_bytes(body)

    with folders() as folder:
        made_fit(store, engine.expectations, 3, folder)
        with (
            mock.patch("mendpool.usecases.ledger_folder.write_all", dies),
            pytest.raises(KeyboardInterrupt),
        ):
            made_fit(store, engine.expectations, 6, folder)
        assert folder.load().seq == 3
        wanted = fit(feed.held.values(), engine.expectations).to_bytes()
        assert made_fit(store, engine.expectations, 6, folder) == wanted


def test_the_ledger_of_another_feed_is_not_used(engine: Engine) -> None:
    """Such as that of a pool brought back from an older backup."""
    first, _ = held(["heron", "zebra"])
    other, _ = held(["otter", "finch", "tern"])
    store: Any = first
    with folders() as folder:
        made_fit(store, engine.expectations, 2, folder)
        store = other
        wanted = fit(other.held.values(), engine.expectations).to_bytes()
        assert made_fit(store, engine.expectations, 3, folder) == wanted


def test_another_version_begins_anew_and_drops_the_old_one(engine: Engine) -> None:
    feed, _ = held(["heron", "zebra"])
    store: Any = feed
    with TemporaryDirectory() as place:
        old, new = (LedgerFolder(Path(place), version) for version in ("v1", "v2"))
        made_fit(store, engine.expectations, 2, old)
        assert new.load().seq == 0
        made_fit(store, engine.expectations, 2, new)
        assert not old.path.exists()
        assert new.load().seq == 2


def test_a_ledger_is_followed_and_not_made_anew(engine: Engine) -> None:
    feed, _ = held(["heron", "zebra", "otter", "finch", "tern", "wren"])
    store: Any = feed
    with folders() as folder:
        made_fit(store, engine.expectations, 5, folder)
        asked: list[int] = []
        real = feed.cases_after

        def watched(seq: int, limit: int) -> Sequence[CaseRow]:
            asked.append(seq)
            return real(seq, limit)

        with mock.patch.object(feed, "cases_after", watched):
            made_fit(store, engine.expectations, 6, folder)
        assert min(asked) >= 4, "the line it ended with, to know the feed again, and what came"


def test_a_fit_of_nothing_is_the_empty_one(engine: Engine) -> None:
    store: Any = Feed()
    with folders() as folder:
        body = made_fit(store, engine.expectations, 0, folder)
    assert Fit.from_bytes(body) == Fit()
    assert json.loads(body)["reports"] == 0
