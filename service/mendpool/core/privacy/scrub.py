"""Scrub a text, or a whole record's free text, of what names or finds anyone."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from mendpool.core.privacy.lists import Known, words_in
from mendpool.core.privacy.names import names
from mendpool.core.privacy.patterns import Found, patterns, sure_patterns
from mendpool.core.privacy.phones import likely_phones, sure_phones
from mendpool.core.privacy.places import boxes, places
from mendpool.core.privacy.shield import Span, trade_spans
from mendpool.core.privacy.tokens import tokens_of
from mendpool.core.record.fields import SHORT_MAX, TEXT_MAX

_PART_MAX = 120  # of PartText
_READING_MAX = 300  # of ReadingGiven.text


@dataclass(frozen=True, slots=True)
class Scrubbed:
    """A text with what was taken out replaced by its kind in brackets, such as ``[name]``.

    Args:
        removed: how many of each kind, kinds in alphabetical order; never the words.
    """

    text: str
    removed: dict[str, int]


def scrub(
    text: str,
    trade_words: Collection[str],
    ordinary_words: Collection[str],
    region: str | None = None,
) -> Scrubbed:
    """Take out of a text what names or finds anyone.

    Kinds: name, phone, email, address, position, link, handle, number (plates, serial and
    account numbers), day (the month stays). What belongs to the trade stays as it is.
    Scrubbing again changes nothing.

    Args:
        trade_words: the trade's words in lower case; a set, for it is asked often.
        ordinary_words: the language's words in lower case; a set.
        region: the pool's country as ISO 3166 letters, for telephone numbers without a plus.
    """
    return _scrub(text, Known(trade_words, ordinary_words), region, by_words=True)


def scrub_record(
    body: Mapping[str, Any],
    trade_words: Collection[str],
    ordinary_words: Collection[str],
    region: str | None = None,
) -> tuple[dict[str, Any], dict[str, int]]:
    """Take out of a report's or follow-up's free text what names or finds anyone.

    A make, a model, a region and a part have names of their own: these lose only what has a
    shape (numbers, addresses). The make's and model's words are known in the other texts.

    Args:
        body: a record as JSON, by its wire names; left as it is.

    Returns:
        The record to keep, and how many of each kind were removed. A text that grew past
        the record's bound is cut at a word.
    """
    clean = dict(body)
    known = Known(trade_words, ordinary_words)
    removed: dict[str, int] = {}

    def mend(holder: dict[str, Any], field: str, longest: int, *, by_words: bool) -> None:
        text = holder.get(field)
        if not isinstance(text, str) or not text:
            return
        done = _scrub(text, known, region, by_words=by_words)
        holder[field] = _within(done.text, longest)
        for kind, times in done.removed.items():
            removed[kind] = removed.get(kind, 0) + times

    if isinstance(machine := clean.get("machine"), Mapping):
        clean["machine"] = machine = dict(machine)
        mend(machine, "make", SHORT_MAX, by_words=False)
        mend(machine, "model", SHORT_MAX, by_words=False)
        said = (str(machine.get("make") or ""), str(machine.get("model") or ""))
        known = replace(known, more=words_in(said))
    for field, inner, longest in (
        ("attempts", "part", _PART_MAX),
        ("attempts", "fits", _PART_MAX),
        ("readings", "text", _READING_MAX),
    ):
        if isinstance(several := clean.get(field), (list, tuple)):
            clean[field] = [dict(one) if isinstance(one, Mapping) else one for one in several]
            for one in clean[field]:
                if isinstance(one, dict):
                    mend(one, inner, longest, by_words=False)
    mend(clean, "region", SHORT_MAX, by_words=False)
    mend(clean, "complaint", TEXT_MAX, by_words=True)
    mend(clean, "note", TEXT_MAX, by_words=True)
    return clean, dict(sorted(removed.items()))


def _scrub(text: str, known: Known, region: str | None, *, by_words: bool) -> Scrubbed:
    """Pass over the text until nothing more is found: taking one thing out may show another."""
    removed: dict[str, int] = {}
    while found := _find(text, known, region, by_words=by_words):
        pieces: list[str] = []
        last = 0
        for start, end, kind in found:
            pieces += (text[last:start], f"[{kind}]")
            removed[kind] = removed.get(kind, 0) + 1
            last = end
        text = "".join((*pieces, text[last:]))
    return Scrubbed(text, dict(sorted(removed.items())))


def _find(text: str, known: Known, region: str | None, *, by_words: bool) -> list[Found]:
    """Return what one pass takes out, in order, without overlap."""
    taken = _Taken(len(text))
    numbers = any(c.isdigit() for c in text)
    if numbers or "@" in text or "." in text:
        taken.add(sure_patterns(text, known))
    if numbers:
        taken.add(sure_phones(text))
    taken.shield(trade_spans(text))
    if numbers or "@" in text:
        taken.add(patterns(text, known))
        taken.add(likely_phones(text, region))
        taken.add(boxes(text))
    if by_words:
        tokens = tokens_of(text, taken.hidden(), known)
        if taken.add(places(text, tokens)):
            tokens = tokens_of(text, taken.hidden(), known)
        taken.add(names(text, tokens, known.trade))
    return taken.found()


class _Taken:
    """The places already spoken for: shielded, or to be taken out. First come, first kept."""

    def __init__(self, length: int) -> None:
        self._found: list[Found] = []
        self._hidden: list[Span] = []
        self._mask = bytearray(length)

    def add(self, more: Iterable[Found]) -> bool:
        before = len(self._found)
        for start, end, kind in more:
            if self._hide(start, end):
                self._found.append((start, end, kind))
        return len(self._found) > before

    def shield(self, spans: Iterable[Span]) -> None:
        for start, end in spans:
            self._mask[start:end] = b"\x01" * (end - start)
            self._hidden.append((start, end))

    def hidden(self) -> list[Span]:
        return sorted(self._hidden)

    def found(self) -> list[Found]:
        return sorted(self._found)

    def _hide(self, start: int, end: int) -> bool:
        if start >= end or any(self._mask[start:end]):
            return False
        self._mask[start:end] = b"\x01" * (end - start)
        self._hidden.append((start, end))
        return True


def _within(text: str, longest: int) -> str:
    return text if len(text) <= longest else text[:longest].rsplit(None, 1)[0]
