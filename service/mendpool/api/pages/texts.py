"""The page's texts, the same files its scripts read, and the language somebody wants."""

import json
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from mendpool._places import place_of

FIRST = "en"
_NAME = re.compile(r"\{(\w+)\}")


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

    def __init__(self, language: str) -> None:
        """Speak a language that there is."""
        self.language = language
        self._texts = _read(language)
        self._codes: Mapping[str, Any] = _read_codes(language)

    def t(self, key: str, **given: object) -> str:
        """Return the text of a key with {names} filled in; English where it is missing."""
        text = self._texts.get(key) or _read(FIRST).get(key) or key
        return _NAME.sub(lambda m: str(given.get(m[1], m[0])), text)

    def code(self, kind: str, code: str, label: str) -> str:
        """Return a code in this language, else the catalogue's label."""
        found = self._codes.get(kind, {}).get(code)
        return found if isinstance(found, str) else label


def _folder() -> Path:
    return place_of("phone") / "words"


@cache
def _read(language: str) -> Mapping[str, str]:
    texts = json.loads((_folder() / f"{language}.json").read_text("utf-8"))
    return {key: text for key, text in texts.items() if isinstance(text, str)}


@cache
def _read_codes(language: str) -> Mapping[str, Any]:
    path = _folder() / f"{language}-codes.json"
    found: Mapping[str, Any] = json.loads(path.read_text("utf-8")) if path.is_file() else {}
    return found
