"""Reports, lists, nameplates and codes as text."""

from collections.abc import Iterable, Mapping, Sequence
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
    sourced,
    texts,
    words,
)

Shown = Mapping[str, Any]
_UNITS = {
    "rated_kva": "kVA", "rated_kw": "kW", "rated_volts": "V", "rated_hz": "Hz",
    "rated_rpm": "rpm", "start_volts": "V start battery", "hours": "hours run",
    "altitude_m": "m above the sea", "phases": "phase",
}  # fmt: skip
_OF_PART = {"part_from": "part", "wait_days": "days waited", "done_by": "by", "fits": "fits"}


def report_text(report: Shown, width: int, *, title: str = "REPORT") -> str:
    """Return a report as text, all of it: what is not shown must not be sent unseen."""
    told = [
        *_line("Set", plate_line(part(report, "machine")), width),
        *_line("Complaint", report.get("complaint"), width),
        *_line("Symptoms", "; ".join(words(s) for s in texts(report, "symptoms")), width),
        *_line("Just before", "; ".join(words(b) for b in texts(report, "before")), width),
        *_each("Reading", (_reading(r) for r in items(report, "readings")), width),
        *_each("Seen", (_seen(o) for o in items(report, "observations")), width),
        *_each("Tried", (_attempt(a) for a in items(report, "attempts")), width),
        *_each("Cause", (_cause(c) for c in _causes(report)), width),
        *_line("Outcome", words(report.get("outcome")), width),
        *_line("Protection", _protection(report), width),
        *_line(*_month(report), width),
        *_line("Region", report.get("region"), width),
        *_line("Note", report.get("note"), width),
        *_line("Goes on from", report.get("continues"), width),
        *_each("Later", (_followup(f) for f in items(report, "followups")), width),
    ]
    cautions = [
        line
        for c in _warnings(report)
        for line in para(
            sourced(clean(c.get("says")), clean(c.get("source"))), width, first="! ", rest="  "
        )
    ]
    return pages([section("TAKE CARE", cautions), section(title, told)])


def removed_text(removed: object, width: int) -> str:
    """Return what is taken out of the texts, as kinds and counts."""
    if not isinstance(removed, Mapping) or not removed:
        return ""
    told = ", ".join(f"{words(kind)} {figure_of(count)}" for kind, count in removed.items())
    return "\n".join(para(f"Taken out before it is stored: {told}.", width))


def found_text(reports: Sequence[Shown], width: int, *, more: bool) -> str:
    """Return a list of reports, three lines or so each."""
    if not reports:
        return "\n".join(para("No report fits. Fewer words or filters find more.", width))
    lines: list[str] = []
    for report in reports:
        lines.append(clean(report.get("id")))
        lines += para(plate_line(part(report, "machine")), width, first="  ")
        said = clean(report.get("complaint")) or "; ".join(
            words(s) for s in texts(report, "symptoms")
        )
        lines += para(said, width, first="  ")
        causes = "; ".join(_cause(c) for c in _causes(report))
        ended = ", ".join(p for p in (words(report.get("outcome")), causes) if p)
        lines += para(ended, width, first="  ")
        lines += [*_dangers(report, width), ""]
    if more:
        lines += para("There are more: --limit shows up to 100, a filter fewer.", width)
    return "\n".join(lines).rstrip("\n")


def _warnings(report: Shown) -> list[Shown]:
    """Return the cautions of a report and of what was seen later, each once."""
    each = [c for one in (report, *items(report, "followups")) for c in items(one, "cautions")]
    return list({clean(c.get("says")): c for c in each}.values())


def _dangers(report: Shown, width: int) -> list[str]:
    """Return the warnings of a report with advice that could kill whoever copies it."""
    later = items(report, "followups")
    if not any(texts(one, "advice") for one in (report, *later)):
        return []
    told = [clean(c.get("says")) for c in _warnings(report)]
    return [line for one in told for line in para(one, width, first="  ! ", rest="    ")]


def plate_line(plate: Shown) -> str:
    """Return a nameplate in one line."""
    told: list[str] = []
    for field, value in plate.items():
        if value is None or value == "not-known":
            continue
        if field in _UNITS:
            told.append(f"{figure_of(value)} {_UNITS[field]}")
        elif field in {"make", "model"}:
            told.append(clean(value))
        else:
            told.append(words(value))
    return ", ".join(told)


