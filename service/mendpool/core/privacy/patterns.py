"""Finds what has a shape: e-mail, links, positions, handles, numbers of a person, days.

Every pattern is bounded and begins where no longer run of its own characters can begin, so
that a long run of any character costs one look a character.
"""

import re
from collections.abc import Iterator

from mendpool.core.privacy.lists import Known

Found = tuple[int, int, str]

_EMAIL = re.compile(
    r"(?<![\w.%+-])[\w.%+-]{1,64}@[a-z0-9-]{1,63}(?:\.[a-z0-9-]{1,63}){1,4}", re.IGNORECASE
)
_EMAIL_SAID = re.compile(
    r"(?<![\w.%+-])[\w.%+-]{1,64} ?(?:\(at\)|\[at\]|\bat\b) ?[a-z0-9-]{1,63} ?"
    r"(?:\(dot\)|\[dot\]|\bdot\b) ?[a-z]{2,6}(?: ?(?:\(dot\)|\bdot\b) ?[a-z]{2,3})?(?!\w)",
    re.IGNORECASE,
)
_LINK = re.compile(
    r"\bhttps?://[^\s<>\"\[\]]{1,2000}|(?<![\w.@/-])www\.[^\s<>\"\[\]]{1,500}"
    r"|(?<![\w.@/-])[a-z0-9-]{2,63}(?:\.[a-z0-9-]{2,63}){0,3}\.(?:com|org|net|info|biz|co\.[a-z]{2})"
    r"(?![\w-])(?:/[^\s<>\"\[\]]{0,500})?"
    r"|(?<![\w.@/-])[a-z0-9-]{1,63}\.(?:me|ly|be|gl|io|gg)/[^\s<>\"\[\]]{2,500}",
    re.IGNORECASE,
)
_COORDINATE = r"[-+]?\d{1,3}\.\d{%d,12}"
_POSITION = re.compile(
    # Hemisphere or degree signs; then five decimals (a metre) or a sign with four; then a cue.
    r"(?<![\w.-])[-+]?\d{1,3}(?:\.\d{1,10})? ?°(?: ?\d{1,2}(?:\.\d{1,6})? ?['′’](?: ?\d{1,2}(?:\.\d{1,4})? ?"
    r"(?:\"|″|''))?)? ?[nsew](?![a-z])(?:[ ,;]{1,3}[-+]?\d{1,3}(?:\.\d{1,10})? ?°(?: ?\d{1,2}(?:\.\d{1,6})?"
    r" ?['′’](?: ?\d{1,2}(?:\.\d{1,4})? ?(?:\"|″|''))?)? ?[nsew](?![a-z]))?"
    r"|(?<![\w.-])[ns] ?\d{1,2}\.\d{3,10}[ ,;]{1,3}[ew] ?\d{1,3}\.\d{3,10}(?!\w)"
    r"|(?<![\w.-])\d{1,2}\.\d{3,10} ?[ns][ ,;]{1,3}\d{1,3}\.\d{3,10} ?[ew](?!\w)"
    r"|(?<![\w.-])" + _COORDINATE % 5 + r"[ ,;]{1,3}" + _COORDINATE % 5 + r"(?![\w.])"
    r"|(?<![\w.-])-\d{1,3}\.\d{4,12}[ ,;]{1,3}[-+]?\d{1,3}\.\d{4,12}(?![\w.])"
    r"|(?<![\w.-])\d{1,3}\.\d{4,12}[ ,;]{1,3}-\d{1,3}\.\d{4,12}(?![\w.])"
    r"|(?<![\w.-])(?<=gps |pin |lat |ion )" + _COORDINATE % 2 + r"[ ,;]{1,3}(?:l(?:on|ng) )?"
    + _COORDINATE % 2 + r"(?![\w.])"
    r"|(?<![\w.+-])[23456789cfghjmpqrvwx]{4,8}\+[23456789cfghjmpqrvwx]{2,3}(?![\w+])"
    r"|(?<![\w/])///[a-z]{3,20}\.[a-z]{3,20}\.[a-z]{3,20}(?![\w.])",
    re.IGNORECASE,
)
_HANDLE = re.compile(r"(?<![\w.@/])@([a-z_][\w.]{1,30})(?!\w)", re.IGNORECASE)

