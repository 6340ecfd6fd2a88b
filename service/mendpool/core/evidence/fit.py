"""Everything learned from the reports up to a cut: one pure function, one value.

Reports are taken in the order of their ids, so that the fit depends only on which reports
are held. It is small: it travels to members' own copies.
"""

import json
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import fsum, log, sqrt

from mendpool.core.evidence.attempts_em import learn
from mendpool.core.evidence.case import Case, cured_by
from mendpool.core.evidence.duplicates import group_sizes
from mendpool.core.evidence.expectations import Expectations
from mendpool.core.evidence.families import FixRates, rates_of_fixes
from mendpool.core.evidence.norms import Norm, norms
from mendpool.core.evidence.weights import NEW_ACCOUNT, contributor_factor

WEIGHT_TOP = 100
_WELL_USED = 3
_NEW_REPORTS, _NEW_SHARE = 64, 0.05
_CROWD = 10
_LEAST_SHARE, _UNSOLVED = 0.1, 0.3
"""Less of a cause than this is not counted; a repair that nobody solved counts so much."""

_FORMAT = 3


@dataclass(frozen=True)
class Fit:
    """What the pool taught so far.

    Args:
        reports: how many it was made from.
        weights: integer weight of each term, 1 to `WEIGHT_TOP`: how much it tells causes
            apart, times how rare it is.
        words: well-used words of complaints, with the number of people who used each.
        words_of_cause: weighted count of each word under each cause as reported,
            ``component/failure`` or ``component`` alone.
        word_count: weighted count of each word over all reports, whatever the cause.
        cause_total: weighted count of reports by cause as reported.
        cause_length: weighted count of their words.
        cause_expected: how many of these reports the catalogue expected of each cause, from
            the sets they are of.
        fixes: by ``component action``, weighted (worked, tried) over the whole pool and by
            class and family of sets.
        found: ``check|cause`` to result to weighted count.
        crowded: causes of which most reports are one member's (``one``) or of members nobody
            has vouched for (``new``).
        norms: what good ones read, by key of a place on sets of a model or kind.
    """

    reports: int = 0
    weights: Mapping[str, int] = field(default_factory=dict)
    words: Mapping[str, int] = field(default_factory=dict)
    words_of_cause: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    word_count: Mapping[str, float] = field(default_factory=dict)
    cause_total: Mapping[str, float] = field(default_factory=dict)
    cause_length: Mapping[str, float] = field(default_factory=dict)
    cause_expected: Mapping[str, float] = field(default_factory=dict)
    fixes: Mapping[str, FixRates] = field(default_factory=dict)
    found: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    crowded: Mapping[str, str] = field(default_factory=dict)
    norms: Mapping[str, Norm] = field(default_factory=dict)

    @property
    def usual_weight(self) -> int:
        """The weight of a term the fit has never seen: as rare as can be."""
        return round(WEIGHT_TOP * 0.6)

    def to_bytes(self) -> bytes:
        """Return the fit as canonical JSON."""
        body = {"format": _FORMAT, **self.__dict__}
        return json.dumps(body, sort_keys=True, separators=(",", ":")).encode()

    @classmethod
    def from_bytes(cls, body: bytes) -> "Fit":
        """Read a fit back."""
        raw = json.loads(body)
        raw.pop("format")
        raw["fixes"] = {key: FixRates.from_lists(rates) for key, rates in raw["fixes"].items()}
        raw["norms"] = {key: Norm(*norm) for key, norm in raw.get("norms", {}).items()}
        return cls(**raw)


EMPTY_FIT = Fit()


def due(reports: int, fitted: int) -> bool:
    """Tell whether enough came in since the newest fit for another."""
    return reports - fitted >= max(_NEW_REPORTS, round(_NEW_SHARE * fitted)) or (
        fitted == 0 and reports >= 1
    )


