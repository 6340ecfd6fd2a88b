"""Phrases whose plain reading would be wrong, put in other words."""

from collections.abc import Sequence

from mendpool.core.catalogue.words import Trap
from mendpool.core.text.words import stem


def replaced(
    plain: list[str], trap: Trap, phrase: Sequence[str], means: Sequence[str]
) -> list[str]:
    """Return the words with a trap's phrase replaced, but where it is to be left alone."""
    out: list[str] = []
    place = 0
    near = {stem(w) for w in trap.unless_near}
    while place < len(plain):
        end = place + len(phrase)
        if plain[place:end] == list(phrase) and not _stands_near(near, plain, place, end):
            out.extend(means)
            place = end
        else:
            out.append(plain[place])
            place += 1
    return out


def _stands_near(words: set[str], plain: Sequence[str], start: int, end: int) -> bool:
    around = [*plain[max(0, start - 3) : start], *plain[end : end + 3]]
    return any(stem(w) in words for w in around)
