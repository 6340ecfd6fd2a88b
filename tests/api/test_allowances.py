"""A minute's requests and a day's reports: nobody refused under them, P pieces over at most."""

import threading
import time
from collections import Counter
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.errors import TemporarilyImpossible
from mendpool.usecases.allowances import PIECES, Allowances

START = datetime(2026, 11, 28, 9, 0, tzinfo=UTC)


class Board:
    """What processes tell each other, without a database; counts how often."""

    def __init__(self) -> None:
        self.counts: dict[int, Counter[int]] = {}
        self.reports: list[datetime] = []
        self.told = 0
        self.full = False

    def add_usage(self, member_id: int, more: Mapping[int, int], oldest: int) -> dict[int, int]:
        if self.full:
            raise TemporarilyImpossible
        self.told += 1
        self.counts.setdefault(member_id, Counter()).update(more)
        return {s: n for s, n in self.counts[member_id].items() if s >= oldest}

    def reports_by_member(self, _member_id: int, since: datetime) -> int:
        self.told += 1
        return sum(at >= since for at in self.reports)


class SlowBoard(Board):
    """One that takes a while, so that others go on asking meanwhile."""

    def __init__(self) -> None:
        super().__init__()
        self._lock = threading.Lock()

    def add_usage(self, member_id: int, more: Mapping[int, int], oldest: int) -> dict[int, int]:
        with self._lock:
            told = super().add_usage(member_id, more, oldest)
        time.sleep(0.002)
        return told


def let_through(processes: list[Allowances], board: Board, turns: list[int], most: int) -> int:
    return sum(processes[n].ask(board, 1, most, START) == 0 for n in turns)


class TestAMinute:
    @given(st.integers(1, 6).flatmap(lambda p: st.lists(st.integers(0, p - 1), min_size=300)))
    def test_several_processes_let_through_at_most_a_piece_each_too_many(
        self, turns: list[int]
    ) -> None:
        most, processes = 120, [Allowances() for _ in range(6)]
        passed = let_through(processes, Board(), turns, most)
        assert passed >= min(most, len(turns))
        assert passed <= most + len(set(turns)) * (most // PIECES)

    def test_the_worst_of_eight_processes_is_a_fifth_too_many(self) -> None:
        processes = [Allowances() for _ in range(8)]
        passed = let_through(processes, Board(), [n % 8 for n in range(5000)], 600)
        assert 600 <= passed <= 720

    def test_many_threads_of_several_processes_let_through_two_pieces_each_too_many(
        self,
    ) -> None:
        most, board, processes = 600, SlowBoard(), [Allowances() for _ in range(3)]

        def ask(number: int) -> bool:
            return processes[number % 3].ask(board, 1, most, START) == 0

        with ThreadPoolExecutor(12) as pool:
            passed = sum(pool.map(ask, range(1500)))
        assert most <= passed <= most + 2 * 3 * (most // PIECES)

    def test_alone_it_is_exact(self) -> None:
        assert let_through([Allowances()], Board(), [0] * 2000, 600) == 600

    @given(st.lists(st.floats(0, 400), min_size=1, max_size=200), st.integers(1, 30))
    def test_who_keeps_within_the_number_in_every_minute_is_never_refused(
        self, seconds: list[float], most: int
    ) -> None:
        kept: list[float] = []
        for second in sorted(seconds):
            if sum(second - at < 60 for at in kept) < most:
                kept.append(second)
        processes, board = [Allowances(), Allowances()], Board()
        for number, second in enumerate(kept):
            now = START + timedelta(seconds=second)
            assert processes[number % 2].ask(board, 1, most, now) == 0

    def test_who_waits_as_told_goes_on(self) -> None:
        mine, board = Allowances(), Board()
        now = START
        for _ in range(200):
            wait = mine.ask(board, 1, 7, now)
            assert 0 <= wait <= 60
            now += timedelta(seconds=wait)
        assert now - START >= timedelta(minutes=200 / 7 / 1.2 - 2)

    def test_members_do_not_count_for_each_other(self) -> None:
        mine, board = Allowances(), Board()
        assert [mine.ask(board, member, 1, START) for member in (1, 2, 3)] == [0, 0, 0]

    def test_a_database_is_asked_once_for_many_requests(self) -> None:
        mine, board = Allowances(), Board()
        let_through([mine], board, [0] * 600, 600)
        assert board.told == PIECES

    def test_a_database_that_is_full_keeps_nobody_out_and_is_told_later(self) -> None:
        mine, other, board = Allowances(), Allowances(), Board()
        board.full = True
        assert let_through([mine], board, [0] * 100, 600) == 100
        board.full = False
        let_through([mine], board, [0] * 20, 600)
        assert let_through([other], board, [0] * 600, 600) <= 480 + 600 // PIECES


class TestADay:
    def file(self, mine: Allowances, board: Board, most: int, now: datetime = START) -> bool:
        allowed = mine.file(board, 1, most, now)
        if allowed:
            board.reports.append(now)
        return allowed

    @pytest.mark.parametrize("most", [1, 2, 39, 40, 500])
    def test_alone_it_is_exact_and_the_next_day_is_new(self, most: int) -> None:
        mine, board = Allowances(), Board()
        assert sum(self.file(mine, board, most) for _ in range(most + 20)) == most
        assert self.file(mine, board, most, START + timedelta(days=1))

    @given(st.lists(st.integers(0, 3), min_size=300, max_size=400))
    def test_several_processes_keep_at_most_a_piece_each_too_many(
        self, turns: list[int]
    ) -> None:
        processes, board, most = [Allowances() for _ in range(4)], Board(), 200
        kept = sum(self.file(processes[n], board, most) for n in turns)
        assert most <= kept <= most + 4 * (most // PIECES)

    def test_a_database_is_asked_once_for_some_reports(self) -> None:
        mine, board = Allowances(), Board()
        assert all(self.file(mine, board, 500) for _ in range(440))
        assert board.told <= PIECES + 4
