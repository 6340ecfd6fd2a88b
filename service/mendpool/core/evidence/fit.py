"""Everything learned from the reports up to a cut: one pure function, one value.

It depends only on which reports are held: sums are made in whole units, and what must be taken
in some order is taken in the order of the ids. It is small: it travels to members' own copies.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from mendpool.core.evidence.case import Case
from mendpool.core.evidence.counts import Counts
from mendpool.core.evidence.expectations import Expectations
from mendpool.core.evidence.families import FixRates
from mendpool.core.evidence.fit_format import FIT_FORMAT
from mendpool.core.evidence.labels import Labels
from mendpool.core.evidence.ledger import Ledger, ledger_of
from mendpool.core.evidence.norms import Norm
from mendpool.core.evidence.reports import reports_of
from mendpool.core.evidence.term_weights import NEVER_SEEN
from mendpool.core.evidence.voices import weights_of

_NEW_REPORTS, _NEW_SHARE = 64, 0.05


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
        """The weight of a term the fit has never seen."""
        return NEVER_SEEN

    def to_bytes(self) -> bytes:
        """Return the fit as canonical JSON."""
        body = {"format": FIT_FORMAT, **self.__dict__}
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
    protections = frozenset() if expected is None else expected.protections
    return fit_of(ledger_of(cases, protections), expected)


def fit_of(ledger: Ledger, expected: Expectations | None = None) -> Fit:
    """Learn from the reports of a ledger, whatever order they and its blocks lie in.

    Args:
        ledger: written with the catalogue's own protections.
        expected: as for `fit`.
    """
    reports = reports_of(ledger)
    if not len(reports.ids):
        return EMPTY_FIT
    weight, person = weights_of(reports), reports.person
    labels = None if expected is None else Labels(ledger, reports, weight, expected)
    del reports  # the rest goes block by block, and this is the largest thing held
    counts = Counts(ledger.names, expected)
    begin = 0
    for block in ledger.blocks():
        part = slice(begin, begin + len(block))
        counts.add(block, weight[part], person[part], labels)
        begin += len(block)
    return Fit(
        reports=begin,
        weights=counts.term_weights(),
        words=counts.well_used(),
        words_of_cause=counts.words_of_cause(),
        word_count=counts.word_count(),
        cause_total=counts.by_cause(counts.total),
        cause_length=counts.by_cause(counts.length),
        cause_expected=counts.expected_of_causes(labels),
        fixes=counts.rates.rates(),
        found=counts.found(),
        crowded=counts.crowded(),
        norms=counts.good_ones.norms(),
    )
