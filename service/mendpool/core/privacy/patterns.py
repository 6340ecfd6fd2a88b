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
_AT = r"(?:\(at\)|\[at\]|\{at\}|\bat(?: sign)?\b)"
_JOIN = r"(?: (?:dot|underscore|dash|hyphen|minus|plus|punto|ponto) [\w-]{1,30}){0,3}"
_DOT = r"(?:\(dot\)|\[dot\]|\bdot\b)"
_EMAILS = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"{_USER}@[a-z0-9-]{{1,63}}(?:\.[a-z0-9-]{{1,63}}){{1,4}}",
        rf"{_USER}{_JOIN} ?{_AT} ?[a-z0-9-]{{1,63}}(?: ?{_DOT} ?[a-z]{{2,6}}){{1,2}}(?!\w)",
        (
            rf"{_USER} ?(?:\uff20|\(a\)|\(at\)|\[at\]|\{{at\}}|(?-i:\bAT\b)) ?[a-z0-9-]{{1,63}}"
            r"(?:\.[a-z0-9-]{1,63}){0,2}\.(?-i:[a-z]{2,12})(?!\w)"
        ),
        (
            rf"{_USER} ?\b(?:arroba|arobase|chiocciola|klammeraffe|kringel) ?[a-z0-9-]{{1,63}}"
            r"(?: ?(?:\bpunto\b|\bponto\b|\bpoint\b|\bpunkt\b|\.) ?[a-z]{2,12}){1,2}(?!\w)"
        ),
    )
)
_AT_PIECES = ("at)", "at]", "at}", "(a)", "arro", "arob", "chioc", "klamm", "kring")
_AT_SAID = re.compile(
    "|".join([*map(re.escape, _AT_PIECES), r"(?-i:AT)", r"\uff20"]), re.IGNORECASE
)
_REST = r"[^\s<>\"\[\]]"
_NAME = r"(?<![\w.@/-])[a-z0-9-]{1,63}"
_TOP = r"(?:com|org|net|info|biz|co\.[a-z]{2})"
_LINKS = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"\bhttps?://{_REST}{{1,2000}}",
        r"\bhxxps?://\S{1,500}",
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
    r"(?<!\w)(?:number ?plate|licen[cs]e plate|(?:plates?|rego?|registration)(?: no| number)?|"
    r"registered(?: as)?)"
    + _IS
    + r"(?P<value>[a-z]{1,3}[ -]?\d{2,4}[ -]?[a-z]{0,3}|\d{1,4}[ -]?[a-z]{2,3}[ -]?\d{0,4})"
    + r"(?!\w)",
    re.IGNORECASE,
)
_VEHICLE = re.compile(
    # The shape alone is too little: "IP54 AVR" has it.
    r"(?<!\w)(?:towed|towing|parked|car|van|ute|truck|bakkie|lorry|pick-?up|trailer|tractor|"
    r"quad)\b[^.\n]{0,30}?(?<!\w)(?P<value>(?-i:[A-Z]{2}\d{2} ?[A-Z]{3}))(?!\w)",
    re.IGNORECASE,
)
_CALLED_NUMBER = re.compile(
    # Four figures at least: these words alone may mean something else.
    r"(?<!\w)(?:till|paybill|pay bill|policy|membership|sort code|iban|ser\.|invoice|docket|"
    r"receipt|ticket)(?: (?:no|number)\b\.?)?[ :#.]{1,3}(?:is )?"
    r"(?P<value>(?=[a-z]{0,4}[/-]?\d[\d/ -]{3})[a-z0-9][a-z0-9/-]{3,23})(?!\w)"
    r"|(?<!\w)(?:account|acct|a/c|national id|nin|bsb|imei|passport)(?: (?:no|number)\b\.?)?"
    r"[ :#.]{1,3}(?:is )?(?P<own>(?=[a-z]{0,4}[/-]?\d[\d/ -]{2})[a-z0-9][a-z0-9/-]{1,23}"
    r"(?:(?: \d{3,8}(?!\w)){1,3}(?: \d{2}(?!\w| ?(?:[vahw%°]|k\w|mm|rpm|psi|bar)\b))?)?"
    r"(?: [a-z] \d{1,3})?)(?!\w)"
    r"|(?<!\w)serial(?: (?:no|number)\b\.?)?[ :#]{1,3}(?:is )?(?P<made>[a-z]{1,4} \d{4,12})"
    r"(?!\w)"
    r"|(?<!\w)ser\.? (?:no|number)\b\.?[ :#]{0,2}(?:is )?"
    r"(?P<ser>(?=[a-z/-]{0,6}\d)[a-z0-9][a-z0-9/-]{2,23})(?!\w)"
    r"|(?<!\w)sn ?(?:[:#] ?|(?=[a-z]{0,3}\d{5}))(?P<sn>(?=[a-z]{0,4}\d)[a-z0-9][a-z0-9/-"
    r"]{3,23})(?!\w)",
    re.IGNORECASE,
)
_ACCOUNT = re.compile(
    r"(?<![\w.-])(?:[A-Z]{2}\d{2}(?: [A-Z0-9]{4}){3,7}(?: [A-Z0-9]{1,3})?|\d{4}(?:[ -]\d{4}"
    r"){3})(?!\w)"
)
_NAMED_HANDLE = re.compile(
    r"(?<!\w)(?:(?:facebook|fb|insta|instagram|skype|telegram|discord|tiktok|twitter|snapchat|"
    r"reddit|youtube|wechat|username|user name|handle|signal as|whatsapp as)(?: (?:name|id|"
    r"user|is|as)\b)?[ :]{1,3}"
    r"|(?=u/(?!min)))(?P<value>(?:u/)?(?=[a-z_]\w{0,30}(?:[.#_]\w|\d))[a-z_][\w.#]{2,40}|u/\w{3,30})",
    re.IGNORECASE,
)
# What stands in every value of a handle by name.
_IN_HANDLES = re.compile(r"[.#_]\w|\d|u/", re.IGNORECASE)
_LETTERS = re.compile(r"[a-z]+")
_BEHIND = re.compile(r" ([a-z]{1,3})\Z")


