"""What was already tried, found in a complaint: "swapped the regulator, no change".

An attempt is a thing done to a part, with what came of it. It is looked for clause by clause:
what was done, the parts it was done to (near it, and through a list), and the result that
follows. What is asked, planned, denied, or told of another set is none; neither is what was
done with nothing said of the result, for that may be a history. A part said to be good is a
test that found it good. That a thing was cured is not taken either: who asks is not cured.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from mendpool.core.catalogue.admits import admits, surely
from mendpool.core.catalogue.words import ShortName, Words
from mendpool.core.record.machine import Machine
from mendpool.core.text.clauses import Spoken
from mendpool.core.text.phrases import Match, PhraseBook
from mendpool.core.text.words import BREAK, NOT, stem

NO_RESULT = "-"
_LASTED_WITHIN = 5
_LEAD, _BEGAN = 9, 4
_STATES = tuple(
    [word] for word in ("is", "are", "was", "were", "look", "looks", "looked", "seems")
)
_MODAL = frozenset({"will", "would", "could", "can", "should", "must", "may", "shall"})


@dataclass(frozen=True, slots=True)
class Attempted:
    """One thing tried, in the catalogue's codes."""

    component: str
    action: str
    result: str


@dataclass(frozen=True, slots=True)
class Span:
    """Something said at a place of the run.

    Args:
        code: an action, a component, or a result.
        first, last: where it begins and ends.
        weak: a form of the present, a short name, or a result that only lasted a time.
        only: the actions under which it is a part; empty for all.
    """

    code: str
    first: int
    last: int
    weak: bool = False
    only: tuple[str, ...] = ()


class AttemptWords:
    """How people say what they tried, ready to be looked for."""

    def __init__(self, words: Words, cut: Callable[[str], list[str]]) -> None:
        """Prepare the phrases.

        Args:
            words: of the catalogue.
            cut: turns a phrase into words as the trade spells them, stop words left out.
        """
        tries = words.tries
        self._actions = PhraseBook(_whole(words.actions, cut))
        self._also = PhraseBook(_whole(tries.also, cut))
        results = {
            code: [[stem(word) for word in phrase] for phrase in phrases]
            for code, phrases in _whole(words.results, cut).items()
        }
        self._results = PhraseBook(
            {**results, NO_RESULT: [[stem(w) for w in cut(said)] for said in tries.no_result]}
        )
        self.renewing = next((c for c, said in words.actions.items() if "replaced" in said), "")
        self.alone: Mapping[str, str] = tries.alone
        self.renewed = _stems(tries.renewed)
        self.still, self.not_still = _stems(tries.still), _stems(tries.not_still)
        self.already = frozenset(tries.already)
        self._went = frozenset(word for said in tries.lasted for word in cut(said))
        self._spans = _stems(tries.lasted_for)
        self._not_done, self._began = _by_first(tries.not_done), _by_first(tries.began_with)
        self._goes_on = _stems(tries.denial_goes_on)
        self._short: dict[str, list[ShortName]] = {}
        for short in tries.short_names:
            self._short.setdefault(short.phrase, []).append(short)

    def actions(self, text: Spoken, parts: Sequence[Span]) -> list[Span]:
        """Return what was done, as typed: "charged" is an action and "charging" is none."""
        words = [
            BREAK if stemmed == BREAK else text.plain[place]
            for stemmed, place in zip(text.run, text.at, strict=True)
        ]
        none = [False] * len(words)
        found = _spans(self._actions.find(words, none))
        # A "fuel filter" that was changed is no fuel that was changed.
        cut = [p for p in parts if any(s.first < p.first <= s.last < p.last for s in found)]
        if cut:
            for part in cut:
                words[part.first : part.last + 1] = [BREAK] * (part.last + 1 - part.first)
            found = _spans(self._actions.find(words, none))
        taken = {place for span in found for place in range(span.first, span.last + 1)}
        also = (
            span
            for span in _spans(self._also.find(words, none), weak=True)
            if not _is_state(text, span, parts)
        )
        return sorted(
            (*found, *(s for s in also if taken.isdisjoint(range(s.first, s.last + 1)))),
            key=lambda span: span.first,
        )

    def results(self, text: Spoken) -> list[Span]:
        """Return what came of it; what a "not" right before turns round is left out."""
        found = [
            span
            for span in _spans(self._results.find(text.run, text.covered))
            if span.code != NO_RESULT and (not span.first or text.run[span.first - 1] != NOT)
        ]
        better = {span.first for span in found if span.code == "improved"}
        return sorted(
            [*found, *self._lasted(text, better)], key=lambda span: (span.first, -span.last)
        )

    def _lasted(self, text: Spoken, better: AbstractSet[int]) -> list[Span]:
        """It ran for a bit; but that it runs a bit better is said by "better"."""
        found = []
        for place, at in enumerate(text.at):
            if text.plain[at] in self._went and better.isdisjoint(range(place, place + 4)):
                start = at + 1
                for after in text.plain[start : start + _LASTED_WITHIN]:
                    if after.startswith(BREAK):
                        break
                    if stem(after) in self._spans:
                        found.append(Span("improved", place, place, weak=True))
                        break
        return found

    def parts(self, text: Spoken, named: Sequence[Match], machine: Machine) -> list[Span]:
        """Return the parts named, short names among them where the set allows."""
        found = _spans(named)
        taken = {place for match in named for place in match.places}
        for place, at in enumerate(text.at):
            for short in () if place in taken else self._short.get(text.plain[at], ()):
                fits = surely if short.sure else admits
                if fits(short.only, machine):
                    found.append(
                        Span(short.component, place, place, weak=True, only=short.actions)
                    )
                    break
        return sorted(found, key=lambda span: (span.first, span.code))

    def not_done(self, text: Spoken, start: int, place: int) -> bool:
        """Whether what stands before a place, from `start` of `plain`, makes no deed of it."""
        until = text.at[place]
        return _said(self._not_done, text.plain, max(start, until - _LEAD), until)

    def began(self, text: Spoken, start: int, place: int) -> bool:
        """Whether the trouble is said to have begun with what stands at a place."""
        until = text.at[place]
        return _said(self._began, text.plain, max(start, until - _BEGAN), until)

    def denied(self, text: Spoken, place: int) -> bool:
        """Whether a "not" reaches what stands at a place."""
        before = place - 1
        while before >= 0 and text.run[before] in self._goes_on:
            before -= 1
        return before >= 0 and text.run[before] == NOT


