"""Sentences put together out of parts, in another language: each is known by its pattern.

The same rule and the same file as `clients/phone/lib/made.js`: a part that is not known leaves
all of it English, never half of it.
"""

import re
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any, NamedTuple

_HOLE = re.compile(r"\{([a-z]+)\d*\}")
_SHAPES = {
    "n": r"-?\d+(?:\.\d+)?", "place": r"/[^\s:]*", "unit": r"\S*", "code": r"[a-z0-9-]+",
}  # fmt: skip
_AS_IT_IS = ("n", "own", "place", "unit")
_KINDS = {"action": "actions", "code": "components"}
_DEEPEST = 4
_CALLED = re.compile(r"the [^.:]{1,60}", re.IGNORECASE)


class _Pattern(NamedTuple):
    sign: str
    fits: re.Pattern[str]
    holes: tuple[tuple[str, str], ...]
    own: str


class Made:
    """Tells such sentences. Make one a language and keep it."""

    def __init__(
        self,
        patterns: Mapping[str, str],
        known: Callable[[str], str | None],
        codes: Mapping[str, Any],
        parts: Mapping[str, str],
    ) -> None:
        """Read the patterns.

        Args:
            patterns: English with holes, and the same in the language.
            known: a text of the catalogue in the language.
            codes: the language's words of codes, by kind.
            parts: the code of each component by its English name.
        """
        self._known, self._codes, self._parts = known, codes, parts
        self._patterns = [_pattern(english, own) for english, own in patterns.items()]

    def tell(self, text: str, depth: int = 0) -> str | None:
        """Return a text in the language; None where it fits no pattern."""
        whole = self._known(text)
        if whole is not None or depth > _DEEPEST:
            return whole
        for pattern in self._patterns:
            found = pattern.sign in text and pattern.fits.fullmatch(text)
            told = found and self._filled(pattern, found.groups(), depth)
            if told:
                return told
        return None

    def _filled(self, pattern: _Pattern, found: tuple[str, ...], depth: int) -> str | None:
        told = pattern.own
        for (hole, kind), text in zip(pattern.holes, found, strict=True):
            part = self._part(kind, text, depth)
            if part is None:
                return None
            told = told.replace(hole, part, 1)
        return told

    def _part(self, kind: str, text: str, depth: int) -> str | None:
        if kind in _AS_IT_IS:
            return text
        if kind in _KINDS:
            return self._code(_KINDS[kind], text)
        if kind in {"part", "parts"}:
            return self._several(text)
        if kind == "list":
            told = [self.tell(each, depth + 1) for each in text.split(", ")]
            return None if None in told else ", ".join(filter(None, told))
        if kind == "load":
            return self.tell(text, depth + 1) or self._lowered(text, depth) or _quoted(text)
        return self.tell(text, depth + 1)

    def _several(self, text: str) -> str | None:
        """Parts, told apart at an "and"; a part's own name may hold one."""
        whole = self._code("components", self._parts.get(text, ""))
        if whole is not None:
            return whole
        for end in re.finditer(" and ", text):
            first = self._code("components", self._parts.get(text[: end.start()], ""))
            rest = first and self._several(text[end.end() :])
            if rest:
                return f"{first}; {rest}"
        return None

    def _code(self, kind: str, code: str) -> str | None:
        found = self._codes.get(kind, {}).get(code)
        return found if isinstance(found, str) else None

    def _lowered(self, text: str, depth: int) -> str | None:
        """At the head of a sentence its first letter is large."""
        told = self.tell(text[:1].lower() + text[1:], depth + 1)
        return told and told[:1].upper() + told[1:]


def _quoted(text: str) -> str | None:
    """What somebody called a load themselves stays in their words."""
    return f"«{text[4:]}»" if _CALLED.fullmatch(text) else None


@cache
def _pattern(english: str, own: str) -> _Pattern:
    holes = tuple((hole[0], hole[1]) for hole in _HOLE.finditer(english))
    # Its longest piece without a hole: where that is missing there is no need to look closer.
    sign = max(re.split(r"\{[a-z]+\d*\}", english), key=len)
    return _Pattern(sign, _shape(english), holes, own)


def _shape(english: str) -> re.Pattern[str]:
    pieces = re.split(r"(\{[a-z]+\d*\})", english)
    shape = [
        f"({_SHAPES.get(piece.strip('{}').rstrip('0123456789'), '.+?')})"
        if place % 2
        else re.escape(piece)
        for place, piece in enumerate(pieces)
    ]
    return re.compile("".join(shape), re.DOTALL)