_VALUE = r"(?P<value>(?=[a-z/-]{0,6}\d)[a-z0-9][a-z0-9/-]{2,23}(?: \d{1,6}[a-z]?){0,3})(?![\w])"
_ITS_NUMBER = r"(?: (?:no|nr|num|number|card|plate)\b)\.?"
_OWN_NUMBER = re.compile(
    r"(?<!\w)(?:(?:serial|s/n|chassis|frame|engine|meter|policy|passport|account|acct|a/c|"
    r"registration|reg|id|nin|licence|license|card|membership|till|national id|vin|iban)"
    + _ITS_NUMBER
    + r"|s/n|serial|vin|iban|passport|national id)[ :#.]{0,3}(?:is |was )?" + _VALUE,
    re.IGNORECASE,
)
_PAPER_NUMBER = re.compile(
    r"(?<!\w)(?:customer|invoice|order|job|docket|receipt|ticket)"
    + _ITS_NUMBER + r"[ :#.]{0,3}(?:is |was )?" + _VALUE,
    re.IGNORECASE,
)
_PLATE = re.compile(
    r"(?<!\w)(?:number ?plate|licen[cs]e plate|plate(?: no| number)?|rego?(?: no| number)?|registration"
    r"(?: no| number)?|registered(?: as)?)[ :#.]{0,3}(?:is |was )?"
    r"(?P<value>[a-z]{1,3}[ -]?\d{2,4}[ -]?[a-z]{0,3}|\d{1,4}[ -]?[a-z]{2,3}[ -]?\d{0,4})(?!\w)",
    re.IGNORECASE,
)

_LETTERS = re.compile(r"[a-z]+")

_MONTHS = (
    "january|february|march|april|june|july|august|september|october|november|december|"
    "jan|feb|mar|apr|jun|jul|aug|sept?|oct|nov|dec"
)
_DAY = r"(?P<day>(?:0?[1-9]|[12]\d|3[01])"
_SAID_DAYS = tuple(
    re.compile(pattern)
    for pattern in (
        r"(?i:(?<![\w/.-])" + _DAY + r"(?:st|nd|rd|th)?)(?: of)?[ -](?:" + _MONTHS + r")(?!\w))",
        r"(?i:(?<![\w/.-])" + _DAY + r"(?:st|nd|rd|th))(?: of)? may(?!\w))",
        r"(?<![\w/.-])" + _DAY + r") May(?!\w)",
        r"(?i:(?<!\w)(?<!\[day\] )(?:" + _MONTHS + r") (?:the )?" + _DAY + r"(?:st|nd|rd|th)?)(?![\w/]|[.:,]\d))",
        r"(?<!\w)(?<!\[day\] )May (?:the )?" + _DAY + r"(?:st|nd|rd|th)?)(?![\w/]|[.:,]\d)",
    )
)
_WRITTEN_DAYS = tuple(
    re.compile(pattern)
    for pattern in (
        r"(?<![\w-])(?:19|20)\d{2}[-/](?:0[1-9]|1[0-2])[-/]" + _DAY + r")(?!\d)",
        r"(?<![\w/.-])(?P<day>(?:0?[1-9]|[12]\d|3[01])/(?:0?[1-9]|[12]\d|3[01])/(?:19|20)?\d{2})(?![\w/])",
        r"(?<![\w/.-])(?P<day>(?:0?[1-9]|[12]\d|3[01])[.-](?:0?[1-9]|[12]\d|3[01])[.-](?:19|20)\d{2})(?![\w-])",
    )
)


def sure_patterns(text: str, known: Known) -> Iterator[Found]:
    """Give what goes even if a part of it looks like the trade's, the surest kinds first."""
    if "@" in text:
        for match in _EMAIL.finditer(text):
            yield match.start(), match.end(), "email"
    for match in _EMAIL_SAID.finditer(text):
        yield match.start(), match.end(), "email"
    if "." in text:
        for match in _LINK.finditer(text):
            yield match.start(), _without_stop(text, match.start(), match.end()), "link"
    if any(mark in text for mark in ".°+/"):
        for match in _POSITION.finditer(text):
            yield match.start(), match.end(), "position"
    for match in _OWN_NUMBER.finditer(text):
        yield match.start("value"), match.end("value"), "number"
    for match in _PLATE.finditer(text):
        if any(len(w) > 1 and not known.has(w) for w in _LETTERS.findall(match["value"].lower())):
            yield match.start("value"), match.end("value"), "number"
    for pattern in _WRITTEN_DAYS:
        for match in pattern.finditer(text):
            yield match.start("day"), match.end("day"), "day"


def patterns(text: str, known: Known) -> Iterator[Found]:
    """Give what goes only where the trade has no claim: papers, days as said, handles."""
    for match in _PAPER_NUMBER.finditer(text):
        yield match.start("value"), match.end("value"), "number"
    for pattern in _SAID_DAYS:
        for match in pattern.finditer(text):
            yield match.start("day"), match.end("day"), "day"
    if "@" in text:
        for match in _HANDLE.finditer(text):
            if not known.has(match[1].lower().rstrip(".")):
                yield match.start(), _without_stop(text, match.start(), match.end()), "handle"


def _without_stop(text: str, start: int, end: int) -> int:
    """Leave the stop that ends the sentence, not the link."""
    return start + len(text[start:end].rstrip(".,;:!?)'"))
