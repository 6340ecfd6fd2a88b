"""Finds what has a shape: e-mail, links, handles, numbers that belong to somebody.

Every pattern is bounded and begins where no longer run of its own characters can begin, so
that a long run of any character costs one look a character.
"""

import re
from collections.abc import Iterator

from mendpool.core.privacy.lists import Known

Found = tuple[int, int, str]
"""Start, end, kind."""

_USER = r"(?<![\w.%+-])[\w.%+-]{1,64}"
_AT = r"(?:\(at\)|\[at\]|\bat\b)"
_DOT = r"(?:\(dot\)|\[dot\]|\bdot\b)"
_EMAILS = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"{_USER}@[a-z0-9-]{{1,63}}(?:\.[a-z0-9-]{{1,63}}){{1,4}}",
        rf"{_USER} ?{_AT} ?[a-z0-9-]{{1,63}}(?: ?{_DOT} ?[a-z]{{2,6}}){{1,2}}(?!\w)",
    )
)
_REST = r"[^\s<>\"\[\]]"
_NAME = r"(?<![\w.@/-])[a-z0-9-]{1,63}"
_TOP = r"(?:com|org|net|info|biz|co\.[a-z]{2})"
_LINKS = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"\bhttps?://{_REST}{{1,2000}}",
        rf"(?<![\w.@/-])www\.{_REST}{{1,500}}",
        rf"{_NAME}(?:\.[a-z0-9-]{{2,63}}){{0,3}}\.{_TOP}(?![\w-])(?:/{_REST}{{0,500}})?",
        rf"{_NAME}\.(?:me|ly|be|gl|io|gg)/{_REST}{{2,500}}",
    )
)
_JOINED = re.compile(r"\.[^\s<>\"\[\]]")  # all but the first pattern have such a stop
_HANDLE = re.compile(r"(?<![\w.@/])@([a-z_][\w.]{1,30})(?!\w)", re.IGNORECASE)

_ITS_NUMBER = r"(?: (?:no|nr|num|number|card|plate)\b)\.?"
_IS = r"[ :#.]{0,3}(?:is |was )?"
_VALUE = r"(?P<value>(?=[a-z/-]{0,6}\d)[a-z0-9][a-z0-9/-]{2,23}(?: \d{1,6}[a-z]?){0,3})(?!\w)"
_OWN_NUMBER = re.compile(
    r"(?<!\w)(?:(?:serial|s/n|chassis|frame|engine|meter|policy|passport|account|acct|a/c|"
    r"registration|reg|id|nin|licence|license|card|membership|till|national id|vin|iban)"
    + _ITS_NUMBER
    + r"|s/n|serial|vin|iban|passport|national id)"
    + _IS
    + _VALUE,
    re.IGNORECASE,
)
_PAPER_NUMBER = re.compile(
    r"(?<!\w)(?:customer|invoice|order|job|docket|receipt|ticket)" + _ITS_NUMBER + _IS + _VALUE,
    re.IGNORECASE,
)
_PLATE = re.compile(
    r"(?<!\w)(?:number ?plate|licen[cs]e plate|(?:plate|rego?|registration)(?: no| number)?|"
    r"registered(?: as)?)"
    + _IS
    + r"(?P<value>[a-z]{1,3}[ -]?\d{2,4}[ -]?[a-z]{0,3}|\d{1,4}[ -]?[a-z]{2,3}[ -]?\d{0,4})"
    + r"(?!\w)",
    re.IGNORECASE,
)
_LETTERS = re.compile(r"[a-z]+")


def emails(text: str) -> Iterator[Found]:
    """Give e-mail addresses, written or said ("at", "dot")."""
    written, said = _EMAILS
    if "@" in text:
        for match in written.finditer(text):
            yield match.start(), match.end(), "email"
    if "dot" in text.lower():
        for match in said.finditer(text):
            yield match.start(), match.end(), "email"


def links(text: str) -> Iterator[Found]:
    """Give links; the stop that ends the sentence is no part of one."""
    if "//" in text or _JOINED.search(text):
        for pattern in _LINKS:
            for match in pattern.finditer(text):
                yield match.start(), _without_stop(match), "link"


def handles(text: str, known: Known) -> Iterator[Found]:
    """Give handles such as ``@somebody``; ``@load`` is none."""
    if "@" in text:
        for match in _HANDLE.finditer(text):
            if not _is_load(match[1].lower().rstrip("."), known):
                yield match.start(), _without_stop(match), "handle"


def own_numbers(text: str, known: Known) -> Iterator[Found]:
    """Give serial, account and registration numbers, behind the word that says so."""
    for match in _OWN_NUMBER.finditer(text):
        yield *match.span("value"), "number"
    for match in _PLATE.finditer(text):
        letters = _LETTERS.findall(match["value"].lower())
        # "plate 230 kva" is the nameplate.
        if any(len(word) > 1 and not known.has(word) for word in letters):
            yield *match.span("value"), "number"


def paper_numbers(text: str) -> Iterator[Found]:
    """Give the numbers of invoices, orders, jobs."""
    for match in _PAPER_NUMBER.finditer(text):
        yield *match.span("value"), "number"


def _is_load(word: str, known: Known) -> bool:
    """Say whether it is "@load" or "@noload": at what the figure before was read."""
    return any(
        known.has(word.removeprefix(how)) for how in ("", "no", "full", "half") if word != how
    )


def _without_stop(match: re.Match[str]) -> int:
    return match.start() + len(match.group().rstrip(".,;:!?)'"))
