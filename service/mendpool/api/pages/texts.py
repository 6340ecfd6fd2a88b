"""The page's texts, the same files its scripts read, and the language somebody wants."""

import json
import re
from collections.abc import Mapping
from functools import cache, cached_property
from hashlib import sha256
from pathlib import Path
from typing import Any

from mendpool._places import place_of
from mendpool.api.pages.made import Made

FIRST = "en"
_NAME = re.compile(r"\{(\w+)\}")
_DIGITS = 12
_MOST_IN_ONE = 4
"""So many texts of the catalogue may stand in one."""


@cache
def languages() -> tuple[str, ...]:
    """Return the codes of the languages there are."""
    return tuple(sorted(path.stem for path in _folder().glob("??.json")))


def wanted(chosen: str | None, accepted: str) -> str:
    """Return the language to speak.

    Args:
        chosen: what was chosen before, by code.
        accepted: an Accept-Language header (RFC 9110 §12.5.4); weights are taken to stand in
            their order, as every browser sends them.
    """
    asked = [chosen or "", *(part.split(";")[0].strip()[:2] for part in accepted.split(","))]
    return next((code for code in asked if code in languages()), FIRST)


class Texts:
    """The texts of one language."""

    def __init__(self, language: str, parts: Mapping[str, str] | None = None) -> None:
        """Speak a language that there is.

        Args:
            language: its code.
            parts: the code of each component by its English name, where sentences with one
                are to be told.
        """
        self.language = language
        self._parts = parts or {}
        self._texts = _read(language)
        self._codes: Mapping[str, Any] = _read_if_any(f"{language}-codes")
        self._sayings: Mapping[str, str] = _read_if_any(f"{language}-trade")

    def t(self, key: str, **given: object) -> str:
        """Return the text of a key with {names} filled in; English where it is missing."""
        text = self._texts.get(key) or _read(FIRST).get(key) or key
        return _NAME.sub(lambda m: str(given.get(m[1], m[0])), text)

    def code(self, kind: str, code: str, label: str) -> str:
        """Return a code in this language, else the catalogue's label."""
        found = self._codes.get(kind, {}).get(code)
        return found if isinstance(found, str) else label

    def said(self, text: str) -> str:
        """Return what the service says in this language.

        It must be the catalogue's own to the letter, or put together of such by a pattern
        that is known. A changed text stays English: better that than a warning which no
        longer holds. Several texts in one are told apart at the end of a sentence.
        """
        if self.language == FIRST:
            return text  # it is what the service speaks
        return self._told(text, _MOST_IN_ONE) or text

    def _told(self, text: str, most: int) -> str | None:
        whole = self._made.tell(text) or self._with_part(text)
        if whole is not None or most == 1:
            return whole
        for end in re.finditer(r"\. ", text):
            first = self._told(text[: end.start() + 1], 1)
            rest = first and self._told(text[end.end() :], most - 1)
            if rest:
                return f"{first} {rest}"
        return None

    def _known(self, text: str) -> str | None:
        return self._sayings.get(sha256(text.encode()).hexdigest()[:_DIGITS])

    def _with_part(self, text: str) -> str | None:
        """A text of the catalogue that names a part."""
        for label, code in self._parts.items():
            if label in text and (found := self._known(text.replace(label, "{part}"))):
                return found.replace("{part}", self.code("components", code, label))
        return None

    @cached_property
    def _made(self) -> Made:
        patterns = _read_if_any(f"{self.language}-made")
        return Made(patterns, self._known, self._codes, self._parts)


def _folder() -> Path:
    return place_of("phone") / "words"


@cache
def _read(language: str) -> Mapping[str, str]:
    texts = json.loads((_folder() / f"{language}.json").read_text("utf-8"))
    return {key: text for key, text in texts.items() if isinstance(text, str)}


@cache
def _read_if_any(name: str) -> Mapping[str, Any]:
    path = _folder() / f"{name}.json"
    found: Mapping[str, Any] = json.loads(path.read_text("utf-8")) if path.is_file() else {}
    return found
