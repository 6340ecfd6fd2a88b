"""P(cause | set, symptoms, readings, words, past cases): every factor kept to be shown.

Catalogue prior and banded likelihoods as pseudo-counts, tempered words, weighted cases, and
always "something else" (the last row). Readings are not tempered: log loss on the bench's
tuning worlds was least with them as they are.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mendpool.core.diagnosis.complaint import weigh_complaint
from mendpool.core.diagnosis.facts import Facts
from mendpool.core.diagnosis.knowledge import Array, Knowledge
from mendpool.core.diagnosis.result_rates import ResultRates
from mendpool.core.diagnosis.word_rates import WordRates
from mendpool.core.evidence.bayes import mean_likelihood, update
from mendpool.core.evidence.case import Case, components_at_fault
from mendpool.core.evidence.getting_by import only_gets_by
from mendpool.core.evidence.ledger import gathered
from mendpool.core.record.report import Attempt

PRIOR_CASES = 12.0
OTHER_LEAST = 0.02
NAMED = 3.0
JUST_BEFORE = 4.0
_DENIED_MOST, _DENIAL_TEMPER = 0.85, 0.7
FOUND_GOOD, FOUND_BAD = 0.15, 5.0
SAID_GOOD = 0.4
"""A part said to be good without a word of how that was found out."""

_IMPOSSIBLE = 1e-12
SHARPER = 3.0
"""Weights of past cases are raised to this before they are counted: many that are a little
like this one must not drown the few that are much like it. Chosen by log loss on the bench's
tuning worlds."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """One piece of evidence: its name, and its likelihood under each cause.

    Args:
        witness: whether it is of the set itself, by itself: words add up and past cases are
            of other sets, so that neither can contradict a reading.
    """

    of: str
    likelihood: Array
    witness: bool = True


@dataclass(frozen=True, slots=True)
class Votes:
    """What past cases came to: their weight by row, in all, by member, and of those new.

    Args:
        seen: of all.
        by_member: of each member, in the order of their opaque numbers, members in rows.
        unvouched: of members nobody has vouched for.
        count: how many cases.
    """

    seen: Array
    by_member: Array
    unvouched: Array
    count: int


@dataclass(frozen=True, slots=True)
class Beliefs:
    """What is believed of each cause.

    Args:
        probability: by row, sums to 1, the last "something else".
        catalogue_share: by row, how much of it is catalogue rather than reports.
        evidence: the pieces, for the factors.
        kinds: P(kind) by code where the kind of set is not known, else empty.
        kind_given_cause: P(kind | cause), kinds in rows in the order of `kinds`.
        unvoted: what would be believed without the past cases.
        votes: the past cases.
    """

    probability: Array
    catalogue_share: Array
    evidence: tuple[Evidence, ...]
    kinds: Mapping[str, float]
    kind_given_cause: Array | None
    unvoted: Array
    votes: Votes

    def means(self) -> tuple[float, ...]:
        """Return how likely each piece of evidence was by all that is believed without it."""
        return tuple(
            mean_likelihood(piece.likelihood, self.probability) for piece in self.evidence
        )

    def factors(self, rows: Sequence[int]) -> list[list[tuple[str, float]]]:
        """Return what speaks for or against causes, strongest first, 1.0 left out.

        Args:
            rows: of the causes.

        Returns:
            For each of them, what each piece is called and how many times likelier it makes it.
        """
        told: list[list[tuple[str, float]]] = [[] for _ in rows]
        means = self.means()
        pieces = [(p, mean) for p, mean in zip(self.evidence, means, strict=True) if mean > 0]
        if not pieces:
            return told
        times = np.array([piece.likelihood for piece, _ in pieces])[:, list(rows)]
        times /= np.array([mean for _, mean in pieces])[:, None]
        piece_at, row_at = np.nonzero((times <= 0.9) | (times >= 1.1))
        for piece, row, by in zip(
            piece_at.tolist(), row_at.tolist(), times[piece_at, row_at].tolist(), strict=True
        ):
            told[row].append((pieces[piece][0].of, float(f"{by:.2g}")))
        for factors in told:
            factors.sort(key=lambda t: (-max(t[1], 1 / t[1]) if t[1] else -99.0, t[0]))
        return told


def believe(
    facts: Facts,
    knowledge: Knowledge,
    results: ResultRates,
    word_rates: WordRates,
    cases: Sequence[tuple[Case, float]],
) -> Beliefs:
    """Weigh every cause.

    Args:
        facts: the set in trouble.
        knowledge: the catalogue as arrays.
        results: what the pool taught of looks and readings.
        word_rates: the same fit's words by cause.
        cases: past cases like this one with their weights.
    """
    spoken = weigh_complaint(facts, knowledge, word_rates)
    other = max(OTHER_LEAST, word_rates.unlisted)
    prior = np.append(spoken.prior * (1.0 - other), other)
    evidence = [
        Evidence(_named(facts), spoken.by_symptoms),
        Evidence(spoken.words, spoken.by_words, witness=False),
        *_from_denials(facts, knowledge),
        *_from_before(facts, knowledge),
        *_from_results(facts, knowledge, results),
        *_from_attempts(facts.tried, knowledge),
    ]
    unvoted = update(prior, (piece.likelihood for piece in evidence))
    votes = _votes(unvoted, knowledge, cases)
    evidence += _of_votes(unvoted, votes)
    held = PRIOR_CASES * unvoted
    share = held / np.maximum(held + votes.seen, 1e-12)
    share[-1] = PRIOR_CASES / (PRIOR_CASES + float(votes.seen.sum()))
    return Beliefs(
        probability=voted(unvoted, votes.seen),
        catalogue_share=share,
        evidence=tuple(evidence),
        kinds=spoken.kinds,
        kind_given_cause=spoken.kind_given_cause,
        unvoted=unvoted,
        votes=votes,
    )


def _named(facts: Facts) -> str:
    surest = sorted(facts.symptoms.items(), key=lambda item: (-item[1], item[0]))
    return ", ".join(code for code, _ in surest[:2]) or "what it does"


def _from_denials(facts: Facts, knowledge: Knowledge) -> list[Evidence]:
    """What the set does not do counts against the causes that mostly do it."""
    of_causes = knowledge.symptoms_of_causes()
    pieces = []
    for code in facts.absent:
        column = knowledge.column.get(code)
        if column is not None:
            against = (1.0 - _DENIED_MOST * of_causes[:, column]) ** _DENIAL_TEMPER
            pieces.append(Evidence(f"no {code}", np.append(against, 1.0)))
    return pieces


def _from_before(facts: Facts, knowledge: Knowledge) -> list[Evidence]:
    """What happened just before, and parts that are said to have failed in a certain way."""
    before = np.ones(len(knowledge.causes) + 1)
    named = np.ones_like(before)
    happened = set(facts.before)
    if happened:
        for row, cause in enumerate(knowledge.causes):
            if not happened.isdisjoint(cause.follows):
                before[row] = JUST_BEFORE
    cleared = set(facts.cleared) - {attempt.component for attempt in facts.tried}
    # What is said of a cause by name goes before what is said of its part.
    for component in cleared:
        named[knowledge.rows_of_component.get(component, [])] = SAID_GOOD
    for keys, times in ((facts.not_faults, 1.0 / NAMED), (facts.faults, NAMED)):
        named[[knowledge.row[key] for key in keys if key in knowledge.row]] = times
    spoken_of = dict.fromkeys((*facts.faults, *facts.not_faults, *sorted(cleared)))
    pieces = [
        Evidence(", ".join(facts.before), before),
        Evidence(f"said of {', '.join(spoken_of)}", named),
    ]
    return [piece for piece in pieces if not np.all(piece.likelihood == 1.0)]


def voted(unvoted: Array, seen: Array) -> Array:
    """Return what is believed once past cases are counted.

    pi = (12 x believed + sum of weights) / (12 + sum of weights) over the causes that can be;
    "something else" keeps its share, since no case can name it.

    Args:
        unvoted: what would be believed without them.
        seen: sums of their weights by cause; of several countings one a row.
    """
    other = float(unvoted[-1])
    listed = unvoted.copy()
    listed[-1] = 0.0
    listed /= max(float(listed.sum()), 1e-300)
    held = np.where(listed > _IMPOSSIBLE, PRIOR_CASES * listed + seen, 0.0)
    total = held.sum(axis=-1, keepdims=True)
    posterior = held / np.maximum(total, 1e-300) * (1.0 - other)
    posterior[..., -1] = other
    return np.asarray(np.where(total > 0.0, posterior, unvoted))


def _votes(believed: Array, knowledge: Knowledge, cases: Sequence[tuple[Case, float]]) -> Votes:
    """Count what reports like this one came to."""
    protections = frozenset(knowledge.catalogue.sets.protections)
    size, none = len(believed), np.zeros(len(believed))
    labels: dict[tuple[str, ...], int] = {}
    named = [case.causes or components_at_fault(case, protections) for case, _ in cases]
    label = np.array([labels.setdefault(n, len(labels)) for n in named], dtype=np.intp)
    spread = [_label(one, believed, knowledge) for one in labels]
    begins = np.cumsum([0, *map(len, spread)])
    fresh, at = gathered(begins, label)
    if not len(at):
        return Votes(none, np.zeros((0, size)), none, 0)
    told = np.array([pair for pairs in spread for pair in pairs], dtype=np.float64)
    rows, share = told[at, 0].astype(np.intp), told[at, 1]
    times = np.diff(fresh)
    # Not NumPy's power, which is another in the last place on another machine.
    vote = np.repeat([weight**SHARPER for _, weight in cases], times) * share
    members, member = np.unique(
        np.repeat([case.group for case, _ in cases], times), return_inverse=True
    )
    by_member = _summed(member * size + rows, vote, size * len(members))
    fresh_ones = np.repeat([not case.vouched for case, _ in cases], times)
    return Votes(
        seen=_summed(rows, vote, size),
        by_member=by_member.reshape(-1, size),
        unvouched=_summed(rows, np.where(fresh_ones, vote, 0.0), size),
        count=int(np.count_nonzero(times)),
    )


def _summed(places: NDArray[np.intp], weights: Array, size: int) -> Array:
    return np.asarray(np.bincount(places, weights, minlength=size), dtype=np.float64)


def _of_votes(unvoted: Array, votes: Votes) -> list[Evidence]:
    """The past cases as one piece of evidence, to be shown among the factors."""
    if not votes.count:
        return []
    after = voted(unvoted, votes.seen)
    times = np.divide(after, unvoted, out=np.ones_like(after), where=unvoted > _IMPOSSIBLE)
    reports = "1 report like it" if votes.count == 1 else f"{votes.count} reports like it"
    return [Evidence(reports, times, witness=False)]


def _label(
    named: Sequence[str], catalogue: Array, knowledge: Knowledge
) -> list[tuple[int, float]]:
    """Spread what was at fault over the rows it may mean; empty when it names none of them."""
    if len(named) == 1 and (row := knowledge.row.get(named[0])) is not None:
        return [(row, 1.0)] if catalogue[row] > 0 else []
    spread: dict[int, float] = {}
    for key in named:
        rows = knowledge.rows_of(key)
        mass = catalogue[rows] if rows else np.zeros(0)
        if not rows or mass.sum() <= 0:
            continue
        for row, share in zip(rows, (mass / mass.sum()).tolist(), strict=True):
            spread[row] = spread.get(row, 0.0) + share
    total = float(sum(spread.values()))
    return [(row, share / total) for row, share in spread.items()] if total > 0 else []


def _from_results(facts: Facts, knowledge: Knowledge, rates: ResultRates) -> list[Evidence]:
    evidence = []
    for check, result in sorted((facts.found or {}).items()):
        row = rates.row(check, result)
        if row is not None and not knowledge.catalogue.checks[check].tells:
            label = knowledge.catalogue.checks[check].label
            evidence.append(Evidence(f"{label}: {result}", row))
    return evidence


def _from_attempts(tried: Sequence[Attempt], knowledge: Knowledge) -> list[Evidence]:
    """What was tried rules down, or up, and never to nothing."""
    evidence = []
    for attempt in tried:
        row = np.ones(len(knowledge.causes) + 1)
        for i in knowledge.rows_of_component.get(attempt.component, ()):
            row[i] = _after(attempt, knowledge, i)
        if not np.all(row == 1.0):
            said = f"{attempt.component} {attempt.action}: {attempt.result}"
            evidence.append(Evidence(said, row))
    return evidence


def _after(attempt: Attempt, knowledge: Knowledge, row: int) -> float:
    if attempt.result == "found-good":
        return FOUND_GOOD
    if attempt.result == "found-bad":
        return FOUND_BAD
    works = cure_of(knowledge, row, attempt.action)
    if attempt.result in ("no-change", "worse"):
        return max(0.03, 1.0 - works)
    if attempt.result == "improved":
        return 1.0 + works
    if attempt.result == "fixed":
        return 1.0 + 4.0 * works
    return 1.0


def cure_of(knowledge: Knowledge, row: int, action: str) -> float:
    """Return how often an action on the cause's own part cures it, by the catalogue.

    An action no remedy names is taken for half as good as the best one that is listed. What
    only gets the set by cures nothing.
    """
    cause, protections = knowledge.causes[row], knowledge.catalogue.sets.protections
    if action == "test" or only_gets_by(cause.component, action, protections):
        return 0.0
    remedies = cause.remedies
    same = [r.works for r in remedies if r.action == action]
    if same:
        return max(same)
    return 0.5 * max(r.works for r in remedies)
