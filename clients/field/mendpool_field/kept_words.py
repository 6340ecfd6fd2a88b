"""Words that the member put back: they stay in reports from here on.

Those the member shares besides are told to the pool, each alone and without a name, so that
its stewards see what the scrubber takes wrongly. What is to be told, and what was, is kept
beside them, so that it can wait for signal and be taken back.
"""

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Protocol

from mendpool.core.record.correction import WORDS_MAX, one_word
from mendpool_field.disk import read_object, write_object

_TRADE_WORD = re.compile(r"[^\W\d_]{2,40}(?:[-'][^\W\d_]{1,40}){0,2}")
_ALL, _SHARED, _TOLD = "words", "shared", "told"


class Pool(Protocol):
    """Whoever is told of the words."""

    def put_back(self, words: Iterable[str]) -> None:
        """Tell words."""

    def take_back(self, word: str) -> None:
        """Take a word back."""


def put_back(home: Path, said: str) -> bool:
    """Remember that a word is the trade's and names nobody; False where it can't be one.

    Only words may be put back: a number or an address names somebody whatever it is called.
    """
    if not _TRADE_WORD.fullmatch(said):
        return False
    _keep(home, _ALL, {*put_back_words(home), said.lower()})
    return True


def put_back_words(home: Path) -> list[str]:
    """Return the words that this member put back, in alphabetical order."""
    return _kept(home, _ALL)


def shared_words(home: Path) -> list[str]:
    """Return those of them that the pool's stewards may see."""
    return _kept(home, _SHARED)


def share_words(home: Path, words: Iterable[str]) -> None:
    """Let the stewards see words that were put back; told when the pool is next reached."""
    _keep(home, _SHARED, {*shared_words(home), *(word.lower() for word in words)})


def drop_word(home: Path, said: str) -> bool:
    """Forget a word that was put back, at the pool too; False where it was none."""
    word = said.lower()
    if word not in put_back_words(home):
        return False
    for which in (_ALL, _SHARED):
        _keep(home, which, {kept for kept in _kept(home, which) if kept != word})
    return True


def is_told(home: Path) -> bool:
    """Say whether the pool knows what it may and no more."""
    return _kept(home, _TOLD) == [word for word in _kept(home, _SHARED) if _is_one_word(word)]


def tell(home: Path, pool: Pool) -> None:
    """Tell the pool what it may know and does not, and take back what it may no longer.

    Raises:
        FieldError: the pool can't be told now; what was told stays noted.
    """
    shared, told = set(shared_words(home)), set(_kept(home, _TOLD))
    # First, so that a word the pool refuses never keeps another from being taken back.
    for word in sorted(told - shared):
        pool.take_back(word)
        told.discard(word)
        _keep(home, _TOLD, told)
    new = sorted(word for word in shared - told if _is_one_word(word))
    for start in range(0, len(new), WORDS_MAX):
        part = new[start : start + WORDS_MAX]
        pool.put_back(part)
        told |= set(part)
        _keep(home, _TOLD, told)


def _is_one_word(word: str) -> bool:
    """Say whether the pool takes it; older copies kept longer ones, which stay at home."""
    try:
        return one_word(word) == word
    except ValueError:
        return False


def _kept(home: Path, which: str) -> list[str]:
    kept = (read_object(_file(home)) or {}).get(which)
    return [word for word in kept if isinstance(word, str)] if isinstance(kept, list) else []


def _keep(home: Path, which: str, words: Iterable[str]) -> None:
    write_object(_file(home), {**(read_object(_file(home)) or {}), which: sorted(words)})


def _file(home: Path) -> Path:
    return home / "put-back.json"
