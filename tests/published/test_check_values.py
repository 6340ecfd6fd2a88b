"""Published values through our own functions. The table beside this file carries each value
with its source and how far it was confirmed (C printed, M from memory, L printed by an
installed library, own computed from published inputs)."""

import json
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest
from rapidfuzz.distance import OSA, DamerauLevenshtein, JaroWinkler, Levenshtein

from mendpool.core.diagnosis.decide import expected_cost_of_order
from mendpool.core.evidence.bayes import likelihood_ratio, update
from mendpool.core.evidence.case import Seen
from mendpool.core.evidence.durability import Watched, survival
from mendpool.core.evidence.holding import durability
from mendpool.core.evidence.intervals import Z_95, difference, shrunk_mean, unseen_share, wilson
from mendpool.core.evidence.tally import tally_of

from tests.bench.measures import average_precision, brier, dcg, log_loss, ndcg
from tests.factories import make_case

ROWS = json.loads((Path(__file__).parent / "check_values.json").read_text("utf-8"))
# Freireich 1963, 6-MP arm: months to relapse, then the censored times.
RELAPSED = (6, 6, 6, 7, 10, 13, 16, 22, 23)
CENSORED = (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)
SIX_MP = [Watched(t, True) for t in RELAPSED] + [Watched(t, False) for t in CENSORED]
GAINS = (3, 2, 3, 0, 0, 1, 2, 2, 3, 0)
IDEAL = (3, 3, 3, 2, 2, 2, 1, 1, 1, 1)
FERRITIN = (731, 809, 270, 1770)
IRON = np.array([809.0, 1770.0])


def _ferritin() -> Sequence[float]:
    """CEBM: 731 of 809 with the disease, 270 of 1,770 without; prior 809 of 2,579."""
    after = update(IRON, [np.array([731 / 809, 270 / 1770])])
    return [likelihood_ratio(*FERRITIN), float(after[0])]


def _weather() -> Sequence[float]:
    """Mitchell 1997, 6.9.1: sunny, cool, high, strong."""
    yes = np.array([2 / 9, 3 / 5])
    pieces = [yes, np.array([3 / 9, 1 / 5]), np.array([3 / 9, 4 / 5]), np.array([3 / 9, 3 / 5])]
    return [float(update(np.array([9 / 14, 5 / 14]), pieces)[1])]


def _distance_of(kind: Callable[..., float], pair: str) -> Sequence[float]:
    return [float(kind(*pair.split("/")))]


