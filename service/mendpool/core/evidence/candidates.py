"""Past cases to be compared with a question, their terms as numbers.

What an index finds are numbers already, and a sum over numbers costs a hundredth of one over
words. Cases that come from elsewhere are numbered here, so that there is one way to compare.
"""

from collections.abc import Iterable, Sequence
from collections.abc import Set as AbstractSet
from typing import overload

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.case import Case

Numbers = NDArray[np.uint32]
Starts = NDArray[np.int64]
Flags = NDArray[np.bool_]


class Names:
    """Terms by number and numbers by term; it grows at its end and in no other way."""

    def __init__(self, terms: Iterable[str] = ()) -> None:
        """Begin with terms numbered from 0; none may come twice."""
        self.terms = list(terms)
        self._numbers = _Numbers(self.terms)
        self._beginning: dict[tuple[str, ...], Flags] = {}

    def __len__(self) -> int:
        return len(self.terms)

    def find(self, terms: Iterable[str]) -> dict[str, int]:
        """Return the numbers of those terms that have one."""
        known = self._numbers
        return {term: known[term] for term in terms if term in known}

    def beginning(self, kinds: tuple[str, ...]) -> Flags:
        """Return for each number whether its term begins so; worked out once for each term.

        Any thread may ask: what two of them work out at once is the same.
        """
        flags = self._beginning.get(kinds, np.zeros(0, dtype=np.bool_))
        if len(flags) < len(self.terms):
            more = [term.startswith(kinds) for term in self.terms[len(flags) :]]
            flags = self._beginning[kinds] = np.concatenate([flags, np.array(more)])
        return flags

    def number(self, terms: Iterable[str]) -> list[int]:
        """Return the number of each term, given now if it has none. One thread at a time."""
        return list(map(self._numbers.__getitem__, terms))


class _Numbers(dict[str, int]):
    """Numbers by term; one that is asked for and has none is given the next."""

    def __init__(self, terms: list[str]) -> None:
        super().__init__(zip(terms, range(len(terms)), strict=True))
        self._terms = terms

    def __missing__(self, term: str) -> int:
        number = len(self._terms)
        # First the term: whoever meets the number finds what it stands for.
        self._terms.append(term)
        self[term] = number
        return number


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
            numbers += names.number(dict.fromkeys(case.terms))
            starts.append(len(numbers))
        return cls(
            cases, np.array(numbers, dtype=np.uint32), np.array(starts, dtype=np.int64), names
        )

    def vouching_for(self, groups: AbstractSet[int]) -> "Candidates":
        """Return the same, the reports of these contributors counting fully."""
        if not groups or all(c.vouched or c.group not in groups for c in self.cases):
            return self
        cases = [
            case._replace(vouched=True) if case.group in groups else case for case in self.cases
        ]
        return Candidates(cases, self.numbers, self.starts, self.names)

    def __len__(self) -> int:
        return len(self.cases)

    @overload
    def __getitem__(self, place: int) -> Case: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Case]: ...
    def __getitem__(self, place: int | slice) -> Case | Sequence[Case]:
        return self.cases[place]