def figure_of(value: object) -> str:
    """Return a number as people write it, anything else as text."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return figure(float(value))
    return clean(value)


def codes_text(codes: Mapping[str, str], width: int) -> str:
    """Return codes with their labels, one a line or two."""
    lines: list[str] = []
    for code, label in codes.items():
        same = words(code) == clean(label)
        lines += para(code if same else f"{code}: {clean(label)}", width, rest="    ")
    return "\n".join(lines)


def _line(label: str, value: object, width: int) -> list[str]:
    return para(f"{label}: {clean(value)}", width, first="  ", rest="    ") if value else []


def _each(label: str, told: Iterable[str], width: int) -> list[str]:
    return [line for one in told for line in _line(label, one, width)]


def _reading(reading: Shown) -> str:
    if reading.get("text"):
        return clean(reading["text"])
    where = [words(reading[k]) for k in ("quantity", "point") if reading.get(k)]
    extra = [f"{k} {words(reading[k])}" for k in ("which", "sign", "stage") if reading.get(k)]
    span = [
        f"{k} {figure_of(reading[k])}" for k in ("min", "max") if reading.get(k) is not None
    ]
    marks = [
        f"{k} {figure_of(reading[k])}"
        for k in ("mark", "at_degC")
        if reading.get(k) is not None
    ]
    lasted = number(reading, "minutes")
    for_minutes = [f"for {figure(lasted)} min"] if lasted is not None else []
    condition = [words(reading["condition"])] if reading.get("condition") else []
    unit = "" if reading.get("unit") == "1" else clean(reading.get("unit"))
    value = f"{figure_of(reading.get('value'))} {unit}".strip()
    verdict = f", {clean(reading['verdict'])}" if reading.get("verdict") else ""
    rest = ", ".join([*condition, *extra, *span, *marks, *for_minutes])
    return f"{', '.join(where)}: {value}" + (f" ({rest})" if rest else "") + verdict


def _seen(seen: Shown) -> str:
    which = f" ({words(seen['which'])})" if seen.get("which") is not None else ""
    return f"{words(seen.get('check'))}: {words(seen.get('found'))}{which}"


def _attempt(attempt: Shown) -> str:
    told = [words(attempt[k]) for k in ("component", "failure", "action") if attempt.get(k)]
    extra: list[str] = []
    if attempt.get("part"):
        extra.append(clean(attempt["part"]))
    if attempt.get("minutes") is not None:
        extra.append(f"{figure_of(attempt['minutes'])} min")
    if attempt.get("cost") is not None:
        extra.append(f"cost {figure_of(attempt['cost'])}")
    extra += [
        f"{label} {figure_of(attempt[key])}"
        for key, label in _OF_PART.items()
        if attempt.get(key) is not None
    ]
    if attempt.get("with_next"):
        extra.append("together with the next")
    more = f" ({', '.join(extra)})" if extra else ""
    return f"{', '.join(told)}{more}: {words(attempt.get('result'))}"


def _causes(report: Shown) -> list[Shown]:
    one = part(report, "cause")
    return [one] if one else items(report, "causes")


def _cause(cause: Shown) -> str:
    told = words(cause.get("component"))
    told += f", {words(cause['failure'])}" if cause.get("failure") else ""
    return told + (f" ({words(cause['role'])})" if cause.get("role") else "")


def _month(report: Shown) -> tuple[str, object]:
    if report.get("from_another_pool"):
        return "Year", f"{report.get('happened') or 'not known'}, from another pool"
    return "Month", report.get("happened")


def _protection(report: Shown) -> str:
    if report.get("protection_defeated"):
        return "LEFT DEFEATED"
    held = part(report, "protection")
    told = [f"{k} {words(held[k])}" for k in ("found", "left") if held.get(k)]
    return ", ".join(told)


def _followup(followup: Shown) -> str:
    told = [clean(followup.get("happened")), words(followup.get("state"))]
    later = number(followup, "months_after")  # of another pool, which tells no more than that
    if later is not None:
        told.insert(0, f"about {figure(later)} months after the repair")
    hours = number(followup, "hours_run")
    if hours is not None:
        told.append(f"{figure(hours)} hours run since")
    if followup.get("note"):
        told.append(clean(followup["note"]))
    return ", ".join(t for t in told if t)
