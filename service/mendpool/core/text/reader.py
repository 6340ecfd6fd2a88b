"""Read a complaint: spelling, the trade's words, symptoms, components, what is denied."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.words import Words
from mendpool.core.record.machine import Machine
from mendpool.core.text.advice import AdviceWords
from mendpool.core.text.attempts import Attempted, AttemptWords
from mendpool.core.text.clauses import NOTHING, Spoken
from mendpool.core.text.faults import faults_denied, faults_named
from mendpool.core.text.leanings import Leanings, floor_of, with_leanings
from mendpool.core.text.phrases import Match, PhraseBook, scope_of_negation
from mendpool.core.text.spelling import Spelling
from mendpool.core.text.traps import Traps
from mendpool.core.text.tried import tried_in
from mendpool.core.text.words import BREAK, NOT, part_numbers, stem, times_used, words_of

_ADDS = frozenset({"and", "plus"})
_MEMORIES = ("_taken_as", "_is_new")


@dataclass(frozen=True, slots=True)
class Understood:
    """What a text says.

    Args:
        symptoms: code to confidence (0 to 1) of those said to be there.
        absent: symptoms said not to be there.
        components: parts that are named, but for those said to be good or changed in vain.
        faults: ``component/failure`` where a part and how it failed are named together.
        not_faults: ``component/failure`` said not to be so.
        cleared: parts said to be good.
        tried: what was tried, with what came of it.
        words: stems of the words that tell something, in order, without repeats; not the
            names of parts that are ruled out.
        mended: each misspelt word with what it was taken for.
        new_words: words that the lexicon does not hold and nothing is near.
        before: what it says happened just before.
        cautions: places in the catalogue's cautions whose words are used.
        spoken: the text as it was cut, for whoever looks for more in it.
    """

    symptoms: Mapping[str, float] = field(default_factory=dict)
    absent: tuple[str, ...] = ()
    components: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    not_faults: tuple[str, ...] = ()
    cleared: tuple[str, ...] = ()
    tried: tuple[Attempted, ...] = ()
    words: tuple[str, ...] = ()
    mended: Mapping[str, str] = field(default_factory=dict)
    new_words: tuple[str, ...] = ()
    before: tuple[str, ...] = ()
    cautions: tuple[int, ...] = ()
    spoken: Spoken = field(default=NOTHING, repr=False, compare=False)


class Reader:
    """Reads complaints with one catalogue and the pool's own well-used words."""

    def __init__(self, catalogue: Catalogue) -> None:
        """Prepare the lexicon and the phrase books; 0.1 s, so make one and keep it."""
        words = catalogue.words
        self._spelled = {w: " ".join(t.split()) for w, t in words.spelled.items()}
        self._negators = frozenset(words.negators) | {NOT}
        self._breakers = frozenset(words.breakers)
        self._stop = frozenset(words.stop)
        lexicon = dict(_lexicon(catalogue))
        self._ordinary = frozenset(catalogue.ordinary)
        self._known_stems = frozenset(stem(word) for word in lexicon)
        self._spelling = Spelling(lexicon.items())
        self._remember()
        self._traps = Traps(words.traps, lambda phrase: self._plain(phrase, {}))
        said = {code: self._variants(s.aliases) for code, s in catalogue.symptoms.items()}
        self._symptoms = PhraseBook(said)
        self.same = self._same(words.synonyms)
        self._leanings = Leanings(
            {
                code: said[code] + self._variants(s.hints)
                for code, s in catalogue.symptoms.items()
            },
            self.same,
        )
        self._components = PhraseBook(
            {code: self._variants(c.aliases) for code, c in catalogue.components.items()}
        )
        self._failures = PhraseBook(
            {code: self._variants(said) for code, said in words.failures.items()}
        )
        self._attempts = AttemptWords(words, self._cut)
        self._before = PhraseBook(
            {code: self._whole_variants(said) for code, said in words.before.items()}
        )
        self._advice = AdviceWords(catalogue.advice, self._stems)
        self._cautions = PhraseBook(
            {
                str(place): self._variants(caution.when.words)
                for place, caution in enumerate(catalogue.cautions)
                if caution.when.words
            }
        )

    def knowing(self, pool_words: Mapping[str, int]) -> "Reader":
        """Return a reader that also knows the pool's well-used words (with their users)."""
        if not pool_words:
            return self
        other = copy(self)
        other._spelling = self._spelling.with_words(pool_words)  # noqa: SLF001 - a copy of ours
        other._remember()  # noqa: SLF001
        return other

    def __getstate__(self) -> dict[str, Any]:
        """Leave out the words looked up so far: a memory, and no part of the reader."""
        return {name: value for name, value in self.__dict__.items() if name not in _MEMORIES}

    def __setstate__(self, state: dict[str, Any]) -> None:
        self.__dict__.update(state)
        self._remember()

    def _remember(self) -> None:
        """Look up each word once: a reader's lexicon does not change."""
        self._taken_as = lru_cache(maxsize=20_000)(self._take_word)
        self._is_new = lru_cache(maxsize=20_000)(self._is_new_word)

    def cautions(self, spoken: Spoken) -> tuple[int, ...]:
        """Return the places in the catalogue's cautions whose words are used, and no more."""
        found = self._cautions.find(spoken.run, spoken.covered)
        return tuple(sorted({int(match.code) for match in found}))

    def advice(self, spoken: Spoken) -> frozenset[str]:
        """Return the codes of the dangerous advice that a text holds."""
        return self._advice.found(spoken)

    def spoken(self, text: str, machine: Machine) -> Spoken:
        """Return a text as it is cut for the books of phrases; most of the work of reading."""
        return self._spoken(self._traps.replaced(self._plain(text, {}), machine))

    def read(self, text: str, machine: Machine) -> Understood:
        """Return what the text says of a set of this kind."""
        mended: dict[str, str] = {}
        plain = self._traps.replaced(self._plain(text, mended), machine)
        spoken = self._spoken(plain)
        run, covered = spoken.run, spoken.covered
        symptoms = self._symptoms.find(run, covered)
        symptoms += self._symptoms.find_denied(run, {p for m in symptoms for p in m.places})
        components = self._components.find(run, covered)
        failures = self._failures.find(run, covered)
        present = _surest(m for m in symptoms if not m.negated)
        taken = {place for match in symptoms for place in match.places}
        leaning = self._leanings.lean(run, covered, taken, floor_of(present))
        denied = {m.code for m in symptoms if m.negated}
        present = with_leanings(present, leaning, denied)
        absent = {m.code for m in symptoms if m.negated} - set(present)
        troubles = frozenset(p for m in symptoms if not m.negated for p in m.places)
        parts = self._attempts.parts(spoken, components, machine)
        tried = tried_in(spoken, self._attempts, parts, failures, troubles)
        not_faults = faults_denied(parts, failures, run)
        cleared = {a.component for a in tried if a.result == "found-good"}
        # A part that is good, or was changed in vain, is named to be ruled out.
        out = cleared | {a.component for a in tried if a.result in ("no-change", "worse")}
        out |= {key.split("/")[0] for key in not_faults}
        ruled_out = {p for s in parts if s.code in out for p in range(s.first, s.last + 1)}
        return Understood(
            symptoms=present,
            absent=tuple(sorted(absent)),
            components=tuple(sorted({m.code for m in components if not m.negated} - out)),
            faults=faults_named(components, failures, run),
            not_faults=not_faults,
            cleared=tuple(sorted(cleared)),
            tried=tried,
            words=_telling(run, self._breakers, ruled_out),
            mended=mended,
            before=tuple(
                sorted({m.code for m in self._before.find(run, covered) if not m.negated})
            ),
            cautions=self.cautions(spoken),
            new_words=tuple(dict.fromkeys(w for w in plain if self._is_new(w))),
            spoken=spoken,
        )

    def _spoken(self, plain: Sequence[str]) -> Spoken:
        at = [place for place, word in enumerate(plain) if word not in self._stop]
        run = [BREAK if plain[p].startswith(BREAK) else stem(plain[p]) for p in at]
        # "No output and overheating": what is added is not denied.
        added = {place for place, p in enumerate(at) if p and plain[p - 1] in _ADDS}
        return Spoken(plain, run, at, scope_of_negation(run, self._breakers, ends=added))

    def telling(self, text: str) -> tuple[str, ...]:
        """Return the stems of a text that tell something, as `read` does, and no more.

        `diagnosis.spoken` learns from it what the catalogue's phrases are made of.
        """
        return _telling(self._spoken(self._plain(text, {})).run, self._breakers)

    def _is_new_word(self, word: str) -> bool:
        return (
            word.isalpha()
            and len(word) >= 4
            and word not in self._spelling
            and not self._is_ordinary(word)
        )

    def _plain(self, text: str, mended: dict[str, str]) -> list[str]:
        plain: list[str] = []
        numbers = part_numbers(text)
        for word, start, _ in words_of(text):
            if word == BREAK:
                plain.append(BREAK + text[start])
                continue
            known, right = self._taken_as(word)
            if right is not None:
                if numbers and word.isalpha() and _inside(numbers, start):
                    known = (word,)
                elif right != word:
                    mended[word] = right
            plain.extend(known)
        return plain

    def _take_word(self, word: str) -> tuple[tuple[str, ...], str | None]:
        """Return a word as the trade spells it, and what one nobody knows stands for."""
        if word in self._stop:
            return (word,), None
        known = self._usual(word)
        if known is not None:
            return tuple(known), None
        right = self._spelling.mend(word)
        return tuple(self._usual(right) or [right]), right

    def _usual(self, word: str) -> list[str] | None:
        """Return the trade's usual words for one, None for a word nobody knows."""
        if word in self._negators:
            return [NOT]
        if word in self._spelled:
            return self._spelled[word].split()
        return [word] if word in self._spelling or self._is_ordinary(word) else None

    def _is_ordinary(self, word: str) -> bool:
        """Plain words, and other forms of known ones, are no typing mistakes."""
        return word in self._ordinary or stem(word) in self._known_stems

    def _stems(self, phrase: str) -> list[str]:
        return [stem(word) for word in self._cut(phrase)]

    def _cut(self, phrase: str) -> list[str]:
        return [
            word
            for word in self._plain(phrase, {})
            if not word.startswith(BREAK) and word not in self._stop
        ]

    def _same(self, synonyms: Mapping[str, Iterable[str]]) -> dict[str, str]:
        """Each stem of a list of synonyms to the stem that stands for all of them."""
        return {
            stemmed: stem(one)
            for one, others in synonyms.items()
            for other in others
            for stemmed in self._stems(other)
        }

    def _whole_variants(self, phrases: Iterable[str]) -> list[list[str]]:
        """Phrases that still say something without stop words: "after I filled" does not."""
        cut = [(phrase, self._stems(phrase)) for phrase in phrases]
        return [stems for phrase, stems in cut if len(stems) > 1 or " " not in phrase]

    def _variants(self, aliases: Iterable[str]) -> list[list[str]]:
        return [self._stems(alias) for alias in aliases]


