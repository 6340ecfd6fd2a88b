"""The plan of an answer as text: what to do next, with the words to type for each result."""

import re
from collections.abc import Mapping
from typing import Any

from mendpool_field.layout import (
    clean,
    command,
    figure,
    items,
    number,
    para,
    section,
    sourced,
    texts,
    words,
)

Shown = Mapping[str, Any]
_RESULTS_EXPLAINED = 5
_KINDS = {"test": "Test", "fix": "Mend", "prove": "Prove", "call": "Call"}


def safe_first(answer: Shown, width: int) -> list[str]:
    """Return what must be made safe before anything else, before even the cautions."""
    lines: list[str] = []
    for step in items(answer, "plan"):
        if step.get("do") == "safe":
            source = clean(step.get("source"))
            says = sourced(clean(step.get("says")), source)
            lines += para(says, width, first="! ", rest="  ")
            lines += para(clean(step.get("how")), width, first="  ")
    return lines


def plan_blocks(answer: Shown, width: int) -> list[list[str]]:
    """Return the next step in full, the ones after it short, and the minutes in all."""
    steps = [step for step in items(answer, "plan") if step.get("do") != "safe"]
    if not steps:
        return []
    blocks = [section("DO THIS NEXT", _next_step(steps[0], width))]
    after = [
        line for n, step in enumerate(steps[1:], 2) for line in _later_step(n, step, width)
    ]
    blocks.append(section("AND AFTER THAT", after))
    expected = number(answer, "expected_minutes")
    if expected is not None and blocks:
        told = f"About {expected:.0f} min in all, as far as can be told."
        blocks.append([*para(told, width), ""])
    return blocks


def _next_step(step: Shown, width: int) -> list[str]:
    return [*step_lines(step, width, lead="1. "), *_then_type(step, width)]


def step_lines(step: Shown, width: int, *, lead: str) -> list[str]:
    """Return one step in full: what, how, what to expect, why, and what it takes."""
    title, why = title_and_why(step)
    lines = para(f"{kind_of(step)}: {title}{_minutes(step)}", width, first=lead)
    for label, told in (
        ("Wait", _wait(step)),
        ("Comes off", words(step.get("opens"))),
        ("How", step.get("how")),
        ("Expect", step.get("expect")),
        ("Why", why),
        ("Or", step.get("or_else")),
    ):
        if told:
            lines += para(f"{label}: {clean(told)}", width, first="   ")
    return [*lines, *_careful(step, width)]


def _careful(step: Shown, width: int) -> list[str]:
    """Name what a step is dangerous by: a later one's words stand nowhere else yet."""
    topics = ", ".join(words(topic) for topic in topics_of(step))
    return para(f"Careful: {topics}.", width, first="   ") if topics else []


def topics_of(step: Shown) -> list[str]:
    """Return the topics of a step's cautions, without what picks one of their texts."""
    return list(dict.fromkeys(topic.partition(":")[0] for topic in texts(step, "cautions")))


def _then_type(step: Shown, width: int) -> list[str]:
    """Give the very words to type for each way the step can come out."""
    lines: list[str] = []
    check = clean(step.get("check"))
    results = results_of(step)
    for code, told in results:
        # Of many results only what was seen is told; what it means comes with the next answer.
        says = told.partition(": ")[0] if len(results) > _RESULTS_EXPLAINED else told
        lines += para(f"If: {says}", width, first="   ")
        saw = f"{check}={code}"
        lines.append(
            command(
                f"mendpool ask --again --saw {saw}", width, short=f"mendpool ask -a -s {saw}"
            )
        )
    component, action = clean(step.get("component")), clean(step.get("action"))
    if step.get("do") == "fix" and component and action:
        for says, verb, option, result in (
            ("If it is cured", "report", "-a -t", "fixed"),
            ("If it is not", "ask", "-a -t", "no-change"),
        ):
            tried = f'"{component} {action} {result}"'
            lines += para(f"{says}:", width, first="   ")
            lines.append(
                command(
                    f"mendpool {verb} --again --tried {tried}",
                    width,
                    short=f"mendpool {verb} {option} {tried}",
                )
            )
    return lines


def results_of(step: Shown) -> list[tuple[str, str]]:
    """Return the codes of a check's results, each with what it shows and means."""
    found = step.get("results")
    pairs = [r for r in found if isinstance(r, list | tuple)] if isinstance(found, list) else []
    return [(clean(r[0]), clean(r[1])) for r in pairs if len(r) >= 2]


def _later_step(place: int, step: Shown, width: int) -> list[str]:
    told = para(f"{kind_of(step)}: {clean(step.get('says'))}", width, first=f"{place}. ")
    return [*told, *_careful(step, width)]


def kind_of(step: Shown) -> str:
    """Return in a word what kind of step it is."""
    return _KINDS.get(clean(step.get("do")), words(step.get("do")).capitalize() or "Do")


def title_and_why(step: Shown) -> tuple[str, str]:
    """Return what the step is called, and the rest of what is said of it."""
    says = clean(step.get("says"))
    if step.get("check"):
        # It begins with the check's own name and its minutes; the reason follows.
        named = re.fullmatch(r"(.+?): about [\d.]+ min\.\s*(.*)", says)
        return (named[1], named[2]) if named else (words(step["check"]), says)
    done = [words(step[key]) for key in ("component", "action") if step.get(key)]
    # It begins with the part's own name and what is done to it; the reason follows.
    named = re.fullmatch(r"([^.:]+: [^.:]+)\.\s*(.*)", says) if done else None
    if named:
        return named[1], named[2]
    return (", ".join(done), says) if done else (says, "")


def _wait(step: Shown) -> str:
    """Say what a part that is not at hand costs besides the work."""
    minutes = number(step, "wait")
    if minutes is None:
        return clean(step.get("wait"))
    if not minutes:
        return ""
    long = f"{minutes / 60:.0f} h" if minutes >= 120 else f"{minutes:.0f} min"
    return f"a part is not at hand; getting it counts as about {long} more."


def _minutes(step: Shown) -> str:
    minutes = number(step, "minutes")
    return f" (about {figure(minutes)} min)" if minutes is not None else ""
