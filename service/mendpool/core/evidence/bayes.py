"""Bayes' rule on arrays of causes."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def update(prior: Array, likelihoods: Iterable[Array]) -> Array:
    """Return the posterior: prior times each likelihood, made to sum to 1.

    Args:
        prior: P(cause), any positive scale.
        likelihoods: P(what was seen | cause), one array for each independent piece.
    """
    posterior = prior.astype(np.float64)
    for likelihood in likelihoods:
        posterior = posterior * likelihood
    return posterior / max(float(posterior.sum()), 1e-300)


def mean_likelihood(likelihood: Array, posterior: Array) -> float:
    """Return P(what was seen) by what is believed without this piece of evidence.

    Args:
        likelihood: P(what was seen | cause).
        posterior: what is believed with this piece among the rest; it is taken out again.
    """
    without = np.divide(
        posterior, likelihood, out=np.zeros_like(posterior), where=likelihood > 0
    )
    mass = float(without.sum())
    return float(without @ likelihood) / mass if mass > 0 else 0.0


def times_likelier(likelihood: Array, posterior: Array, row: int) -> float:
    """Return how many times likelier a piece of evidence has made one cause.

    Args:
        likelihood: P(what was seen | cause).
        posterior: what is believed with this piece among the rest.
        row: of the cause.
    """
    mean = mean_likelihood(likelihood, posterior)
    return float(likelihood[row]) / mean if mean > 0 else 1.0


def likelihood_ratio(
    seen_with: float, with_it: float, seen_without: float, without: float
) -> float:
    """Return P(seen | cause) over P(seen | no such cause), from counts."""
    return (seen_with / with_it) / (seen_without / without)
