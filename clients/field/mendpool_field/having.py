"""What is at hand, from the words it was typed in to the codes the plan knows."""

import difflib
from collections.abc import Iterable, Sequence

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool_field.questions import parts_called

LONGEST = 60
"""As many characters as the wire takes for one thing."""
_NEAR = 0.85


def split_up(typed: Iterable[str]) -> list[str]:
    """Return the things named in ``brushes,avr`` and ``brushes, second person``."""
    return [word for text in typed for piece in text.split(",") if (word := piece.strip())]


def at_hand(typed: Sequence[str], catalogue: Catalogue) -> list[str]:
    """Return tools, parts and people by their codes; what has none stays as it was typed.

    A tool that some step asks for comes first, then a part by its code or any word for it;
    only then is a slip of the finger mended, so that no right word is ever turned into
    another one.
    """
    tools = _tools(catalogue)
    return list(dict.fromkeys(_code(word, tools, catalogue) for word in split_up(typed)))


def _code(word: str, tools: frozenset[str], catalogue: Catalogue) -> str:
    slug = "-".join(word.lower().split())
    singular = slug.removesuffix("s")
    for code in (slug, f"{slug}s", singular):
        if code in tools:
            return code
    parts = parts_called(word, catalogue)
    if len(parts) == 1:
        return parts[0]
    near = difflib.get_close_matches(slug, sorted(tools), n=1, cutoff=_NEAR)
    return near[0] if near else word[:LONGEST]


def _tools(catalogue: Catalogue) -> frozenset[str]:
    """Return everything that a check or a remedy needs."""
    return frozenset(
        need
        for needs in (
            *(check.needs for check in catalogue.checks.values()),
            *(remedy.needs for cause in catalogue.causes for remedy in cause.remedies),
        )
        for need in needs
    )
