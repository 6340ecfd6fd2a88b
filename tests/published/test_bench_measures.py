"""The benches' own measures against published values, and against forecasters known true."""

from random import Random

import pytest

from tests.bench.measures import bootstrap, brier, log_loss, murphy_split, ndcg, reliability
from tests.published.test_check_values import ROWS

# Wilks, Statistical Methods in the Atmospheric Sciences, table 7.3: forecast, observed share
# and share of forecasts in twelve bins, as the example data of R's package `verification`.
FORECASTS = (0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
OBSERVED = (
    0.006, 0.019, 0.059, 0.15, 0.277, 0.377, 0.511, 0.587, 0.723, 0.779, 0.934, 0.933,
)  # fmt: skip
SHARES = (
    0.4112, 0.0671, 0.1833, 0.0986, 0.0616, 0.0366, 0.0303, 0.0275, 0.0245, 0.022, 0.017,
    0.0203,
)  # fmt: skip


def test_the_split_of_wilks_table_is_as_worked_out() -> None:
    """REL .00083, RES .06279, UNC .13542, Brier .07346: inputs printed (C), split own."""
    split = murphy_split(FORECASTS, OBSERVED, SHARES)
    assert split.reliability == pytest.approx(0.00083, abs=5e-6)
    assert split.resolution == pytest.approx(0.06279, abs=5e-6)
    assert split.uncertainty == pytest.approx(0.13542, abs=5e-6)
    row = next(r for r in ROWS if r["check"].startswith("Brier identity"))
    assert split.brier == pytest.approx(row["expected"][0], abs=1e-8)


def test_the_base_rate_of_wilks_table_is_as_printed() -> None:
    row = next(r for r in ROWS if r["check"] == "Wilks table base rate")
    base = sum(o * w for o, w in zip(OBSERVED, SHARES, strict=True)) / sum(SHARES)
    assert base == pytest.approx(row["expected"][0], abs=row["tol"]), row["source"]


def test_the_split_adds_up_to_the_score_of_the_single_forecasts() -> None:
    """Murphy 1973: exact where every forecast of a bin is the same. Data of scikit-learn's
    brier_score_loss example, whose score is .0375 (status L)."""
    outcomes, forecasts = [0, 1, 1, 0], [0.1, 0.9, 0.8, 0.3]
    assert brier(outcomes, forecasts) == pytest.approx(0.0375)
    assert murphy_split(forecasts, outcomes, [1] * 4).brier == pytest.approx(0.0375)


def test_log_loss_and_ndcg_of_the_library_pages() -> None:
    """scikit-learn documentation: log_loss .21616; ndcg_score of [10,0,0,1,5] in the order of
    [.1,.2,.3,4,70] .6957 (status L)."""
    assert log_loss([0.9, 0.9, 0.8, 0.65]) == pytest.approx(0.21616, abs=5e-6)
    assert ndcg([5, 1, 0, 0, 10], [10, 0, 0, 1, 5], 5) == pytest.approx(0.6957, abs=5e-5)


def _questions(count: int, seed: int) -> tuple[list[list[float]], list[int | None]]:
    rng = Random(seed)
    rows, truths = [], []
    for _ in range(count):
        raw = [rng.random() ** 3 for _ in range(6)]
        row = [p / sum(raw) * 0.95 for p in raw]
        rows.append(row)
        luck, truth = rng.random(), None
        for place, p in enumerate(row):
            luck -= p
            if luck < 0:
                truth = place
                break
        truths.append(truth)
    return rows, truths


def test_a_true_forecaster_is_inside_its_null_nineteen_times_in_twenty() -> None:
    inside = [reliability(*_questions(120, seed), runs=120).inside for seed in range(40)]
    assert sum(inside) >= 34


def test_a_boaster_is_found_out() -> None:
    rows, truths = _questions(300, 5)
    boasts = [
        [min(0.98, max(row) * 1.6) if p == max(row) else 0.002 for p in row] for row in rows
    ]
    assert reliability(rows, truths).inside
    assert not reliability(boasts, truths).inside


def test_the_gap_of_a_true_forecaster_is_not_nothing_and_falls_with_questions() -> None:
    few, many = reliability(*_questions(50, 9)), reliability(*_questions(1000, 9))
    assert few.null > 2 * many.null > 0


def test_the_bootstrap_interval_of_a_mean_is_about_the_one_of_the_textbook() -> None:
    """Against mean -/+ 1.96 s / sqrt(n), which it approaches for many values (Efron 1979)."""
    rng = Random(3)
    values = [rng.gauss(10, 4) for _ in range(400)]
    mean = sum(values) / 400
    half = 1.96 * (sum((v - mean) ** 2 for v in values) / 399) ** 0.5 / 20
    low, high = bootstrap(values)
    assert low == pytest.approx(mean - half, abs=0.08)
    assert high == pytest.approx(mean + half, abs=0.08)


def test_the_bootstrap_takes_any_figure_and_is_the_same_each_time() -> None:
    values = [float(v) for v in range(50)]
    median = bootstrap(values, of=lambda s: sorted(s)[len(s) // 2])
    assert median == bootstrap(values, of=lambda s: sorted(s)[len(s) // 2])
    assert median[0] < 25 < median[1]
