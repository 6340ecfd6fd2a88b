"""The kinds of question a guided dialogue asks: each a generator that is handed the answers.

Each yields what to ask and is sent what was typed. None prints or reads, so a dialogue is a
plain function of its answers: given the same again, it comes to the same place.
"""

from collections.abc import Generator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.vocabulary import nearest_code

Asking = Generator["Step", str, Any]
_KEYS = "123456789acdefghijklmnoprstuvwxyz"
"""Keys of choices; b and q are kept for going back and for stopping."""
_MATCHES = 9
_YES_NO = {"y": "yes", "n": "no"}


@dataclass(frozen=True, slots=True)
class Step:
    """One question.

    Args:
        asks: the question.
        choices: key and words of each choice; empty where text is wanted.
        hint: what Enter does, or how to write it.
        trouble: why the last answer could not be used; empty if it could.
    """

    asks: str
    choices: tuple[tuple[str, str], ...] = ()
    hint: str = "Enter to skip"
    trouble: str = ""


def ask_component(
    catalogue: Catalogue, asks: str, hint: str, offered: Sequence[str] = ()
) -> Asking:
    """Ask for a part by its name or by any word for it; let the person choose if unsure.

    `offered` are parts that are one key away, touched lately.
    """
    keyed = dict(zip(_KEYS, offered[:_MATCHES], strict=False))
    known = catalogue.vocabulary.components
    choices = tuple((key, known[part]) for key, part in keyed.items())
    hint = f"A key, or any word for a part. {hint}" if keyed else hint
    trouble = ""
    while True:
        typed = (yield Step(asks, choices, hint, trouble)).strip()
        if not typed:
            return None
        if typed in keyed:
            return keyed[typed]
        found = _matching(typed, catalogue)
        if len(found) == 1:
            return next(iter(found))
        if found:
            picked = yield from ask_one(
                "Which of these?", found, hint="One key; Enter for none"
            )
            if picked:
                return picked
            trouble = ""
        else:
            trouble = f"No part is known as “{typed}”; try another word for it."


def ask_attempt(
    catalogue: Catalogue, asks: str, hint: str, offered: Sequence[str] = ()
) -> Asking:
    """Ask for one attempt: the part, what was done, what came of it; None for none."""
    v = catalogue.vocabulary
    component = yield from ask_component(catalogue, asks, hint, offered)
    if component is None:
        return None
    action = yield from ask_one(
        f"{v.components[component]}: what was done?", v.actions, hint="One key", needed=True
    )
    result = yield from ask_one("And then?", v.results, hint="One key", needed=True)
    attempt = {"component": component, "action": action, "result": result}
    minutes = yield from ask_minutes("How many minutes did it take?")
    return attempt if minutes is None else attempt | {"minutes": minutes}


def parts_called(word: str, catalogue: Catalogue) -> list[str]:
    """Return the parts that are called exactly so, by code, label or any other word."""
    labels = catalogue.vocabulary.components
    wanted = word.strip().lower()
    code = wanted.replace(" ", "-")
    if code in labels:
        return [code]
    return [c for c, known in _names_of_parts(catalogue).items() if wanted in known]


def _names_of_parts(catalogue: Catalogue) -> dict[str, list[str]]:
    labels = catalogue.vocabulary.components
    return {
        c: [labels[c].lower(), *(a.lower() for a in part.aliases)]
        for c, part in catalogue.components.items()
    }


def _matching(typed: str, catalogue: Catalogue) -> dict[str, str]:
    """Return the parts a word can mean, exact names alone if there is one."""
    labels = catalogue.vocabulary.components
    wanted = typed.lower()
    names = _names_of_parts(catalogue)
    held = parts_called(typed, catalogue) or [
        c for c, known in names.items() if any(wanted in name for name in known)
    ]
    if not held:
        near = nearest_code(wanted, labels)
        held = [near] if near else []
    return {c: labels[c] for c in held[:_MATCHES]}


def ask_one(
    asks: str,
    codes: Mapping[str, str],
    *,
    hint: str = "One key; Enter to skip",
    needed: bool = False,
    keys: str = "",
) -> Asking:
    """Ask for one of some codes: by its key, or by the code itself.

    `keys` are the keys of the choices, where they are not to be numbered.
    """
    keyed = dict(zip(keys, codes, strict=True)) if keys else _keyed(codes)
    choices = tuple((key, codes[code]) for key, code in keyed.items())
    trouble = ""
    while True:
        typed = (yield Step(asks, choices, hint, trouble)).strip().lower()
        if not typed and not needed:
            return None
        picked = keyed.get(typed) or (typed if typed in codes else None)
        # A yes is typed as one, whatever key it has.
        word = _YES_NO.get(typed)
        picked = picked or (word if word in codes else None)
        if picked is not None:
            return picked
        trouble = "Type one of the keys." if typed else "This one is needed."


def ask_yes(asks: str, yes: str, no: str, hint: str) -> Asking:
    """Ask for a yes or a no, each in its words; None for neither."""
    picked = yield from ask_one(asks, {"yes": yes, "no": no}, hint=hint, keys="yn")
    return None if picked is None else picked == "yes"


def ask_some(asks: str, codes: Mapping[str, str]) -> Asking:
    """Ask for any of some codes."""
    keyed = _keyed(codes)
    choices = tuple((key, codes[code]) for key, code in keyed.items())
    trouble = ""
    while True:
        hint = "One key, or more with spaces; Enter to skip"
        typed = (yield Step(asks, choices, hint, trouble)).lower().replace(",", " ").split()
        picked = [keyed.get(key) or (key if key in codes else "") for key in typed]
        if all(picked):
            return list(dict.fromkeys(picked))
        trouble = "Type keys from the list."


def ask_text(asks: str, hint: str = "Enter to skip") -> Asking:
    """Ask for words; Enter for none."""
    return (yield Step(asks, hint=hint)).strip()


def ask_needed_text(asks: str, hint: str, trouble: str = "") -> Asking:
    """Ask for words until there are some."""
    while True:
        typed = (yield Step(asks, hint=hint, trouble=trouble)).strip()
        if typed:
            return typed
        trouble = "This one is needed: a few words will do."


def ask_minutes(asks: str, by_clock: float | None = None) -> Asking:
    """Ask for minutes; Enter takes what the clock says, where it says something."""
    trouble = ""
    hint = "Enter to skip" if by_clock is None else f"Enter: {by_clock:g}, by the clock"
    while True:
        typed = (yield Step(asks, hint=hint, trouble=trouble)).strip().replace(",", ".")
        if not typed:
            return by_clock
        try:
            minutes = float(typed)
        except ValueError:
            minutes = -1.0
        if 0 <= minutes <= 100_000:
            return minutes
        trouble = "A number of minutes, such as 40."


def _keyed(codes: Mapping[str, str]) -> dict[str, str]:
    return dict(zip(_keys(len(codes)), codes, strict=True))


def _keys(count: int) -> list[str]:
    """One key a choice; two where there are more choices than keys."""
    if count <= len(_KEYS):
        return list(_KEYS[:count])
    return [a + b for a in _KEYS for b in _KEYS][:count]


def labels(codes: Sequence[str]) -> dict[str, str]:
    """Return codes with themselves as words."""
    return {code: code.replace("-", " ") for code in codes}