def fit(cases: Iterable[Case], expected: Expectations | None = None) -> Fit:
    """Learn from the cases; the same set of cases gives the same fit in any order.

    Args:
        cases: in any order.
        expected: what the catalogue expects, to count against; without it the fit says
            nothing of how common a cause is, and leaves out what nobody named.
    """
    held = sorted(cases, key=lambda case: case.id)
    weight = _case_weights(held)
    df: Counter[str] = Counter()
    for case in held:
        df.update(set(case.terms))
    by_component, totals = _by_component(held, weight)
    counts = _of_causes(held, weight, expected)
    return Fit(
        reports=len(held),
        weights=_term_weights(df, by_component, totals, len(held)),
        words=_well_used(held),
        words_of_cause={
            word: _rounded(c) for word, c in counts.words.items() if df["w:" + word] >= 2
        },
        word_count={
            word: round(count, 6)
            for word, count in sorted(counts.all_words.items())
            if df["w:" + word] >= 2
        },
        cause_total=_rounded(counts.total),
        cause_length=_rounded(counts.length),
        cause_expected=_rounded(counts.expected),
        fixes=rates_of_fixes(
            held, weight, frozenset() if expected is None else expected.protections
        ),
        found=_found(held, weight),
        crowded=_crowded(held),
        norms=norms(held),
    )


Counted = dict[str, dict[str, float]]


def _by_component(
    held: list[Case], weight: Mapping[str, float]
) -> tuple[Counted, dict[str, float]]:
    """Weighted counts of terms under each component at fault, and of the components."""
    by_cause: Counted = defaultdict(lambda: defaultdict(float))
    totals: dict[str, float] = defaultdict(float)
    for case in held:
        for component in components_at_fault(case):
            totals[component] += weight[case.id]
            for term in case.terms:
                if not term.startswith("k:"):
                    by_cause[term][component] += weight[case.id]
    return by_cause, totals


@dataclass
class _Counts:
    """Sums over cases; each case adds to them by itself."""

    words: Counted = field(default_factory=lambda: defaultdict(lambda: defaultdict(float)))
    all_words: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    total: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    length: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    expected: dict[str, float] = field(default_factory=lambda: defaultdict(float))

    def add(self, case: Case, weight: float, causes: Mapping[str, float]) -> float:
        """Count a case by its causes and their shares; return what it counted for."""
        words = [term[2:] for term in case.terms if term.startswith("w:")]
        for word in words:
            self.all_words[word] += weight
        for cause, share in causes.items():
            mass = weight * share
            self.total[cause] += mass
            self.length[cause] += mass * len(words)
            for word in words:
                self.words[word][cause] += mass
        return weight * fsum(causes.values())


def _shares_of_causes(
    held: list[Case], weight: Mapping[str, float], expected: Expectations | None
) -> dict[str, Mapping[str, float]]:
    """By case, its causes with their shares: as reported in full, else by what was tried.

    A repair whose cause nobody wrote down still tells of it by what worked and what did not
    (EM over attempts); one that was never solved tells less.
    """
    plain: dict[str, Mapping[str, float]] = {}
    for case in held:
        named = case.causes or components_at_fault(case)
        plain[case.id] = {cause: 1.0 / len(named) for cause in named}
    if expected is None:
        return plain
    likely = {case.id: expected.likelihood(case) for case in held}
    learned = learn(held, weight, expected.causes, likely, expected.protections)
    for case in held:
        if case.causes and all("/" in cause for cause in case.causes):
            continue
        trust = 1.0 if plain[case.id] else _UNSOLVED
        told = {
            expected.keys[row]: round(trust * share, 4)
            for row, share in learned.causes.get(case.id, {}).items()
            if row < len(expected.keys) and share >= _LEAST_SHARE
        }
        if told:
            plain[case.id] = told
    return plain


def _of_causes(
    held: list[Case], weight: Mapping[str, float], expected: Expectations | None
) -> _Counts:
    counts = _Counts()
    kinds: dict[tuple[tuple[str, str | int], ...], float] = defaultdict(float)
    shares = _shares_of_causes(held, weight, expected)
    for case in held:
        mass = counts.add(case, weight[case.id], shares[case.id])
        if mass:
            kinds[tuple(sorted(case.kind.items()))] += mass
    if expected is not None:
        for kind, mass in sorted(kinds.items(), key=repr):
            for cause, chance in expected.of_kind(dict(kind)).items():
                counts.expected[cause] += mass * chance
    return counts


