"""A working as text: what can hurt, the answer, how it was got, what it rests on."""

from collections.abc import Mapping, Sequence
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
    sourced,
    texts,
    words,
)

Shown = Mapping[str, Any]


def worked_text(worked: Shown, width: int) -> str:
    """Return a working done as text of `width` columns."""
    cautions = []
    for caution in items(worked, "cautions"):
        topic = words(caution.get("code")).upper()
        told = sourced(f"{topic}: {clean(caution.get('says'))}", clean(caution.get("source")))
        cautions += para(told, width, first="! ", rest="  ")
    answer = para(worked.get("says"), width)
    answer += para(_figure(part(worked, "answer")), width, first="  ")
    for more in items(worked, "also"):
        answer += para(_figure(more), width, first="  ")
    formula = []
    for step in items(worked, "formula"):
        formula += para(step.get("formula"), width)
        formula += para(step.get("numbers"), width, first="  ")
    rests = [
        line for told in texts(worked, "assumed") for line in para(told, width, first="* ")
    ]
    for source in items(worked, "sources"):
        told = f"{clean(source.get('says'))} ({clean(source.get('confidence'))})"
        rests += para(told, width, first="  ")
    return pages(
        [
            section("TAKE CARE", cautions),
            section(clean(worked.get("label")).upper(), answer),
            section("HOW", formula),
            section("WHAT THIS RESTS ON", rests),
        ]
    )


def list_text(entries: Sequence[Shown], width: int) -> str:
    """Return the list of workings."""
    lines = []
    for entry in entries:
        lines += para(f"{clean(entry.get('name'))}: {clean(entry.get('says'))}", width,
                      first="* ", rest="  ")  # fmt: skip
    lines += ["", *para("mendpool work NAME tells what one takes.", width)]
    return pages([section("SUMS OF THE TRADE", lines)])


def usage_text(entry: Shown, width: int) -> str:
    """Return what one working takes, with an example to type."""
    lines = para(entry.get("says"), width)
    for given in items(entry, "inputs"):
        needed = "" if given.get("needed") else " (may be left out)"
        told = f"{clean(given.get('name'))}: {clean(given.get('says'))}{needed}"
        lines += para(told, width, first="* ", rest="  ")
    example = " ".join(
        f'{clean(name)}="{clean(value)}"'
        if " " in str(value)
        else f"{clean(name)}={clean(value)}"
        for name, value in part(entry, "example").items()
    )
    line = f"mendpool work {clean(entry.get('name'))} {example}"
    return pages(
        [section(clean(entry.get("label")).upper(), [*lines, "", command(line, width)])]
    )


def _figure(given: Shown) -> str:
    value, unit = given.get("value"), clean(given.get("unit"))
    shown = clean(value) if isinstance(value, str) else figure(number(given, "value"))
    low, high = number(given, "low"), number(given, "high")
    span = ""
    if low is not None and high is not None and low != high:
        span = f" ({figure(low)} to {figure(high)})"
    name = words(given.get("name")).replace("_", " ")
    return f"{name}: {shown} {unit}".rstrip() + span