def _is_state(text: Spoken, span: Span, parts: Sequence[Span]) -> bool:
    """Whether "clean" is how a part is, not what was done: "the rings are clean"."""
    at = text.at[span.first]
    ends = span.last + 1 >= len(text.run) or text.run[span.last + 1] == BREAK
    after_part = any(part.last == span.first - 1 for part in parts)
    return text.plain[at - 1 : at] in _STATES or (ends and after_part)


def _whole(
    phrases: Mapping[str, Iterable[str]], cut: Callable[[str], list[str]]
) -> dict[str, list[list[str]]]:
    """Phrases cut; those of which stop words leave a single word say nothing any more."""
    return {
        code: [words for one in said if len(words := cut(one)) > 1 or " " not in one.strip()]
        for code, said in phrases.items()
    }


def _stems(words: Iterable[str]) -> frozenset[str]:
    return frozenset(stem(word) for said in words for word in said.split())


def _spans(matches: Iterable[Match], *, weak: bool = False) -> list[Span]:
    return [Span(m.code, m.places[0], m.places[-1], weak) for m in matches]


def _by_first(phrases: Iterable[str]) -> dict[str, list[tuple[str, ...]]]:
    kept: dict[str, list[tuple[str, ...]]] = {}
    for phrase in phrases:
        words = tuple(phrase.replace("'s", "").split())
        kept.setdefault(words[0], []).append(words)
    return kept


def _said(
    phrases: Mapping[str, Sequence[tuple[str, ...]]],
    plain: Sequence[str],
    start: int,
    until: int,
) -> bool:
    for place in range(start, until):
        word = plain[place]
        for phrase in phrases.get(word, ()):
            end = place + len(phrase)
            # "Won't fire, new plug": a denied "will" is no plan.
            plans = word not in _MODAL or plain[end : end + 1] != [NOT]
            if end <= until and tuple(plain[place:end]) == phrase and plans:
                return True
    return False
