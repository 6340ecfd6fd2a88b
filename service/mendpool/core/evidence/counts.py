"""The sums that a fit is made of, over the blocks of a ledger."""

from collections.abc import Mapping, Sequence

import numpy as np

from mendpool.core.evidence.bayes import Array
from mendpool.core.evidence.expectations import Expectations
from mendpool.core.evidence.families import Rates
from mendpool.core.evidence.labels import Causes, Labels, Shares, plain_shares
from mendpool.core.evidence.ledger import Block, Column, Names, Numbers, gathered
from mendpool.core.evidence.norms import GoodOnes
from mendpool.core.evidence.sums import UNIT, Sparse, Units, amount, nothing, summed, units
from mendpool.core.evidence.term_weights import weights_of_terms

_WELL_USED = 3
_CROWD = 10


class Counts:
    """Sums over blocks, all of them in whole units; what they come to is asked at the end."""

    def __init__(self, names: Mapping[str, Names], expected: Expectations | None) -> None:
        self._names = names
        self._expected = expected
        terms = names["term"].names
        self._causes = Causes(dict(names), expected)
        self._is_word = np.array([term.startswith("w:") for term in terms], dtype=np.bool_)
        self._is_kind = np.array([term.startswith("k:") for term in terms], dtype=np.bool_)
        causes, count = len(self._causes.keys), len(terms)
        self.total = np.zeros(causes, np.int64)
        self.length = np.zeros(causes, np.int64)
        self._df = np.zeros(count, np.int64)
        self._all_words = np.zeros(count, np.int64)
        self._of_parts = np.zeros(len(names["part"]), np.int64)
        self._of_kinds = np.zeros(len(names["kind"]), np.int64)
        self._cases = np.zeros(len(names["cause"]), np.int64)
        self._new = np.zeros(len(names["cause"]), np.int64)
        self._terms_of_parts = nothing()
        self._words_of_causes = nothing()
        self._found = nothing()
        self._one = nothing()
        self._users = nothing()
        self._reports = 0
        self.rates = Rates(names)
        self.good_ones = GoodOnes(names["place"].names)

    def add(self, block: Block, weight: Array, person: Numbers, labels: Labels | None) -> None:
        """Count the reports of a block.

        Args:
            block: of the ledger.
            weight: what each report counts for.
            person: whose they are.
            labels: what attempts told of the causes; None counts what was reported alone.
        """
        self._reports += len(block)
        mass = units(weight)
        shares = (
            plain_shares(block, self._causes)
            if labels is None
            else labels.shares(block, self._causes)
        )
        self._add_terms(block, mass)
        self._add_causes(block, weight, shares)
        self._add_found(block, mass)
        self._add_people(block, person)
        self.rates.add(block, weight)
        self.good_ones.add(block, person)

    def _add_terms(self, block: Block, mass: Units) -> None:
        term, fault = block.ragged("term"), block.ragged("fault")
        self._df += np.bincount(term.entries, minlength=len(self._df))
        owner = fault.owners
        self._of_parts += summed(fault.entries, mass[owner], len(self._of_parts))
        begins, places = gathered(term.begins, owner)
        entries = term.entries[places].astype(np.int64)
        each = np.repeat(np.arange(len(owner)), np.diff(begins))
        kept = ~self._is_kind[entries]
        keys = entries[kept] * len(self._of_parts) + fault.entries[each[kept]]
        self._terms_of_parts += Sparse.of(keys, mass[owner[each[kept]]])

    def _add_causes(self, block: Block, weight: Array, shares: Shares) -> None:
        owner, cause, share = shares
        mass = units(weight[owner] * share)
        self.total += summed(cause, mass, len(self.total))
        self._of_kinds += summed(block["kind"][owner], mass, len(self._of_kinds))
        term = block.ragged("term")
        is_word = self._is_word[term.entries]
        words = term.entries[is_word].astype(np.int64)
        owners = term.owners[is_word]
        self._all_words += summed(words, units(weight)[owners], len(self._all_words))
        lengths = np.bincount(owners, minlength=len(block))
        self.length += summed(cause, mass * lengths[owner], len(self.length))
        begins = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)
        starts, places = gathered(begins, owner)
        each = np.repeat(np.arange(len(owner)), np.diff(starts))
        keys = words[places] * len(self._causes.keys) + cause[each]
        self._words_of_causes += Sparse.of(keys, mass[each])

    def _add_found(self, block: Block, mass: Units) -> None:
        found, told = block.ragged("found"), block.ragged("cause")
        begins, places = gathered(found.begins, told.owners)
        each = np.repeat(np.arange(len(told.entries)), np.diff(begins))
        keys = found.entries[places].astype(np.int64) * len(self._cases) + told.entries[each]
        self._found += Sparse.of(keys, mass[told.owners[each]])

    def _add_people(self, block: Block, person: Numbers) -> None:
        told, word = block.ragged("cause"), block.ragged("word")
        new = block["new"][told.owners]
        self._cases += np.bincount(told.entries, minlength=len(self._cases))
        self._new += np.bincount(told.entries[new], minlength=len(self._new))
        by_one = (told.entries.astype(np.int64) << 32) | person[told.owners]
        self._one += Sparse.of(by_one, np.ones(len(by_one), np.int64))
        by_user = (word.entries.astype(np.int64) << 32) | person[word.owners]
        self._users += Sparse.of(by_user, np.ones(len(by_user), np.int64))

    def term_weights(self) -> dict[str, int]:
        """Return how much each term tells causes apart, times how rare it is."""
        return weights_of_terms(
            self._names["term"].names,
            self._df,
            self._reports,
            self._terms_of_parts,
            self._of_parts,
        )

    def well_used(self) -> dict[str, int]:
        """Return the words that three people used at least, and how many used them."""
        words = self._names["word"].names
        users = np.bincount(self._users.keys >> 32, minlength=len(words))
        well = np.flatnonzero(users >= _WELL_USED).tolist()
        return dict(sorted((words[number], int(users[number])) for number in well))

    def words_of_cause(self) -> dict[str, dict[str, float]]:
        """Return the weighted count of each word that came twice, by cause."""
        terms, causes = self._names["term"].names, self._causes.keys
        term, cause = np.divmod(self._words_of_causes.keys, max(len(causes), 1))
        kept = self._df[term] >= 2
        found: dict[str, dict[str, float]] = {}
        for number, of, count in zip(
            term[kept].tolist(),
            cause[kept].tolist(),
            self._words_of_causes.sums[kept].tolist(),
            strict=True,
        ):
            found.setdefault(terms[number][2:], {})[causes[of]] = amount(count)
        return {word: dict(sorted(found[word].items())) for word in sorted(found)}

    def word_count(self) -> dict[str, float]:
        """Return the weighted count of each word that came twice."""
        terms = self._names["term"].names
        kept = np.flatnonzero(self._is_word & (self._df >= 2)).tolist()
        return dict(sorted((terms[n][2:], amount(self._all_words[n])) for n in kept))

    def by_cause(self, sums: Units) -> dict[str, float]:
        """Return sums over causes, of those that came at all."""
        held = np.flatnonzero(self.total > 0).tolist()
        return dict(sorted((self._causes.keys[n], amount(sums[n])) for n in held))

    def expected_of_causes(self, labels: Labels | None) -> dict[str, float]:
        """Return how many of these reports the catalogue expected of each cause."""
        if labels is None or self._expected is None:
            return {}
        row, priors = labels.asked.row, labels.asked.priors
        mass = summed(row, self._of_kinds, len(priors)) * UNIT
        total = (mass[:, None] * priors).sum(axis=0).tolist()
        each = sorted(zip(self._expected.keys, total, strict=True))
        return {key: round(count, 6) for key, count in each if count > 0}

    def found(self) -> dict[str, dict[str, float]]:
        """Return the weighted count of each check's results under each cause."""
        entries, causes = self._names["found"].names, self._names["cause"].names
        counted: dict[str, dict[str, float]] = {}
        for key, count in zip(
            self._found.keys.tolist(), self._found.sums.tolist(), strict=True
        ):
            entry, cause = divmod(key, len(causes))
            check, result = entries[entry].split("=", 1)
            counted.setdefault(f"{check}|{causes[cause]}", {})[result] = amount(count)
        return {key: dict(sorted(counted[key].items())) for key in sorted(counted)}

    def crowded(self) -> dict[str, str]:
        """Return the causes of which a crowd's worth of reports is one hand's, or new ones'."""
        most = np.zeros(len(self._cases), np.int64)
        np.maximum.at(most, self._one.keys >> 32, self._one.sums)
        least = np.maximum(_CROWD, self._cases // 2 + 1)
        return _told(self._names["cause"].names, self._new >= least, most >= least)


def _told(causes: Sequence[str], new: Column, one: Column) -> dict[str, str]:
    crowds = {causes[n]: "one" for n in np.flatnonzero(one).tolist()}
    crowds.update({causes[n]: "new" for n in np.flatnonzero(new).tolist()})
    return dict(sorted(crowds.items()))
