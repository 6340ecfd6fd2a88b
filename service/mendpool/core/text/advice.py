"""Tells from a text whether it says something was done, or should be, that can kill."""

from collections.abc import Callable, Iterable, Sequence

from mendpool.core.catalogue.advice import Advice
from mendpool.core.text.clauses import Spoken
from mendpool.core.text.phrases import Match, PhraseBook
from mendpool.core.text.words import BREAK

_APART = 6
"""Telling words between deed and thing at most; further apart they are two thoughts."""


class AdviceWords:
    """The catalogue's dangerous advice as phrase books."""

    def __init__(self, known: Iterable[Advice], stems: Callable[[str], Sequence[str]]) -> None:
        """Prepare the books; `stems` cuts a phrase as texts are cut."""
        entries = list(known)
        books = {
            part: PhraseBook(
                {a.code: [stems(phrase) for phrase in getattr(a, part)] for a in entries}
            )
            for part in ("said", "deeds", "things")
        }
        self._said, self._deeds, self._things = books.values()

    def found(self, spoken: Spoken) -> frozenset[str]:
        """Return the codes of the advice that a text holds, but for what it denies."""
        said = self._said.find(spoken.run, spoken.covered)
        codes = {match.code for match in said if not match.negated}
        deeds = [m for m in self._deeds.find(spoken.run, spoken.covered) if not m.negated]
        if deeds:
            things = self._things.find(spoken.run, spoken.covered)
            codes |= {
                deed.code
                for deed in deeds
                for thing in things
                if deed.code == thing.code
                and not thing.negated
                and _together(deed, thing, spoken.run)
            }
        return frozenset(codes)


def _together(one: Match, other: Match, run: Sequence[str]) -> bool:
    """Tell whether two phrases stand in one clause, near each other."""
    first, last = sorted((one, other), key=lambda match: match.places)
    between = run[first.places[-1] + 1 : last.places[0]]
    return len(between) <= _APART and BREAK not in between
