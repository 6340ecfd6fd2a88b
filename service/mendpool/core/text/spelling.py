"""Mend the spelling of single words against the lexicon of the trade and the pool."""

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any

from rapidfuzz import process
from rapidfuzz.distance import OSA, DamerauLevenshtein

_SHORTEST = 4
_LONG_PART = 6


class Spelling:
    """A lexicon that can name the word a typing mistake stands for.

    Distance is optimal string alignment: one edit for words of 4 to 7 letters, two from 8.
    The first letter must stand (people rarely miss it), numbers are left alone, and of two
    words equally near the more used one wins, then the earlier by alphabet. A part number
    (letters and digits) is never taken for a word: with up to 5 characters it is itself or
    nothing, since one edit is a different part; a longer one may stand for the only known
    part number within one edit (Damerau).
    """

    def __init__(self, used: Iterable[tuple[str, int]]) -> None:
        """Take the words with how well each is used (more is better known)."""
        self._used = dict(used)
        self._by_first: dict[str, list[str]] = {}
        self._parts = sorted(word for word in self._used if is_part_number(word))
        for word in sorted(self._used):
            self._by_first.setdefault(word[:1], []).append(word)
        self.mend = lru_cache(maxsize=20_000)(self._mend)

    def __getstate__(self) -> dict[str, Any]:
        """Leave out what was mended so far: a memory, and no part of the lexicon."""
        return {name: value for name, value in self.__dict__.items() if name != "mend"}

    def __setstate__(self, state: dict[str, Any]) -> None:
        self.__dict__.update(state)
        self.mend = lru_cache(maxsize=20_000)(self._mend)

    def with_words(self, more: Mapping[str, int]) -> "Spelling":
        """Return a lexicon with more words; a word already known keeps its own use."""
        return Spelling({**more, **self._used}.items())

    def __contains__(self, word: str) -> bool:
        return word in self._used

    def _mend(self, word: str) -> str:
        """Return the word itself when it is known or nothing is near."""
        if word in self._used or len(word) < _SHORTEST:
            return word
        if not word.isalpha():
            return self._mended_part(word)
        allowed = 1 if len(word) < 8 else 2
        near = process.extract(
            word,
            self._by_first.get(word[0], ()),
            scorer=OSA.distance,
            score_cutoff=allowed,
            limit=None,
        )
        if not near:
            return word
        return min(near, key=lambda hit: (hit[1], -self._used[hit[0]], hit[0]))[0]

    def _mended_part(self, typed: str) -> str:
        """The only known part number an edit away; as typed where none is, or more."""
        if len(typed) < _LONG_PART or not is_part_number(typed):
            return typed
        near = [
            part
            for part in self._parts
            if len(part) >= _LONG_PART
            and DamerauLevenshtein.distance(typed, part, score_cutoff=1) <= 1
        ]
        return near[0] if len(near) == 1 else typed


def is_part_number(word: str) -> bool:
    """Whether a folded word holds both letters and digits."""
    return not word.isalpha() and not word.isdigit() and word.isalnum()
