"""Phrases whose plain reading would be wrong, put in other words."""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from mendpool.core.catalogue.admits import surely
from mendpool.core.catalogue.model import SetKind
from mendpool.core.catalogue.words import Trap
from mendpool.core.record.machine import Machine
from mendpool.core.text.words import stem


@dataclass(frozen=True, slots=True)
class _Trap:
    phrase: list[str]
    means: list[str]
    near: frozenset[str]
    only: SetKind


class Traps:
    """The catalogue's traps, the longest first: "not taking load" before "taking"."""

    def __init__(self, traps: Iterable[Trap], cut: Callable[[str], list[str]]) -> None:
        """Prepare the phrases; `cut` turns one into words as the trade spells them."""
        cuts = [
            _Trap(
                cut(trap.phrase),
                cut(trap.means),
                frozenset(map(stem, trap.unless_near)),
                trap.only,
            )
            for trap in traps
        ]
        self._traps = sorted(
            (trap for trap in cuts if trap.phrase),
            key=lambda trap: (-len(trap.phrase), trap.phrase),
        )
        # A trap is looked for where its rarest word is used.
        used = Counter(word for trap in self._traps for word in set(trap.phrase))
        self._by_word: dict[str, list[int]] = {}
        for number, trap in enumerate(self._traps):
            rarest = min(trap.phrase, key=lambda word: (used[word], word))
            self._by_word.setdefault(rarest, []).append(number)

    def replaced(self, plain: list[str], machine: Machine) -> list[str]:
        """Return the words with each trap put in other words, for this kind of set."""
        there = set(plain)
        waiting = self._of(there)
        while waiting:
            number = waiting.pop()
            trap = self._traps[number]
            if there.issuperset(trap.phrase) and surely(trap.only, machine):
                plain = replaced(plain, trap.phrase, trap.means, trap.near)
                if not there.issuperset(trap.means):
                    there.update(trap.means)
                    # What it is called now may be a trap in turn, but only a later one.
                    waiting = [later for later in self._of(there) if later > number]
        return plain

    def _of(self, words: Iterable[str]) -> list[int]:
        """The traps whose rarest word is among these, the last first."""
        found = [n for word in words for n in self._by_word.get(word, ())]
        return sorted(found, reverse=True)


def replaced(
    plain: list[str], phrase: list[str], means: Sequence[str], near: AbstractSet[str]
) -> list[str]:
    """Return the words with a phrase replaced, but beside a word whose stem is `near`."""
    out: list[str] = []
    place = 0
    while place < len(plain):
        end = place + len(phrase)
        if (
            plain[place] == phrase[0]
            and plain[place:end] == phrase
            and not _stands_near(near, plain, place, end)
        ):
            out.extend(means)
            place = end
        else:
            out.append(plain[place])
            place += 1
    return out


def _stands_near(words: AbstractSet[str], plain: Sequence[str], start: int, end: int) -> bool:
    around = [*plain[max(0, start - 3) : start], *plain[end : end + 3]]
    return any(stem(w) in words for w in around)
