"""The factors worked out for all causes at once are those of one cause at a time."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.diagnosis.beliefs import Beliefs, Evidence, Votes
from mendpool.core.evidence.bayes import Array, times_likelier, update

ROWS = 5


@st.composite
def beliefs_of_pieces(draw: st.DrawFn) -> Beliefs:
    """Beliefs updated by a few pieces, some of which rule causes out."""

    def shares(least: float) -> Array:
        chance = st.one_of(st.just(least), st.floats(1e-6, 1.0))
        return np.array(draw(st.lists(chance, min_size=ROWS, max_size=ROWS)))

    prior = shares(1e-6)
    pieces = tuple(Evidence(f"piece {n}", shares(0.0)) for n in range(draw(st.integers(0, 4))))
    posterior = update(prior, [piece.likelihood for piece in pieces])
    none = np.zeros(ROWS)
    return Beliefs(
        posterior, none, pieces, {}, None, posterior, Votes(none, none[None], none, 0)
    )


@given(beliefs_of_pieces())
def test_factors_of_all_causes_are_those_of_each_alone(beliefs: Beliefs) -> None:
    together = beliefs.factors(range(ROWS))
    for row in range(ROWS):
        alone = {
            piece.of: times_likelier(piece.likelihood, beliefs.probability, row)
            for piece in beliefs.evidence
        }
        told = {of: float(f"{t:.2g}") for of, t in alone.items() if not 0.9 < t < 1.1}
        assert dict(together[row]) == told
        assert beliefs.factors([row]) == [together[row]]