COMPUTED: dict[str, Callable[[], Sequence[float]]] = {
    "Wilson95 81/263": lambda: wilson(81, 263, Z_95),
    "Wilson95 15/148": lambda: wilson(15, 148, Z_95),
    "Wilson95 0/20": lambda: wilson(0, 20, Z_95),
    "Wilson95 1/29": lambda: wilson(1, 29, Z_95),
    "Wilson one-sided95 lower 26/200": lambda: [wilson(26, 200, 1.645)[0]],
    "Newcombe diff 56/70-48/80": lambda: difference(56, 70, 48, 80),
    # With the unrounded moments of the 70 earlier groups (printed as 1.4 and 8.6).
    "71st group posterior mean,sd": lambda: [
        shrunk_mean(4, 14, 1.3561494 / 9.9712073, 9.9712073)
    ],
    "ferritin LR+,post+": _ferritin,
    "ferritin banded LRs": lambda: [
        likelihood_ratio(70, 85, 15, 150),
        likelihood_ratio(8, 85, 108, 150),
    ],
    "naive Bayes weather P(no)": _weather,
    "Good-Turing unseen mass": lambda: [unseen_share([10, 3, 2, 1, 1, 1])],
    "ECR order 1-2, 2-1": lambda: [
        expected_cost_of_order([0.8, 0.2], [3, 2], [0, 1]),
        expected_cost_of_order([0.8, 0.2], [3, 2], [1, 0]),
    ],
    "ECR 4 actions": lambda: [
        expected_cost_of_order([0.45, 0.25, 0.20, 0.10], [10, 30, 50, 60], [0, 1, 2, 3])
    ],
    "6-MP S(t)": lambda: [share for _, share, _ in survival(SIX_MP)],
    "6-MP Greenwood se": lambda: [variance**0.5 for _, _, variance in survival(SIX_MP)],
    "DCG b=2": lambda: dcg(GAINS, original=True),
    "nDCG": lambda: [ndcg(GAINS, IDEAL, at, original=True) for at in range(1, 11)],
    "DCG6, IDCG6, nDCG": lambda: [
        dcg((3, 2, 3, 0, 1, 2))[-1],
        dcg((3, 3, 3, 2, 2, 2))[-1],
        ndcg((3, 2, 3, 0, 1, 2), (3, 3, 3, 2, 2, 2, 1, 0), 6),
    ],
    "AP .62 .44": lambda: [
        average_precision([1, 3, 6, 9, 10], 5),
        average_precision([2, 5, 7], 3),
    ],
    "Jaro-Winkler MARTHA/MARHTA": lambda: _distance_of(JaroWinkler.similarity, "MARTHA/MARHTA"),
    "Jaro-Winkler DWAYNE/DUANE": lambda: _distance_of(JaroWinkler.similarity, "DWAYNE/DUANE"),
    "Jaro-Winkler DIXON/DICKSONX": lambda: _distance_of(
        JaroWinkler.similarity, "DIXON/DICKSONX"
    ),
    "Levenshtein kitten/sitting": lambda: _distance_of(Levenshtein.distance, "kitten/sitting"),
    "Damerau unrestricted CA/ABC": lambda: _distance_of(DamerauLevenshtein.distance, "CA/ABC"),
}


@pytest.mark.parametrize("name", COMPUTED)
def test_a_published_value_comes_out_of_our_own_function(name: str) -> None:
    row = next(r for r in ROWS if r["check"] == name)
    got = list(COMPUTED[name]())
    expected = row["expected"][: len(got)]
    assert got == pytest.approx(expected, abs=max(row["tol"], 1e-9)), row["source"]


def test_followed_repairs_give_the_published_curve_with_its_numbers_at_risk() -> None:
    """Freireich 1963, 6-MP arm, told as follow-ups out of order; n.risk as R survfit prints."""
    seen = [Seen(t, "returned") for t in RELAPSED] + [Seen(t, "holding") for t in CENSORED]
    cases = [make_case(followups=(one,)) for one in reversed(seen)]
    found = durability(tally_of(cases, ()), ("brushes", "replace"))
    row = next(r for r in ROWS if r["check"] == "6-MP S(t)")
    assert [s.share for s in found.steps] == pytest.approx(row["expected"], abs=row["tol"])
    assert [s.months for s in found.steps] == [6, 7, 10, 13, 16, 22, 23]
    assert [s.at_risk for s in found.steps] == [21, 17, 15, 12, 11, 7, 6]
    assert (found.followed, found.failed) == (21, 9)
    assert all(s.low < s.share < s.high for s in found.steps)


def test_the_spelling_distance_is_the_restricted_one() -> None:
    """Textbook: optimal string alignment gives 3 where the unrestricted distance gives 2."""
    assert OSA.distance("CA", "ABC") == 3


def test_forecast_scores_are_as_printed() -> None:
    """scikit-learn documentation, brier_score_loss and log_loss examples (status L)."""
    assert brier([0, 1, 1, 0], [0.1, 0.9, 0.8, 0.3]) == pytest.approx(0.0375)
    assert log_loss([0.9, 0.9, 0.8, 0.65]) == pytest.approx(0.21616, abs=5e-6)


def test_the_table_still_holds_what_it_was_copied_with() -> None:
    assert len(ROWS) >= 60
    assert all(row["source"] and row["status"] in {"C", "M", "L", "own"} for row in ROWS)
