"""Laws of the EM over attempts: it climbs, order is nothing, a failure never helps its part."""

from itertools import pairwise
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.evidence.attempts import is_try
from mendpool.core.evidence.attempts_board import CauseTable
from mendpool.core.evidence.attempts_em import learn
from mendpool.core.evidence.case import Case

from tests.factories import make_attempt, make_case, make_id

PARTS = ("brushes", "avr", "capacitor")
ACTIONS = ("replace", "clean")
RESULTS = ("fixed", "no-change", "worse", "improved", "found-good", "found-bad", "part-no-good")
# Two failures a part, in rows 2p and 2p + 1, and "something else" in the last.
ROWS = {part: (2 * p, 2 * p + 1) for p, part in enumerate(PARTS)} | {
    f"{part}/{failure}": (2 * p + f,)
    for p, part in enumerate(PARTS)
    for f, failure in enumerate(("worn", "dirty"))
}
LAST = 2 * len(PARTS)


@st.composite
def pools(draw: st.DrawFn) -> list[Case]:
    cases = []
    for number in range(draw(st.integers(1, 8))):
        attempts: list[object] = []
        for _ in range(draw(st.integers(0, 3))):
            together = draw(st.sampled_from((1, 1, 1, 2)))
            result = draw(st.sampled_from(RESULTS))
            attempts += [
                make_attempt(
                    draw(st.sampled_from(PARTS)),
                    draw(st.sampled_from(ACTIONS)),
                    result,
                    shared=together,
                )
                for _ in range(together)
            ]
        named = draw(st.sampled_from(((), (), ("avr",), ("brushes/worn",), ("avr/dirty",))))
        cases.append(
            make_case(id=str(make_id(500 + number)), causes=named, attempts=tuple(attempts))
        )
    return cases


@st.composite
def catalogues(draw: st.DrawFn) -> CauseTable:
    rng = Random(draw(st.integers(0, 10**6)))
    share = [rng.random() + 0.01 for _ in range(LAST + 1)]
    cures = {(row, action): rng.random() for row in range(LAST) for action in ACTIONS}
    return CauseTable(share, ROWS, lambda row, action: cures[(row, action)])


@given(pools(), catalogues(), st.floats(0.1, 500))
def test_the_penalised_likelihood_never_falls(
    cases: list[Case], expected: CauseTable, each: float
) -> None:
    """Dempster, Laird and Rubin 1977, theorem 1, with the catalogue's pseudo-cases."""
    course = learn(cases, {case.id: each for case in cases}, expected, {}).course
    assert all(after >= before - 1e-9 * (1 + abs(before)) for before, after in pairwise(course))


@given(pools(), catalogues(), st.randoms(use_true_random=False))
def test_cases_in_any_order_teach_the_same(
    cases: list[Case], expected: CauseTable, rng: Random
) -> None:
    weights = {case.id: 0.5 + number / 7 for number, case in enumerate(cases)}
    other = list(cases)
    rng.shuffle(other)
    turned = dict(reversed(weights.items()))
    assert learn(other, turned, expected, {}) == learn(cases, weights, expected, {})


@given(pools(), catalogues())
def test_shares_are_shares(cases: list[Case], expected: CauseTable) -> None:
    learned = learn(cases, {case.id: 1.0 for case in cases}, expected, {})
    assert sum(learned.share) == pytest.approx(1.0, abs=1e-6)
    assert all(0 < cure < 1 for cure in learned.cures.values())
    for case in cases:
        assert sum(learned.causes[case.id].values()) <= 1.0005
    for worked, tried in learned.tries.values():
        assert 0 <= worked <= tried + 1e-6
        assert tried <= len(cases) * 3 + 1e-6


@given(pools(), catalogues(), st.sampled_from(PARTS), st.sampled_from(ACTIONS))
def test_one_more_failure_never_raises_its_part(
    cases: list[Case], expected: CauseTable, part: str, action: str
) -> None:
    """Told of a case that teaches nothing, so that only what it says of itself is compared."""
    asked = make_case(id=str(make_id(900)), causes=(), attempts=cases[0].attempts)
    more = asked._replace(attempts=(*asked.attempts, make_attempt(part, action, "no-change")))
    weights = {case.id: 1.0 for case in cases} | {asked.id: 0.0}
    before = learn([*cases, asked], weights, expected, {}).causes[asked.id]
    after = learn([*cases, more], weights, expected, {}).causes[asked.id]
    assert _of(after, part) <= _of(before, part) + 0.011 * 2


@given(catalogues(), st.sampled_from(PARTS), st.integers(1, 4))
def test_one_more_failure_never_raises_its_part_where_it_teaches_too(
    expected: CauseTable, part: str, times: int
) -> None:
    failed = make_attempt(part, "replace", "no-change")
    told = []
    for count in (times - 1, times):
        case = make_case(id=str(make_id(900)), causes=(), attempts=(failed,) * count)
        told.append(learn([case], {case.id: 1.0}, expected, {}))
    assert _of(told[1].causes[case.id], part) <= _of(told[0].causes[case.id], part) + 0.011 * 2
    rows = ROWS[part]
    assert sum(told[1].share[r] for r in rows) <= sum(told[0].share[r] for r in rows) + 1e-6


@given(pools(), catalogues())
def test_what_changes_nothing_changes_nothing(cases: list[Case], expected: CauseTable) -> None:
    """A dead new part and a test leave the cures as they were."""
    weights = {case.id: 1.0 for case in cases}
    idle = (
        make_attempt("avr", result="part-no-good"),
        make_attempt("avr", "test", "no-change"),
    )
    assert not any(is_try(a) for a in idle)
    more = [case._replace(attempts=(*case.attempts, *idle)) for case in cases]
    assert learn(more, weights, expected, {}) == learn(cases, weights, expected, {})


def _of(causes: object, part: str) -> float:
    return sum(causes.get(row, 0.0) for row in ROWS[part])  # type: ignore[attr-defined]