def trade_words(catalogue: Catalogue) -> frozenset[str]:
    """Return every word of the trade, as folded by `words_of`."""
    return frozenset(word for word, _ in _lexicon(catalogue))


def _lexicon(catalogue: Catalogue) -> Iterable[tuple[str, int]]:
    """Every word the trade uses, with how often the catalogue uses it, from 1,000 up."""
    phrases = [*catalogue.words.ordinary, *catalogue.words.stop, *catalogue.words.negators]
    phrases += [*catalogue.words.breakers, *catalogue.words.spelled.values()]
    phrases += [*catalogue.words.spelled]
    phrases += [*catalogue.words.synonyms]
    for trap in catalogue.words.traps:
        phrases += [trap.phrase, trap.means]
    for symptom in catalogue.symptoms.values():
        phrases += [symptom.label, *symptom.aliases, *symptom.hints]
    for component in catalogue.components.values():
        phrases += [component.label, *component.aliases]
    phrases += _listed(catalogue.words)
    for said in catalogue.voices.values():
        phrases += said
    return [(word, 1000 + times) for word, times in times_used(phrases).items()]


def _listed(words: Words) -> list[str]:
    by_code = (
        words.actions, words.results, words.failures, words.synonyms, words.tries.also,
    )  # fmt: skip
    return [phrase for lists in by_code for said in lists.values() for phrase in said]


def _inside(spans: Iterable[tuple[int, int]], place: int) -> bool:
    return any(start <= place < end for start, end in spans)


def _surest(matches: Iterable[Match]) -> dict[str, float]:
    best: dict[str, float] = {}
    for match in matches:
        best[match.code] = max(best.get(match.code, 0.0), match.confidence)
    return dict(sorted(best.items(), key=lambda item: (-item[1], item[0])))


def _telling(
    run: Sequence[str], breakers: frozenset[str], left_out: Collection[int] = ()
) -> tuple[str, ...]:
    """The stems worth searching by: no breaks, no bare numbers, "not" joined to its word."""
    told: dict[str, None] = {}
    denied = False
    for place, word in enumerate(run):
        if word == NOT:
            denied = True
            continue
        if word == BREAK or word in breakers:
            denied = False
            continue
        if not word.isdigit() and len(word) > 1 and place not in left_out:
            told["not-" + word if denied else word] = None
        denied = False
    return tuple(told)
