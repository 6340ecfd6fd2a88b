"""Finds telephone numbers: by a cue, or by a plus and a country's own rules."""

import re
from collections.abc import Iterator

from mendpool.core.privacy.cues import PHONE_AFTER, PHONE_CUES, PHONE_FILLERS, PHONE_HINTS
from mendpool.core.privacy.patterns import Found

_DIALLED = re.compile(r"(?<![\w+@/.,-])\+?\(?\d(?:[ ().\-/]{0,3}\d){6,14}(?!\w|[.,]\d)")
_TAKEN_OUT = re.compile(r"\[[a-z]+\]")
_WORD = re.compile(r"[^\W\d_]+|\d+")
_GROUPS = re.compile(r"\d+")
_BEFORE = 60
_AFTER = 16
_FILLERS_MAX = 6
_SURE_DIGITS = 9
_GROUPS_ALONE = 3
"""A number that the text begins with, in so many groups, is no count and no size."""
_NAME_WORDS = 2
"""Whom to ring stands between the cue and the number: "ring [name] on …"."""


def sure_phones(text: str) -> Iterator[Found]:
    """Give the numbers that begin with a plus, or that a word leads to ("ring me on")."""
    for match in _DIALLED.finditer(text):
        said = match.group()
        digits = _digits(said)
        if said.startswith("+"):
            sure = digits >= _SURE_DIGITS or _valid(said, None)
        else:
            sure = _looks_dialled(said, digits)
        if sure and (said.startswith("+") or _is_said(text, match)):
            yield match.start(), match.end(), "phone"


def likely_phones(text: str, region: str | None) -> Iterator[Found]:
    """Give the valid numbers of a country near a weaker word ("on", "at").

    A bare run of digits stays: it is as likely to be a part. One in groups, as people write
    a telephone number, goes if it is a mobile's.

    Args:
        region: the pool's country as ISO 3166 letters; without it there are none.
    """
    if region is None:
        return
    for match in _DIALLED.finditer(text):
        said = match.group()
        before = _words_before(text, match.start())
        hinted = bool(before) and before[-1] in PHONE_HINTS
        if not _looks_dialled(said, _digits(said)):
            continue
        alone = text[max(0, match.start() - 2) : match.start()].strip() in {"", "."}
        leads = alone and not before[-1:] and len(_GROUPS.findall(said)) >= _GROUPS_ALONE
        likely = hinted or leads or _is_spaced(said)
        if likely and _valid(said, region, mobile=not (hinted or leads)):
            yield match.start(), match.end(), "phone"


def _is_spaced(said: str) -> bool:
    """Say whether it is in groups, as a telephone number is written."""
    return said.startswith("(") or (
        said.startswith("0") and " " in said[2:] and said[1:2].isdigit()
    )


def _digits(said: str) -> int:
    return sum(c.isdigit() for c in said)


def _is_said(text: str, match: re.Match[str]) -> bool:
    before = _words_before(text, match.start())
    after = text[match.end() : match.end() + _AFTER].lower().lstrip(" ,.-()")
    return _cued(before) or after.startswith(PHONE_AFTER)


def _words_before(text: str, place: int) -> list[str]:
    """The words before a place; what was taken out already is a number or a stranger."""
    near = text[max(0, place - _BEFORE) : place].lower().replace("[phone]", " 0 ")
    return _WORD.findall(_TAKEN_OUT.sub(" someone ", near))


def _cued(before: list[str]) -> bool:
    """Say whether the words before lead to a cue over fillers, numbers and a name or two."""
    strangers = 0
    between: set[str] = set()
    for word in before[: -_FILLERS_MAX - 2 : -1]:
        if word in PHONE_CUES:
            return True
        if word.isdigit():
            # Another number stands between, so that was the one to ring, unless it is a
            # choice of two.
            if not between <= {"or", "and"}:
                return False
            continue
        between.add(word)
        if word not in PHONE_FILLERS:
            strangers += 1
            if strangers > _NAME_WORDS:
                return False
    return False


def _looks_dialled(said: str, digits: int) -> bool:
    """Tell a number to dial from a row of readings such as "2.11 2.12 2.05"."""
    groups = _GROUPS.findall(said.replace("(0)", ""))
    if "." in said and " " in said:
        return False
    if any(len(group) == 1 for group in groups[1:]):
        return False
    return digits >= _SURE_DIGITS or len(groups) <= 2 or groups[0].startswith("0")


def _valid(said: str, region: str | None, *, mobile: bool = False) -> bool:
    # Half the time of starting the command would go into its tables, which few need.
    import phonenumbers  # noqa: PLC0415

    try:
        number = phonenumbers.parse(said, region)
        if not phonenumbers.is_valid_number(number):
            return False
        return not mobile or phonenumbers.number_type(number) in {
            phonenumbers.PhoneNumberType.MOBILE,
            phonenumbers.PhoneNumberType.FIXED_LINE_OR_MOBILE,
        }
    except phonenumbers.NumberParseException:
        return False
