"""The bench of writes runs, keeps what it sends on both sides, and gives a row."""

import pytest

from tests.bench.writes.__main__ import measured


@pytest.mark.slow
def test_a_row_comes_of_real_servers_and_nothing_is_refused() -> None:
    (row,) = measured(databases=("sqlite",), workers=(1,), writers=(2,), requests=30)
    assert row.refused == 0
    assert row.ratio == pytest.approx(row.ours / row.bare)
    assert 0 < row.bare_cpu < row.ours_cpu
    assert 0 < row.ours_p50 <= row.ours_p99
