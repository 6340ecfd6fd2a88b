"""An answer as text that a tired person can act on in the dark.

In this order: what can hurt, what to do next and why, the steps after it, what the
readings mean, what is likely wrong, what worked for others, what only gets you by, and
what all of it rests on.
"""

import re
from collections.abc import Mapping
from typing import Any

from mendpool_field.layout import (
    clean,
    command,
    figure,
    items,
    number,
    pages,
    para,
    part,
    section,
    share,
    texts,
    words,
)

Shown = Mapping[str, Any]
_CAUSES_SHOWN = 5
_MOSTLY = 0.5
_FIXES_SHOWN = 5
_FACTORS_SHOWN = 3
_RESULTS_EXPLAINED = 5
_KINDS = {"test": "Test", "fix": "Mend", "prove": "Prove", "call": "Call"}


def answer_text(answer: Shown, width: int) -> str:
    """Return an answer as text of `width` columns; only a command to type may be wider."""
    return pages(
        [
            section("TAKE CARE", _cautions(answer, width)),
            *_plan(answer, width),
            section("READINGS", [*_understood(answer, width), *_readings(answer, width)]),
            section("ODDS", _odds(answer, width)),
            section("WHAT WORKED FOR OTHERS", _fixes(answer, width)),
            section("ONLY TO GET BY", _get_bys(answer, width)),
            section("WHAT THIS RESTS ON", _evidence(answer, width)),
        ]
    )


def judged_text(judged: Shown, width: int) -> str:
    """Return judged readings as text."""
    return pages(
        [
            section("TAKE CARE", _cautions(judged, width)),
            section("READINGS", _readings(judged, width)),
        ]
    )


def _cautions(answer: Shown, width: int) -> list[str]:
    lines: list[str] = []
    for caution in items(answer, "cautions"):
        says, source = clean(caution.get("says")), clean(caution.get("source"))
        topic = words(caution.get("code")).upper()
        told = f"{topic}: {says}" + (f" — {source}" if source else "")
        lines += para(told, width, first="! ", rest="  ")
    return lines


def _plan(answer: Shown, width: int) -> list[list[str]]:
    steps = items(answer, "plan")
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
    title, why = _title_and_why(step)
    lines = para(f"{_kind(step)}: {title}{_minutes(step)}", width, first="1. ")
    for label, told in (("How", step.get("how")), ("Expect", step.get("expect")), ("Why", why)):
        if told:
            lines += para(f"{label}: {clean(told)}", width, first="   ")
    topics = ", ".join(words(topic) for topic in texts(step, "cautions"))
    if topics:
        lines += para(f"Careful: {topics}.", width, first="   ")
    return [*lines, *_then_type(step, width)]


def _then_type(step: Shown, width: int) -> list[str]:
    """Give the very words to type for each way the step can come out."""
    lines: list[str] = []
    check = clean(step.get("check"))
    results = _results(step)
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


def _results(step: Shown) -> list[tuple[str, str]]:
    found = step.get("results")
    pairs = [r for r in found if isinstance(r, list | tuple)] if isinstance(found, list) else []
    return [(clean(r[0]), clean(r[1])) for r in pairs if len(r) >= 2]


def _later_step(place: int, step: Shown, width: int) -> list[str]:
    return para(f"{_kind(step)}: {clean(step.get('says'))}", width, first=f"{place}. ")


def _kind(step: Shown) -> str:
    return _KINDS.get(clean(step.get("do")), words(step.get("do")).capitalize() or "Do")


def _title_and_why(step: Shown) -> tuple[str, str]:
    """Return what the step is called, and the rest of what is said of it."""
    says = clean(step.get("says"))
    if step.get("check"):
        # It begins with the check's own name and its minutes; the reason follows.
        named = re.fullmatch(r"(.+?): about [\d.]+ min\.\s*(.*)", says)
        return (named[1], named[2]) if named else (words(step["check"]), says)
    done = [words(step[key]) for key in ("component", "action") if step.get(key)]
    return (", ".join(done), says) if done else (says, "")


def _minutes(step: Shown) -> str:
    minutes = number(step, "minutes")
    return f" (about {figure(minutes)} min)" if minutes is not None else ""


_NOTHING_HEARD = (
    "Nothing that it does was recognised in your words. Say it otherwise, or look a word up "
    "with mendpool symptoms and add --symptom CODE."
)


def _understood(answer: Shown, width: int) -> list[str]:
    """Say what the complaint was taken for, so that nothing is guessed in silence."""
    heard = [
        words(symptom.get("code")) + ("" if symptom.get("from") == "said" else _sure(symptom))
        for symptom in items(answer, "symptoms")
    ]
    lines = para(f"Taken as: {'; '.join(heard)}.", width, first="  ") if heard else []
    if answer.get("symptoms") == [] and not answer.get("readings"):
        lines = para(_NOTHING_HEARD, width, first="  ")
    absent = [words(code) for code in texts(answer, "not_symptoms")]
    if absent:
        lines += para(f"Not: {'; '.join(absent)}.", width, first="  ")
    mended = part(part(answer, "understood"), "mended")
    if mended:
        read = ", ".join(
            f"“{clean(typed)}” as {clean(meant)}" for typed, meant in mended.items()
        )
        lines += para(f"Read {read}.", width, first="  ")
    return lines


def _sure(symptom: Shown) -> str:
    source = words(symptom.get("from"))
    return f" (from the {source})" if source else ""


def _readings(answer: Shown, width: int) -> list[str]:
    lines: list[str] = []
    for reading in items(answer, "readings"):
        lines += _reading(reading, width)
    for pair in items(answer, "together"):
        if pair.get("says"):
            lines += para(f"Together: {clean(pair['says'])}", width, first="  ")
    return lines