def emails(text: str) -> Iterator[Found]:
    """Give e-mail addresses, written or said ("at", "dot")."""
    written, said, *others = _EMAILS
    if "@" in text:
        for match in written.finditer(text):
            yield match.start(), match.end(), "email"
    low = text.lower()
    if "dot" in low:
        for match in said.finditer(text):
            yield match.start(), match.end(), "email"
    for pattern in others if _at_is_said(text, low) else ():
        for match in pattern.finditer(text):
            yield match.start(), match.end(), "email"


def _at_is_said(text: str, low: str) -> bool:
    """Say whether `_AT_SAID` finds anything; of plain letters in a tenth of its time."""
    if text.isascii():
        return "AT" in text or any(piece in low for piece in _AT_PIECES)
    return _AT_SAID.search(text) is not None


def links(text: str) -> Iterator[Found]:
    """Give links; the stop that ends the sentence is no part of one."""
    if "//" in text or _JOINED.search(text):
        for pattern in _LINKS:
            for match in pattern.finditer(text):
                yield match.start(), _without_stop(match), "link"


def handles(text: str, known: Known) -> Iterator[Found]:
    """Give handles such as ``@somebody``; ``@load`` is none."""
    for match in _NAMED_HANDLE.finditer(text) if _IN_HANDLES.search(text) else ():
        yield (
            match.start("value"),
            match.start("value") + len(match["value"].rstrip(".")),
            "handle",
        )
    if "@" in text:
        for match in _HANDLE.finditer(text):
            if not _is_load(match[1].lower().rstrip("."), known):
                yield match.start(), _without_stop(match), "handle"


def own_numbers(text: str, known: Known) -> Iterator[Found]:
    """Give serial, account and registration numbers, behind the word that says so."""
    for match in _ACCOUNT.finditer(text):
        yield match.start(), match.end(), "number"
    for match in _CALLED_NUMBER.finditer(text):
        yield *match.span(match.lastgroup or 0), "number"
    for match in _OWN_NUMBER.finditer(text):
        yield *match.span("value"), "number"
    yield from _plates(text, known)


def _plates(text: str, known: Known) -> Iterator[Found]:
    for match in _VEHICLE.finditer(text):
        start, end = match.span("value")
        if not known.has(text[end - 3 : end].lower()):
            yield start, end, "number"
    for match in _PLATE.finditer(text):
        start, end = match.span("value")
        # "plate KLT 4471 on the trailer": the word behind a plate is none of its letters.
        behind = _BEHIND.search(text, start, end)
        if behind is not None and len(behind[1]) > 1 and known.has(behind[1]):
            end = behind.start()
        letters = _LETTERS.findall(text[start:end].lower())
        # "plate 230 kva" is the nameplate.
        if any(len(word) > 1 and not known.has(word) for word in letters):
            yield start, end, "number"


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
