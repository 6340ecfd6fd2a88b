"""The words of the trade that are neither a symptom nor a component: `words.yaml`."""

from collections.abc import Mapping

from mendpool.core.catalogue.model import Code, Entry, SetKind


class Trap(Entry):
    """A phrase whose plain reading would be wrong.

    It is replaced by `means` before anything else is looked for, word for word (not by stems:
    "choked" is no choke). Where `only` asks for a kind, the set must be known to be of it.
    """

    phrase: str
    means: str
    only: SetKind = SetKind()
    unless_near: tuple[str, ...] = ()
    """Leave it alone if one of these words is within three words."""


class Words(Entry):
    """What the reader of a complaint must know about plain words.

    Args:
        stop: words that tell nothing.
        negators: words after which what is named is absent ("no", "not").
        breakers: words at which a negation ends ("but", "though").
        spelled: other spellings and second-language words, to the trade's usual word.
        synonyms: single words that mean the same when symptoms are guessed at from bags of
            words, by the word that stands for them. Phrases are not loosened by them.
        traps: phrases whose plain reading would be wrong.
        actions: how people say what they did, to a code of `actions`.
        results: how people say what came of it, to a code of `results`.
        failures: how people say that a part has failed, to a code of `failure_modes`; they
            count where the part is named beside it.
        before: how people say in passing what happened just before, to a code of `before`.
        ordinary: plain words the spelling correction must leave alone.
    """

    stop: tuple[str, ...]
    negators: tuple[str, ...]
    breakers: tuple[str, ...]
    spelled: Mapping[str, str]
    synonyms: Mapping[str, tuple[str, ...]] = {}
    traps: tuple[Trap, ...]
    actions: Mapping[Code, tuple[str, ...]]
    results: Mapping[Code, tuple[str, ...]]
    failures: Mapping[Code, tuple[str, ...]] = {}
    before: Mapping[Code, tuple[str, ...]] = {}
    ordinary: tuple[str, ...] = ()
