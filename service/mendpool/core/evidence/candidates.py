"""Past cases to be compared with a question, their terms as numbers.

What an index finds are numbers already, and a sum over numbers costs a hundredth of one over
words. Cases that come from elsewhere are numbered here, so that there is one way to compare.
A case itself is made only where somebody looks at it: most of what is found is compared, and
of a few alone is it shown what they say.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from typing import NamedTuple, Protocol, overload

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.case import Case

Numbers = NDArray[np.uint32]
Starts = NDArray[np.int64]
Flags = NDArray[np.bool_]
Places = NDArray[np.int64]

_HEADED = ("r:", "k:")
"""Terms that say which value something has, ``mark:what=value``."""


class Names:
    """Terms by number and numbers by term; it grows at its end and in no other way."""

    def __init__(self, terms: Iterable[str] = ()) -> None:
        """Begin with terms numbered from 0; none may come twice."""
        self.terms = list(terms)
        self._numbers = _Numbers(self.terms)
        self._beginning: dict[tuple[str, ...], Flags] = {}
        self._headed = _Headed(0, {})

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

    def headed(self, head: str) -> Sequence[tuple[str, int]]:
        """Return the terms that begin with ``mark:what=``, with their numbers.

        Each term is looked at once. Any thread may ask, as for `beginning`.
        """
        known = self._headed
        if known.upto < len(self.terms):
            more = dict(known.of)
            upto = len(self.terms)
            for number in range(known.upto, upto):
                term = self.terms[number]
                if term.startswith(_HEADED):
                    what = term[: term.find("=") + 1]
                    more[what] = (*more.get(what, ()), (term, number))
            known = self._headed = _Headed(upto, more)
        return known.of.get(head, ())

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


class _Headed(NamedTuple):
    """Terms by what they begin with, of the first so many."""

    upto: int
    of: Mapping[str, tuple[tuple[str, int], ...]]


class Source(Protocol):
    """Makes the cases of candidates when they are looked at."""

    def cases(self, places: Sequence[int]) -> list[Case]:
        """Return the cases at some places, in their order; they may come without terms."""
        ...


class _Made:
    """Cases that are there already."""

    def __init__(self, cases: Sequence[Case]) -> None:
        self._cases = cases

    def cases(self, places: Sequence[int]) -> list[Case]:
        """Return those that are there, their terms with them."""
        return [self._cases[place] for place in places]


@dataclass(frozen=True, slots=True, eq=False)
class Candidates(Sequence[Case]):
    """Cases in some order, with the numbers of their terms.

    Args:
        numbers: their terms, case after case, none twice in a case.
        starts: where those of each case begin, and at last where they end.
        names: what the numbers stand for.
        people: who told each, as the opaque number.
        rank: the place of each in the order of their ids.
        well: whether it is of a set with nothing wrong.
        source: what makes the cases.
        vouched_for: people whose cases count fully, whatever the case itself says.
    """

    numbers: Numbers
    starts: Starts
    names: Names
    people: Places
    rank: Places
    well: Flags
    source: Source
    vouched_for: AbstractSet[int] = frozenset()

    @classmethod
    def of(cls, cases: Sequence[Case], names: Names | None = None) -> "Candidates":
        """Return cases with their terms numbered; candidates are given back as they are.

        Args:
            names: the numbers that there are already; terms that have none are given one.
        """
        if isinstance(cases, Candidates):
            return cases
        names = Names() if names is None else names
        numbers, starts = list[int](), [0]
        for case in cases:
            numbers += names.number(dict.fromkeys(case.terms))
            starts.append(len(numbers))
        rank = np.empty(len(cases), dtype=np.int64)
        rank[sorted(range(len(cases)), key=lambda place: cases[place].id)] = range(len(cases))
        return cls(
            np.array(numbers, dtype=np.uint32),
            np.array(starts, dtype=np.int64),
            names,
            np.array([case.group for case in cases], dtype=np.int64),
            rank,
            np.array([case.outcome == "well" for case in cases], dtype=np.bool_),
            _Made(cases),
        )

    def vouching_for(self, people: AbstractSet[int]) -> "Candidates":
        """Return the same, the reports of these contributors counting fully."""
        return replace(self, vouched_for=people) if people else self

    def whole(self, places: Sequence[int]) -> list[Case]:
        """Return the cases at some places, in their order."""
        return self.with_terms(self.without_terms(places), places)

    def without_terms(self, places: Sequence[int]) -> list[Case]:
        """Return cases that may lack their terms, which are here as numbers and cost most."""
        return self._vouched(self.source.cases(places))

    def with_terms(self, cases: Sequence[Case], places: Sequence[int]) -> list[Case]:
        """Return what `without_terms` gave of some places with the terms."""
        said, starts = self.names.terms, self.starts
        return [
            case
            if case.terms
            else case._replace(
                terms=tuple(
                    [said[n] for n in self.numbers[starts[at] : starts[at + 1]].tolist()]
                )
            )
            for case, at in zip(cases, places, strict=True)
        ]

    def _vouched(self, cases: list[Case]) -> list[Case]:
        if not self.vouched_for:
            return cases
        return [
            case._replace(vouched=True)
            if case.group in self.vouched_for and not case.vouched
            else case
            for case in cases
        ]

    def __len__(self) -> int:
        return len(self.people)

    def __iter__(self) -> Iterator[Case]:
        return iter(self.whole(range(len(self))))

    @overload
    def __getitem__(self, place: int) -> Case: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Case]: ...
    def __getitem__(self, place: int | slice) -> Case | Sequence[Case]:
        wanted = range(len(self))[place]
        return self.whole(wanted) if isinstance(wanted, range) else self.whole([wanted])[0]
