"""Read a complaint: spelling, the trade's words, symptoms, components, what is denied."""

from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field

from mendpool.core.catalogue.admits import surely
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.words import Trap, Words
from mendpool.core.record.machine import Machine
from mendpool.core.text.faults import faults_named
from mendpool.core.text.leanings import Leanings
from mendpool.core.text.phrases import Match, PhraseBook, scope_of_negation
from mendpool.core.text.spelling import Spelling
from mendpool.core.text.words import BREAK, NOT, stem, words_of

_LEANINGS_MOST = 3


@dataclass(frozen=True, slots=True)
class Understood:
    """What a text says.

    Args:
        symptoms: code to confidence (0 to 1) of those said to be there.
        absent: symptoms said not to be there.
        components: parts that are named.
        faults: ``component/failure`` where a part and how it failed are named together.
        words: stems of the words that tell something, in order, without repeats.
        mended: each misspelt word with what it was taken for.
        new_words: words that the lexicon does not hold and nothing is near.
        before: what it says happened just before.
        cautions: places in the catalogue's cautions whose words are used.
    """

    symptoms: Mapping[str, float] = field(default_factory=dict)
    absent: tuple[str, ...] = ()
    components: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    mended: Mapping[str, str] = field(default_factory=dict)
    new_words: tuple[str, ...] = ()
    before: tuple[str, ...] = ()
    cautions: tuple[int, ...] = ()


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
        # The longest first: "not taking load" before "taking".
        self._traps = sorted(
            (
                (trap, self._plain(trap.phrase, {}), self._plain(trap.means, {}))
                for trap in words.traps
            ),
            key=lambda entry: (-len(entry[1]), entry[1]),
        )
        self._symptoms = PhraseBook(
            {code: self._variants(s.aliases) for code, s in catalogue.symptoms.items()}
        )
        self._leanings = Leanings(
            {
                code: self._variants((*s.aliases, *s.hints))
                for code, s in catalogue.symptoms.items()
            },
            self._same(words.synonyms),
        )
        self._components = PhraseBook(
            {code: self._variants(c.aliases) for code, c in catalogue.components.items()}
        )
        self._failures = PhraseBook(
            {code: self._variants(said) for code, said in words.failures.items()}
        )
        self._before = PhraseBook(
            {code: self._whole_variants(said) for code, said in words.before.items()}
        )
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
        return other

    def read(self, text: str, machine: Machine) -> Understood:
        """Return what the text says of a set of this kind."""
        mended: dict[str, str] = {}
        plain = self._without_traps(self._plain(text, mended), machine)
        run = [stem(w) for w in plain if w not in self._stop]
        covered = scope_of_negation(run, self._breakers)
        symptoms = self._symptoms.find(run, covered)
        components = self._components.find(run, covered)
        present = _surest(m for m in symptoms if not m.negated)
        taken = {place for match in symptoms for place in match.places}
        leaning = self._leanings.lean(run, covered, taken)
        denied = {m.code for m in symptoms if m.negated}
        present = _with_leanings(present, leaning, denied)
        absent = {m.code for m in symptoms if m.negated} - set(present)
        return Understood(
            symptoms=present,
            absent=tuple(sorted(absent)),
            components=tuple(sorted({m.code for m in components if not m.negated})),
            faults=faults_named(components, self._failures.find(run, covered), run),
            words=_telling(run, self._breakers),
            mended=mended,
            before=tuple(
                sorted({m.code for m in self._before.find(run, covered) if not m.negated})
            ),
            cautions=tuple(sorted({int(m.code) for m in self._cautions.find(run, covered)})),
            new_words=tuple(dict.fromkeys(w for w in plain if self._is_new(w))),
        )

    def _is_new(self, word: str) -> bool:
        return (
            word.isalpha()
            and len(word) >= 4
            and word not in self._spelling
            and not self._is_ordinary(word)
        )

    def _plain(self, text: str, mended: dict[str, str]) -> list[str]:
        plain: list[str] = []
        for word in words_of(text):
            if word.text == BREAK or word.text in self._stop:
                plain.append(word.text)
                continue
            known = self._usual(word.text)
            if known is None:
                right = self._spelling.mend(word.text)
                if right != word.text:
                    mended[word.text] = right
                known = self._usual(right) or [right]
            plain.extend(known)
        return plain

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

    def _without_traps(self, plain: list[str], machine: Machine) -> list[str]:
        for trap, phrase, means in self._traps:
            if surely(trap.only, machine):
                plain = _replaced(plain, trap, phrase, means)
        return plain

    def _stems(self, phrase: str) -> list[str]:
        return [stem(w) for w in self._plain(phrase, {}) if w != BREAK and w not in self._stop]

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
    known: dict[str, int] = {}
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
    for phrase in phrases:
        for word in words_of(phrase):
            if word.text != BREAK:
                known[word.text] = known.get(word.text, 1000) + 1
    return known.items()


def _listed(words: Words) -> list[str]:
    by_code = (words.actions, words.results, words.failures, words.synonyms)
    return [phrase for lists in by_code for said in lists.values() for phrase in said]


def _replaced(
    plain: list[str], trap: Trap, phrase: Sequence[str], means: Sequence[str]
) -> list[str]:
    if not phrase or phrase[0] not in plain:
        return plain
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


def _surest(matches: Iterable[Match]) -> dict[str, float]:
    best: dict[str, float] = {}
    for match in matches:
        best[match.code] = max(best.get(match.code, 0.0), match.confidence)
    return dict(sorted(best.items(), key=lambda item: (-item[1], item[0])))


def _with_leanings(
    said: Mapping[str, float], leaning: Mapping[str, float], denied: set[str]
) -> dict[str, float]:
    """Add what the text leans to: much where nothing was said outright, else only near sure."""
    floor = 0.35 if said else 0.2
    more = sorted(
        (
            (v, c)
            for c, v in leaning.items()
            if c not in said and c not in denied and v >= floor
        ),
        key=lambda pair: (-pair[0], pair[1]),
    )
    return {**said, **{code: value for value, code in more[:_LEANINGS_MOST]}}


def _telling(run: Sequence[str], breakers: frozenset[str]) -> tuple[str, ...]:
    """The stems worth searching by: no breaks, no bare numbers, "not" joined to its word."""
    told: dict[str, None] = {}
    denied = False
    for word in run:
        if word == NOT:
            denied = True
            continue
        if word == BREAK or word in breakers:
            denied = False
            continue
        if not word.isdigit() and len(word) > 1:
            told["not-" + word if denied else word] = None
        denied = False
    return tuple(told)
