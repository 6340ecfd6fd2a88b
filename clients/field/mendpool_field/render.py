"""An answer as text that a tired person can act on in the dark.

In this order: what can hurt, what to do next and why, the steps after it, what the
readings mean, what is likely wrong, what worked for others, what only gets you by, and
what all of it rests on.
"""

from collections.abc import Mapping
from typing import Any

from mendpool_field.layout import (
    clean,
    figure,
    items,
    number,
    pages,
    para,
    part,
    section,
    share,
    sourced,
    texts,
    words,
)
from mendpool_field.render_plan import plan_blocks, safe_first

Shown = Mapping[str, Any]
_CAUSES_SHOWN = 5
_MILLION = 1e6
"""Ohms from which a person says megohms."""
_MOSTLY = 0.5
_FIXES_SHOWN = 5
_FACTORS_SHOWN = 3


def answer_text(answer: Shown, width: int) -> str:
    """Return an answer as text of `width` columns; only a command to type may be wider."""
    return pages(
        [
            section("FIRST OF ALL", safe_first(answer, width)),
            section("NOT UNDERSTOOD", not_understood(answer, width)),
            section("TAKE CARE", caution_lines(answer, width)),
            section("TAKE NOTE", flag_lines(answer, width)),
            *plan_blocks(answer, width),
            section("READINGS", [*understood_lines(answer, width), *_readings(answer, width)]),
            section("ODDS", odds_lines(answer, width)),
            section("WHAT WORKED FOR OTHERS", _fixes(answer, width)),
            section("ONLY TO GET BY", _get_bys(answer, width)),
            section("WHAT THIS RESTS ON", evidence_lines(answer, width)),
        ]
    )


def judged_text(judged: Shown, width: int) -> str:
    """Return judged readings as text."""
    return pages(
        [
            section("TAKE CARE", caution_lines(judged, width)),
            section("READINGS", _readings(judged, width)),
        ]
    )


def caution_lines(answer: Shown, width: int) -> list[str]:
    """Return the cautions in full, each with who says so."""
    lines: list[str] = []
    for caution in items(answer, "cautions"):
        says, source = clean(caution.get("says")), clean(caution.get("source"))
        topic = words(caution.get("code")).upper()
        told = sourced(f"{topic}: {says}", source)
        lines += para(told, width, first="! ", rest="  ")
    return lines


def flag_lines(answer: Shown, width: int) -> list[str]:
    """Return what the answer itself warns of: two faults at once, or a count to doubt."""
    return [
        line
        for flag in items(answer, "flags")
        for line in para(clean(flag.get("says")), width, first="* ")
    ]


def not_understood(answer: Shown, width: int) -> list[str]:
    """Say at the top when the words told nothing, so that nobody follows a plan for no one."""
    if answer.get("symptoms") == [] and not answer.get("readings"):
        return para(_NOTHING_HEARD, width, first="  ")
    return []


_NOTHING_HEARD = (
    "Nothing that it does was recognised in your words. Say it otherwise, or look a word up "
    "with mendpool symptoms and add --symptom CODE."
)


def understood_lines(answer: Shown, width: int) -> list[str]:
    """Say what the complaint was taken for, so that nothing is guessed in silence."""
    heard = [
        words(symptom.get("code")) + ("" if symptom.get("from") == "said" else _sure(symptom))
        for symptom in items(answer, "symptoms")
    ]
    lines = para(f"Taken as: {'; '.join(heard)}.", width, first="  ") if heard else []
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
        lines += reading_lines(reading, width)
    for pair in items(answer, "together"):
        if pair.get("says"):
            lines += para(f"Together: {clean(pair['says'])}", width, first="  ")
    return lines


def reading_lines(reading: Shown, width: int) -> list[str]:
    """Return one reading with its verdict, and what it means."""
    where = f"{words(reading.get('quantity'))}, {words(reading.get('point'))}"
    if reading.get("which") is not None:
        where += f" {words(reading['which'])}"
    if reading.get("condition"):
        where += f", {words(reading['condition'])}"
    sign = {"over": "over ", "under": "under ", "about": "about "}.get(
        clean(reading.get("sign")), ""
    )
    amount, unit = number(reading, "value"), _unit(reading)
    if unit == "ohm" and amount is not None and amount >= _MILLION:
        amount, unit = amount / _MILLION, "Mohm"
    value = f"{sign}{figure(amount)} {unit}".strip()
    verdict = clean(reading.get("verdict")).upper() or "UNJUDGED"
    lines = para(f"{where}: {value}, {verdict}", width, first="* ")
    band = _band(reading)
    source = clean(reading.get("source"))
    if band or (source and verdict != "UNJUDGED"):
        told = sourced(band, source)
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


def odds_lines(answer: Shown, width: int) -> list[str]:
    """Return the likelier causes, each with what makes it so."""
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
    return f"{words(factor.get('of'))} times {figure(times)}" if times is not None else ""


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


GET_BY_WARNING = (
    "None of these mends anything, and some take a protection away. At your own risk, "
    "watched all the time, and undone as soon as it can be."
)


def _get_bys(answer: Shown, width: int) -> list[str]:
    held = items(answer, "get_bys")
    lines = para(GET_BY_WARNING, width, first="! ", rest="  ") if held else []
    for way in held:
        first, *rest = get_by_words(way)
        lines += para(first, width, first="* ")
        for told in rest:
            lines += para(told, width, first="  ")
    return lines


def get_by_words(way: Shown) -> list[str]:
    """Return a get-by in sentences: what and how often, its risk, its limit, its undoing."""
    told = f"{words(way.get('component'))}, {words(way.get('action'))}"
    worked, tried, people = (number(way, k) for k in ("worked", "tried", "people"))
    if worked is not None and tried:
        told += f": ran {figure(worked)} of the {figure(tried)} times it was tried"
        told += f", by {figure(people)} people" if people is not None else ""
    said = [f"{told}."]
    if way.get("protection_defeated"):
        said.append("It leaves a protection out of action.")
    for label, key in (
        ("Risk", "risk"),
        ("Limit", "time_limit"),
        ("To undo", "restore"),
    ):
        if way.get(key):
            said.append(f"{label}: {clean(way[key])}")
    return said


def evidence_lines(answer: Shown, width: int) -> list[str]:
    """Return what an answer rests on."""
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
