"""What is at hand: which tests can be made with it, and which remedies wait for a part.

Nothing said means that nothing is missing. Whoever names a tool has named his tools, whoever
names a part his parts; naming a helper says nothing of either.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.model import Check, Remedy
from mendpool.core.catalogue.planning_rules import needs_of

_NEW = re.compile(r"(?:an? |some )?(?:new|spare) ")
_APART = re.compile(r"[\s\-_]+")
_BEFORE = re.compile(r"^(?:(?:a|an|the|some|new|spare) )+(?=\w)")


@dataclass(frozen=True, slots=True)
class Hands:
    """Tools, parts and people that are there.

    Args:
        needs: codes of tools, of bought things and of people.
        parts: components of which a new one is there.
        tools_said, parts_said: that any was named, so that the others are missing.
        not_known: words that name neither.
    """

    needs: frozenset[str] = frozenset()
    parts: frozenset[str] = frozenset()
    tools_said: bool = False
    parts_said: bool = False
    not_known: tuple[str, ...] = ()

    def can(self, check: Check) -> bool:
        """Tell whether a test can be made: by its tools, and by who must help."""
        return not self.tools_said or set(check.needs) <= self.needs

    def wait(
        self, component: str, remedy: Remedy | None, action: str, found: Catalogue
    ) -> float:
        """Return the minutes that a part not at hand costs in waiting; 0 where none is."""
        if not self.parts_said:
            return 0.0
        hands = found.planning.hands
        itself = action in hands.parts_for and component not in self.parts
        bought = () if remedy is None else set(remedy.needs) & set(hands.bought) - self.needs
        return hands.wait_minutes if itself or bought else 0.0


def hands_of(at_hand: Sequence[str], catalogue: Catalogue) -> Hands:
    """Return what is at hand, from codes and from words as people say them."""
    if not at_hand:
        return Hands()
    hands = catalogue.planning.hands
    needs, everything = set[str](), needs_of(catalogue)
    parts = set[str]()
    not_known = []
    for said in at_hand:
        word = _plain(said)
        tools, named = _tools(word, everything, catalogue), _parts(word, catalogue)
        # One word for a tool and a part ("brush"): its own code, or "new", makes it the part.
        if word.replace(" ", "-") in named or (named and _NEW.match(said.strip().lower())):
            tools = set()
        elif tools:
            named = set()
        needs |= tools
        parts |= named
        if not tools and not named:
            not_known.append(said)
    kept = needs - set(hands.bought) - set(hands.people)
    return Hands(
        needs=frozenset(needs),
        parts=frozenset(parts),
        tools_said=bool(kept),
        parts_said=bool(parts or needs & set(hands.bought)),
        not_known=tuple(not_known),
    )


def _tools(word: str, everything: frozenset[str], catalogue: Catalogue) -> set[str]:
    slug = word.replace(" ", "-")
    codes = {code for code in (slug, f"{slug}s", slug.removesuffix("s")) if code in everything}
    if codes:
        return codes
    tools = catalogue.planning.hands.tools
    return {code for code, aliases in tools.items() if word in map(_plain, aliases)}


def _parts(word: str, catalogue: Catalogue) -> set[str]:
    """Components by code, label or any word for them, one or more of it."""
    forms = {word, word.removesuffix("s"), f"{word}s"}
    return {
        code
        for code, component in catalogue.components.items()
        if _plain(code) in forms or not forms.isdisjoint(map(_plain, component.aliases))
    }


@lru_cache(maxsize=8192)
def _plain(said: str) -> str:
    """Lower case, hyphens and spaces alike, no "new", "a" or "spare" before it."""
    return _BEFORE.sub("", _APART.sub(" ", said.strip().lower()))
