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


class ShortName(Entry):
    """A name too short to stand for a part by itself, but enough beside what was done to it.

    With `sure` the set must be known to be of the kind of `only`; without it, it may be.
    `actions` names the ones it is a part under; none means every action, and a look.
    """

    phrase: str
    component: Code
    only: SetKind = SetKind()
    sure: bool = False
    actions: tuple[Code, ...] = ()


class Tries(Entry):
    """How people say in passing what they have already tried.

    Args:
        also: forms of the present, by action, that count only where a result is said.
        renewed: words before a part that say it was replaced.
        not_done: words before an action that say it was not done, or not on this set.
        began_with: words before an action that say the trouble came with it.
        denial_goes_on: words a denial reaches over to the action.
        still: words that say the trouble is still there.
        not_still: words that, right after those, say something else.
        already: words before an action that say it did not help.
        lasted, lasted_for: one of each, near together, say that it went away for a time.
        no_result: phrases in which a word of a result is none.
        short_names: names of parts that hold only here.
        alone: the part an action is about where none is named.
    """

    also: Mapping[Code, tuple[str, ...]] = {}
    renewed: tuple[str, ...] = ()
    not_done: tuple[str, ...] = ()
    began_with: tuple[str, ...] = ()
    denial_goes_on: tuple[str, ...] = ()
    still: tuple[str, ...] = ()
    not_still: tuple[str, ...] = ()
    already: tuple[str, ...] = ()
    lasted: tuple[str, ...] = ()
    lasted_for: tuple[str, ...] = ()
    no_result: tuple[str, ...] = ()
    short_names: tuple[ShortName, ...] = ()
    alone: Mapping[Code, Code] = {}


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
        tries: how they say in passing what they tried.
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
    tries: Tries = Tries()
