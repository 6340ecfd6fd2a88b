"""Scrub a text, or a whole record's free text, of what names or finds anyone."""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from mendpool.core.privacy.days import feasts, said_days, written_days
from mendpool.core.privacy.language import Language
from mendpool.core.privacy.lists import Known, words_in
from mendpool.core.privacy.names import names
from mendpool.core.privacy.patterns import (
    Found,
    emails,
    handles,
    links,
    own_numbers,
    paper_numbers,
)
from mendpool.core.privacy.phones import likely_phones, sure_phones
from mendpool.core.privacy.places import boxes, places
from mendpool.core.privacy.positions import positions
from mendpool.core.privacy.shield import Span, has_figures, trade_spans
from mendpool.core.privacy.spoken import spoken_phones, spoken_positions
from mendpool.core.privacy.streets import streets
from mendpool.core.privacy.tokens import tokens_of
from mendpool.core.record.fields import SHORT_MAX, TEXT_MAX

_PART_MAX = 120  # of PartText
_READING_MAX = 300  # of ReadingGiven.text


@dataclass(frozen=True, slots=True)
class Scrubbed:
    """A text with what was taken out replaced by its kind in brackets, such as ``[name]``.

    Args:
        removed: how many of each kind, kinds in alphabetical order; never the words.
        taken: the kinds with the words, in the order they were found; for whoever wrote
            them to look at, never kept and never sent.
    """

    text: str
    removed: dict[str, int]
    taken: tuple[tuple[str, str], ...] = field(default=(), compare=False)


def scrub(
    text: str,
    trade_words: Collection[str],
    ordinary_words: Collection[str],
    language: Language,
    region: str | None = None,
) -> Scrubbed:
    """Take out of a text what names or finds anyone.

    Kinds: name, phone, email, address, position, link, handle, number (plates, serial and
    account numbers), day (the month stays). What belongs to the trade stays as it is.
    Scrubbing again changes nothing.

    Args:
        trade_words: the trade's words in lower case; a set, for it is asked often.
        ordinary_words: the language's words in lower case; a set.
        language: what days, streets and dictated numbers are known by.
        region: the pool's country as ISO 3166 letters, for telephone numbers without a plus.
    """
    known = Known(trade_words, ordinary_words, language=language)
    return _scrub(text, known, region, by_words=True)


def scrub_record(
    body: Mapping[str, Any],
    trade_words: Collection[str],
    ordinary_words: Collection[str],
    language: Language,
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
    machine = clean["machine"] = dict(clean.get("machine") or {})
    for many in ("attempts", "readings"):
        clean[many] = [dict(one) for one in clean.get(many) or ()]
    mender = _Mender(Known(trade_words, ordinary_words, language=language), region)
    mender.mend(machine, "make", SHORT_MAX)
    mender.mend(machine, "model", SHORT_MAX)
    mender.mend(clean, "region", SHORT_MAX)
    for attempt in clean["attempts"]:
        mender.mend(attempt, "part", _PART_MAX)
        mender.mend(attempt, "fits", _PART_MAX)
    mender.knowing(str(machine.get(said) or "") for said in ("make", "model"))
    for reading in clean["readings"]:
        mender.mend(reading, "text", _READING_MAX, by_words=True)
        mender.mend(reading, "value", _READING_MAX, by_words=True)
    mender.mend(clean, "complaint", TEXT_MAX, by_words=True)
    mender.mend(clean, "note", TEXT_MAX, by_words=True)
    kept = {name: value for name, value in clean.items() if name in body}
    return kept, dict(sorted(mender.removed.items()))


def taken_of_record(
    body: Mapping[str, Any],
    trade_words: Collection[str],
    ordinary_words: Collection[str],
    language: Language,
    region: str | None = None,
) -> list[tuple[str, str]]:
    """Return the kinds and words that `scrub_record` takes out of the complaint and note.

    For the member who wrote them, before the yes; nobody else may see them.
    """
    machine = body.get("machine") or {}
    more = words_in(str(machine.get(said) or "") for said in ("make", "model"))
    known = Known(trade_words, ordinary_words, more, language)
    texts = (body.get(name) for name in ("complaint", "note"))
    return [
        taken
        for text in texts
        if isinstance(text, str)
        for taken in _scrub(text, known, region, by_words=True).taken
    ]


class _Mender:
    """Scrubs the texts of one record and counts what goes."""

    def __init__(self, known: Known, region: str | None) -> None:
        self._known = known
        self._region = region
        self.removed: Counter[str] = Counter()

    def knowing(self, texts: Iterable[str]) -> None:
        self._known = replace(self._known, more=words_in(texts))

    def mend(
        self, holder: dict[str, Any], field: str, longest: int, *, by_words: bool = False
    ) -> None:
        text = holder.get(field)
        # One word, such as a make, has no shape that anything could be told by.
        if isinstance(text, str) and text and (by_words or not text.isalpha()):
            done = _scrub(text, self._known, self._region, by_words=by_words)
            holder[field] = _within(done.text, longest)
            self.removed.update(done.removed)


def _scrub(text: str, known: Known, region: str | None, *, by_words: bool) -> Scrubbed:
    """Pass over the text until nothing more is found: taking one thing out may show another."""
    removed: dict[str, int] = {}
    words: list[tuple[str, str]] = []
    while found := _find(text, known, region, by_words=by_words):
        pieces: list[str] = []
        last = 0
        for start, end, kind in found:
            pieces += (text[last:start], f"[{kind}]")
            words.append((kind, text[start:end]))
            removed[kind] = removed.get(kind, 0) + 1
            last = end
        text = "".join((*pieces, text[last:]))
    return Scrubbed(text, dict(sorted(removed.items())), tuple(words))


def _find(text: str, known: Known, region: str | None, *, by_words: bool) -> list[Found]:
    """Return what one pass takes out, in order, without overlap.

    The surest come first, though a part of them may look like the trade's; then the trade's
    own is shielded; then comes what the trade could also have meant.
    """
    spelled = known.language.spelled
    taken = _Taken(len(text))
    for surely in (emails(text), links(text), positions(text), spoken_positions(text, spelled)):
        taken.add(surely)
    taken.add(spoken_phones(text, spelled))
    taken.add(feasts(text, known.language))
    figures = has_figures(text)
    if figures:
        for surely in (own_numbers(text, known), sure_phones(text), written_days(text)):
            taken.add(surely)
    taken.shield(trade_spans(text))
    taken.add(streets(text, known))
    taken.add(handles(text, known))
    if figures:
        for likely in (
            paper_numbers(text),
            said_days(text, known.language),
            likely_phones(text, region),
        ):
            taken.add(likely)
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
