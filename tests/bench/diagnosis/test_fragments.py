"""The simulator's words are not the catalogue's words: else the bench would flatter."""

from collections.abc import Iterable

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.text.words import BREAK, stem, words_of

from tests.bench.diagnosis.simulator.pieces import pieces

RUN = 3
# The commoner three quarters of what is complained of, by the catalogue's own shares.
COMMON = 45


def runs(text: str) -> set[tuple[str, ...]]:
    """Every three words that stand together, folded, without accents and stemmed."""
    found: set[tuple[str, ...]] = set()
    clause: list[str] = []
    for word in words_of(text):
        if word.text == BREAK:
            clause = []
            continue
        clause.append(stem(word.text))
        if len(clause) >= RUN:
            found.add(tuple(clause[-RUN:]))
    return found


def all_runs(texts: Iterable[str]) -> set[tuple[str, ...]]:
    return {run for text in texts for run in runs(text)}


def test_no_fragment_shares_three_words_running_with_an_alias(catalogue: Catalogue) -> None:
    aliases = [a for s in catalogue.symptoms.values() for a in (*s.aliases, *s.hints, s.label)]
    aliases += [a for c in catalogue.components.values() for a in c.aliases]
    theirs = all_runs(aliases)
    shared = {said: sorted(runs(said) & theirs) for said in pieces().said()}
    assert {said: both for said, both in shared.items() if both} == {}


def test_no_fragment_shares_three_words_running_with_a_voice(catalogue: Catalogue) -> None:
    theirs = all_runs(said for voices in catalogue.voices.values() for said in voices)
    shared = {said: sorted(runs(said) & theirs) for said in pieces().said()}
    assert {said: both for said, both in shared.items() if both} == {}


def test_the_comparison_sees_a_shared_phrase_through_case_endings_and_commas() -> None:
    assert runs("The Engines cranks over!") & runs("engine cranked over, twice") == {
        ("engin", "crank", "over")
    }
    assert not runs("cranks over, starts") & runs("over starts it")


def test_every_commoner_symptom_is_voiced_in_six_ways_or_more(catalogue: Catalogue) -> None:
    common = sorted(catalogue.symptoms.values(), key=lambda s: (-s.share, s.code))[:COMMON]
    voiced = {
        s.code: sum(len(said) for said in pieces().symptoms.get(s.code, {}).values())
        for s in common
    }
    assert {code: n for code, n in voiced.items() if n < 6} == {}


def test_the_tells_and_symptoms_name_things_the_catalogue_has(catalogue: Catalogue) -> None:
    keys = {cause.key for cause in catalogue.causes}
    assert set(pieces().tells) <= keys
    assert len(pieces().tells) >= 80
    assert set(pieces().symptoms) <= set(catalogue.symptoms)
    denied = {code for _, codes in pieces().denials for code in codes}
    assert denied <= set(catalogue.symptoms)