def _found(held: list[Case], weight: Mapping[str, float]) -> dict[str, dict[str, float]]:
    """Weighted counts of each check's results under each cause."""
    found: Counted = defaultdict(lambda: defaultdict(float))
    for case in held:
        for cause in case.causes:
            for entry in case.found:
                check, result = entry.split("=", 1)
                found[f"{check}|{cause}"][result] += weight[case.id]
    return {key: _rounded(counts) for key, counts in found.items()}


def components_at_fault(case: Case) -> tuple[str, ...]:
    """Return what was at fault: as reported, else what the cure was done to."""
    if case.causes:
        return tuple(dict.fromkeys(cause.split("/", 1)[0] for cause in case.causes))
    return tuple(dict.fromkeys(attempt.component for attempt in cured_by(case)))


def _crowded(held: list[Case]) -> dict[str, str]:
    """The causes of which a crowd's worth of reports is of one hand, or of new ones."""
    by_cause: dict[str, list[Case]] = defaultdict(list)
    for case in held:
        for cause in case.causes:
            by_cause[cause].append(case)
    crowded: dict[str, str] = {}
    for cause, cases in sorted(by_cause.items()):
        least = max(_CROWD, len(cases) // 2 + 1)
        new = sum(1 for case in cases if not case.vouched)
        if new >= least:
            crowded[cause] = "new"
        elif max(Counter(case.group for case in cases).values()) >= least:
            crowded[cause] = "one"
    return crowded


def _case_weights(cases: list[Case]) -> dict[str, float]:
    """One over its group of near-duplicates, times contributor and account factors.

    The contributor factor works on what one person says of one part: a hundred reports that
    the same part was at fault are worth three, in whatever words; thirty repairs of thirty
    parts are thirty.
    """
    groups = group_sizes(cases)
    said = {case.id: (case.group, components_at_fault(case)) for case in cases}
    times = Counter(said.values())
    return {
        case.id: (1.0 if case.vouched else NEW_ACCOUNT)
        / groups[case.id]
        * contributor_factor(times[said[case.id]])
        for case in cases
    }


def _term_weights(
    df: Mapping[str, int],
    by_cause: Mapping[str, Mapping[str, float]],
    totals: Mapping[str, float],
    reports: int,
) -> dict[str, int]:
    """Blend rarity (idf) with how much the term shifts the causes (root of the divergence).

    Kullback-Leibler divergence of P(component | term) from P(component), shrunk towards none
    by eight pseudo-reports, as measured best on a synthetic pool.
    """
    grand = sum(totals.values())
    weights: dict[str, int] = {}
    for term, count in df.items():
        rare = log(1 + (reports - count + 0.5) / (count + 0.5)) / log(1 + (reports + 0.5) / 0.5)
        tells = 0.0
        counts = by_cause.get(term, {})
        mass = sum(counts.values())
        if grand and mass:
            for component, total in sorted(totals.items()):
                base = total / grand
                p = (counts.get(component, 0.0) + 8 * base) / (mass + 8)
                tells += p * log(p / base)
        value = 0.6 * rare + 0.4 * min(1.0, sqrt(max(0.0, tells)))
        weights[term] = max(1, round(WEIGHT_TOP * value))
    return weights


def _well_used(cases: Iterable[Case]) -> dict[str, int]:
    users: dict[str, set[int]] = defaultdict(set)
    for case in cases:
        for word in case.words:
            users[word].add(case.group)
    return {word: len(who) for word, who in sorted(users.items()) if len(who) >= _WELL_USED}


def _rounded(counts: Mapping[str, float]) -> dict[str, float]:
    return {key: round(value, 6) for key, value in sorted(counts.items())}
