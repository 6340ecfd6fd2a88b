"""A text as it was cut, and its clauses: the stretches in which words belong together."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mendpool.core.text.words import BREAK

ENDS = frozenset({"but", "however", "though", "tho", "although", "because", "so", "then"})
"""Words that open another thought."""
_SENTENCE_ENDS = (".", "!", "?", "\n", ";")


@dataclass(frozen=True, slots=True)
class Spoken:
    """A text as it was cut.

    Args:
        plain: every word as the trade spells it, stop words too; a break is `BREAK` with the
            mark that made it.
        run: stems without stop words, breaks as `BREAK`.
        at: for each place of the run, its place in `plain`.
        covered: for each place of the run, whether a "not" covers it.
    """

    plain: Sequence[str]
    run: Sequence[str]
    at: Sequence[int]
    covered: Sequence[bool]

    def between(self, first: int, last: int) -> Sequence[str]:
        """What is written after one place of the run and before another."""
        return self.plain[self.at[first] + 1 : self.at[last]]


NOTHING = Spoken((), (), (), ())
"""No text at all."""


@dataclass(slots=True)
class Clause:
    """A stretch of the run: from `first` up to `end`, what opened it, what closed it."""

    first: int
    end: int
    start: int
    opened: str
    closed: str
    sentence: int

    def holds(self, place: int) -> bool:
        """Whether a place of the run is in it."""
        return self.first <= place < self.end


def clauses(text: Spoken) -> Iterator[Clause]:
    """Cut a text at its breaks and at the words that open another thought."""
    first, opened, start, sentence = 0, "", 0, 0
    place = 0
    for number, word in enumerate(text.plain):
        ends = word.startswith(BREAK) or word in ENDS
        if place < len(text.at) and text.at[place] == number:
            place += 1
            if not ends:
                continue
            end = place - 1
        elif ends:
            end = place
        else:
            continue
        if end > first:
            yield Clause(first, end, start, opened, word, sentence)
        sentence += word.startswith(BREAK) and word[1:] in _SENTENCE_ENDS
        first, opened, start = place, word, number + 1
    if place > first:
        yield Clause(first, place, start, opened, "", sentence)