def _reading(reading: Shown, width: int) -> list[str]:
    where = f"{words(reading.get('quantity'))}, {words(reading.get('point'))}"
    if reading.get("which") is not None:
        where += f" {words(reading['which'])}"
    if reading.get("condition"):
        where += f", {words(reading['condition'])}"
    sign = {"over": "over ", "under": "under ", "about": "about "}.get(
        clean(reading.get("sign")), ""
    )
    value = f"{sign}{figure(number(reading, 'value'))} {_unit(reading)}".strip()
    verdict = clean(reading.get("verdict")).upper() or "UNJUDGED"
    lines = para(f"{where}: {value} — {verdict}", width, first="* ")
    band = _band(reading)
    source = clean(reading.get("source"))
    if band or source:
        told = f"{band} — {source}" if band and source else band or source
        lines += para(told, width, first="  ")
    for key in ("means", "said"):
        if reading.get(key):
            lead = "Understood: " if key == "said" else ""
            lines += para(f"{lead}{clean(reading[key])}", width, first="  ")
    return [*lines, *_beside(reading, width)]


def _beside(reading: Shown, width: int) -> list[str]:
    """How steady it was, and what good ones read."""
    lines: list[str] = []
    steady = part(reading, "steady")
    if steady:
        told = f"{clean(steady.get('says'))} ({clean(steady.get('source'))})"
        lines += para(told, width, first="  ")
    for good in items(reading, "compared"):
        # Where the verdict rests on it, `means` has said it already.
        if good.get("against") != reading.get("against"):
            lines += para(f"Beside it: {clean(good.get('says'))}", width, first="  ")
    return lines


def _unit(reading: Shown) -> str:
    unit = clean(reading.get("unit"))
    return "" if unit == "1" else unit


def _band(reading: Shown) -> str:
    low, high, unit = number(reading, "low"), number(reading, "high"), _unit(reading)
    if low is not None and high is not None:
        return f"Right is {figure(low)} to {figure(high)} {unit}".rstrip()
    if low is not None:
        return f"Right is {figure(low)} {unit} or more".replace("  ", " ")
    if high is not None:
        return f"Right is up to {figure(high)} {unit}".rstrip()
    return ""


def _odds(answer: Shown, width: int) -> list[str]:
    causes = items(answer, "causes")
    named = [cause for cause in causes if cause.get("component")][:_CAUSES_SHOWN]
    other = [cause for cause in causes if not cause.get("component")][:1]
    lines: list[str] = []
    for cause in [*named, *other]:
        label = clean(cause.get("says")) or ", ".join(
            words(cause[k]) for k in ("component", "failure") if cause.get(k)
        )
        remark = ""
        catalogue_share = number(cause, "catalogue_share")
        if cause.get("component") and catalogue_share is not None and catalogue_share > _MOSTLY:
            remark = " (mostly catalogue)"
        lead = f"{share(number(cause, 'probability')):>9}  "
        lines += para(f"{label or 'something else'}{remark}", width, first=lead)
        factors = [_factor(f) for f in items(cause, "factors")[:_FACTORS_SHOWN]]
        if factors:
            lines += para("; ".join(f for f in factors if f), width, first=" " * len(lead))
    return lines


def _factor(factor: Shown) -> str:
    times = number(factor, "times")
    return f"{words(factor.get('of'))} ×{figure(times)}" if times is not None else ""


def _fixes(answer: Shown, width: int) -> list[str]:
    fixes = items(answer, "fixes")
    tried = [fix for fix in fixes if number(fix, "tried")]
    if fixes and not tried:
        return para(
            "No one has reported a fix tried on a fault like yours yet.", width, first="  "
        )
    lines: list[str] = []
    for fix in tried[:_FIXES_SHOWN]:
        name = f"{words(fix.get('component'))}, {words(fix.get('action'))}"
        lines += para(f"{name}: {clean(fix.get('says'))}", width, first="* ")
        lasting = clean(part(fix, "holding_12_months").get("says"))
        if lasting:
            lines += para(lasting, width, first="  ")
    return lines


def _get_bys(answer: Shown, width: int) -> list[str]:
    held = items(answer, "get_bys")
    if not held:
        return []
    lines = para(
        "None of these mends anything, and some take a protection away. At your own risk, "
        "watched all the time, and undone as soon as it can be.",
        width,
        first="! ",
        rest="  ",
    )
    for way in held:
        told = f"{words(way.get('component'))}, {words(way.get('action'))}"
        worked, tried, people = (number(way, k) for k in ("worked", "tried", "people"))
        if worked is not None and tried is not None:
            told += f": ran {figure(worked)} of the {figure(tried)} times it was tried"
            told += f", by {figure(people)} people" if people is not None else ""
        lines += para(f"{told}.", width, first="* ")
        if way.get("protection_defeated"):
            lines += para("It leaves a protection out of action.", width, first="  ")
        for label, key in (("Risk", "risk"), ("To undo", "restore")):
            if way.get(key):
                lines += para(f"{label}: {clean(way[key])}", width, first="  ")
    return lines


def _evidence(answer: Shown, width: int) -> list[str]:
    evidence = part(answer, "evidence")
    if not evidence:
        return []
    searched = number(evidence, "reports_searched") or 0
    similar = number(evidence, "similar") or 0
    if evidence.get("from_catalogue_only") or not similar:
        told = "The trade catalogue alone: no report of a case like this one"
        told += f" among {figure(searched)}." if searched else "."
        return para(told, width, first="  ")
    people = number(evidence, "contributors") or 0
    people_told = "one person" if people == 1 else f"{figure(people)} people"
    reports = "One report" if similar == 1 else f"{figure(similar)} reports"
    told = f"{reports} of cases like this one, from {people_told}; {figure(searched)} searched."
    return para(told, width, first="  ")
