"""Past cases to be compared with a question, their terms as numbers.

What an index finds are numbers already, and a sum over numbers costs a hundredth of one over
words. Cases that come from elsewhere are numbered here, so that there is one way to compare.
"""

from collections.abc import Iterable, Sequence
from typing import overload

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.case import Case

Numbers = NDArray[np.uint32]
Starts = NDArray[np.int64]


class Names:
    """Terms by number and numbers by term; it grows at its end and in no other way."""

    def __init__(self, terms: Iterable[str] = ()) -> None:
        """Begin with terms numbered from 0; none may come twice."""
        self.terms = list(terms)
        self.numbers = {term: number for number, term in enumerate(self.terms)}

    def __len__(self) -> int:
        return len(self.terms)

    def number(self, term: str) -> int:
        """Return the number of a term, given now if it has none. One thread at a time."""
        found = self.numbers.get(term)
        if found is None:
            found = len(self.terms)
            # First the term: whoever meets the number finds what it stands for.
            self.terms.append(term)
            self.numbers[term] = found
        return found


class Candidates(Sequence[Case]):
    """Cases in some order, with the numbers of their terms.

    Args:
        cases: the cases.
        numbers: their terms, case after case, none twice in a case.
        starts: where those of each case begin, and at last where they end.
        names: what the numbers stand for.
    """

    def __init__(
        self, cases: Sequence[Case], numbers: Numbers, starts: Starts, names: Names
    ) -> None:
        self.cases = cases
        self.numbers = numbers
        self.starts = starts
        self.names = names

    @classmethod
    def of(cls, cases: Sequence[Case]) -> "Candidates":
        """Return cases with their terms numbered; candidates are given back as they are."""
        if isinstance(cases, Candidates):
            return cases
        names, numbers, starts = Names(), [], [0]
        for case in cases:
            numbers += [names.number(term) for term in dict.fromkeys(case.terms)]
            starts.append(len(numbers))
        return cls(
            cases, np.array(numbers, dtype=np.uint32), np.array(starts, dtype=np.int64), names
        )

    def __len__(self) -> int:
        return len(self.cases)

    @overload
    def __getitem__(self, place: int) -> Case: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Case]: ...
    def __getitem__(self, place: int | slice) -> Case | Sequence[Case]:
        return self.cases[place]
