"""What several readings say together: engine or excitation, a lost neutral, the odd one."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from mendpool.core.catalogue.admits import admits, surely
from mendpool.core.catalogue.patterns import Compare, Part, Pattern
from mendpool.core.readings.judge import JudgedReading
from mendpool.core.readings.said import figure_text
from mendpool.core.readings.workings import droop_percent, unbalance_percent
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Judged

Group = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Together:
    """A finding from more than one reading.

    Args:
        code: of the pattern.
        says: the finding in words.
        readings: which readings it rests on, as positions in what was given.
        shows, rules_out: symptoms; none where the readings are as left.
        cautions: topics it calls for.
        danger: the topic that is called for at once, None if none.
        source: where the rule comes from.
    """

    code: str
    says: str
    readings: Group
    shows: tuple[str, ...] = ()
    rules_out: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    danger: str | None = None
    source: str = ""


def together(
    judged: Sequence[JudgedReading], machine: Machine, patterns: Sequence[Pattern]
) -> list[Together]:
    """Return what the readings say together, in the order of the patterns.

    Readings as found and as left are never mixed, nor readings of two different loads.
    """
    found: list[Together] = []
    for pattern in patterns:
        seen = {finding.code for finding in found}
        if seen.intersection(pattern.unless) or not _holds_for(pattern, machine):
            continue
        for stage in ("found", "left"):
            of_stage = [n for n, j in enumerate(judged) if (j.judged.stage or "found") == stage]
            if len(of_stage) >= 2:
                found.extend(_found(pattern, of_stage, judged, machine, stage))
    return found


def _holds_for(pattern: Pattern, machine: Machine) -> bool:
    return admits(pattern.only, machine) and surely(pattern.surely, machine)


def _found(
    pattern: Pattern,
    places: Sequence[int],
    judged: Sequence[JudgedReading],
    machine: Machine,
    stage: str,
) -> Iterator[Together]:
    compare = pattern.compare
    if compare is None:
        group = _met(pattern.parts, places, judged)
        if group is not None:
            yield _finding(pattern, group, {}, stage)
    elif compare.of in {"drop", "less"}:
        yield from _two(pattern, compare, places, judged, machine, stage)
    else:
        yield from _many(pattern, compare, places, judged, machine, stage)


def _met(
    parts: Sequence[Part], places: Sequence[int], judged: Sequence[JudgedReading]
) -> Group | None:
    """The first readings that meet all parts, at one load where they name none."""
    choices = [[n for n in places if _fits(part, judged[n])] for part in parts]
    for group in product(*choices):
        loads = {
            judged[n].judged.condition
            for n, part in zip(group, parts, strict=True)
            if not part.conditions
        } - {None}
        if len(set(group)) == len(group) and len(loads) <= 1:
            return group
    return None


def _fits(part: Part, reading: JudgedReading) -> bool:
    wire = reading.judged
    return (
        wire.quantity == part.quantity
        and wire.point in part.points
        and (not part.conditions or wire.condition in part.conditions)
        and (
            wire.verdict in part.verdicts
            or (wire.verdict == "unjudged" and len(part.verdicts) == 3)
        )
        and (part.dead is None or part.dead == reading.dead)
    )


# --- two readings, one against the other


def _two(
    pattern: Pattern,
    compare: Compare,
    places: Sequence[int],
    judged: Sequence[JudgedReading],
    machine: Machine,
    stage: str,
) -> Iterator[Together]:
    first_part, second_part = pattern.parts
    for a in places:
        for b in places:
            one, other = judged[a].judged, judged[b].judged
            if a == b or not (_fits(first_part, judged[a]) and _fits(second_part, judged[b])):
                continue
            if compare.of == "drop" and other.value <= 0:
                continue
            figure = (
                droop_percent(one.value, other.value)
                if compare.of == "drop"
                else one.value - other.value
            )
            if _past(figure, compare, machine):
                words = {
                    "figure": figure_text(round(figure, 2)),
                    "first": figure_text(one.value),
                    "second": figure_text(other.value),
                    "unit": one.unit,
                }
                yield _finding(pattern, (a, b), words, stage)
                return


def _past(figure: float, compare: Compare, machine: Machine) -> bool:
    over = compare.over
    if machine.class_ is not None:
        over = compare.by_class.get(machine.class_, over)
    elif machine.duty is not None:
        over = compare.by_duty.get(machine.duty, over)
    return (over is not None and figure > over) or (
        compare.under is not None and figure < compare.under
    )


# --- many readings of one kind


def _many(
    pattern: Pattern,
    compare: Compare,
    places: Sequence[int],
    judged: Sequence[JudgedReading],
    machine: Machine,
    stage: str,
) -> Iterator[Together]:
    part = pattern.parts[0]
    by_load: dict[str | None, list[int]] = {}
    for n in places:
        if _fits(part, judged[n]):
            by_load.setdefault(judged[n].judged.condition, []).append(n)
    for at_this_load in by_load.values():
        group = _each_once(at_this_load, judged)
        if len(group) < compare.at_least or not _told_apart(group, judged):
            continue
        values = [judged[n].judged.value for n in group]
        if compare.sum_percent and not _adds_up(values, compare.sum_percent, machine):
            continue
        figure = _figure(compare, values)
        if figure is not None and _past(figure, compare, machine):
            yield _finding(pattern, tuple(group), _words(figure, group, judged), stage)


def _each_once(group: Sequence[int], judged: Sequence[JudgedReading]) -> list[int]:
    """The last reading of each thing, in the order given: a thing read twice counts once."""
    last = {(judged[n].judged.point, judged[n].judged.which): n for n in group}
    return sorted(last.values())


def _told_apart(group: Sequence[int], judged: Sequence[JudgedReading]) -> bool:
    wires = [judged[n].judged for n in group]
    one_point = len({wire.point for wire in wires}) == 1
    return not one_point or all(wire.which is not None for wire in wires)


def _adds_up(values: Sequence[float], span: tuple[float, float], machine: Machine) -> bool:
    if machine.rated_volts is None:
        return False
    return span[0] <= 100 * math.fsum(values) / machine.rated_volts <= span[1]


def _figure(compare: Compare, values: Sequence[float]) -> float | None:
    low, high = min(values), max(values)
    if compare.of == "spread":
        return high - low
    mean = math.fsum(values) / len(values)
    if high <= 0 or mean <= 0:
        return None
    if compare.of == "lowest":
        return 100 * low / high
    return unbalance_percent(values) if compare.of == "unbalance" else 100 * (high - low) / mean


def _words(
    figure: float, group: Sequence[int], judged: Sequence[JudgedReading]
) -> dict[str, str]:
    wires = [judged[n].judged for n in group]
    lowest = min(wires, key=lambda wire: wire.value)
    highest = max(wires, key=lambda wire: wire.value)
    return {
        "figure": figure_text(round(figure, 2)),
        "lowest": figure_text(lowest.value),
        "highest": figure_text(highest.value),
        "which": _name(lowest),
        "unit": "" if lowest.unit == "1" else lowest.unit,
    }


def _name(wire: Judged) -> str:
    if wire.which is None:
        return wire.point.replace("-", " ")
    return f"no. {wire.which}" if isinstance(wire.which, int) else wire.which


def _finding(pattern: Pattern, group: Group, words: Mapping[str, str], stage: str) -> Together:
    left = stage == "left"
    blank = dict.fromkeys(
        ("figure", "first", "second", "lowest", "highest", "which", "unit"), ""
    )
    source = pattern.source
    if pattern.confidence != "published" and pattern.confidence not in source:
        source = f"{source} ({pattern.confidence})"
    return Together(
        pattern.code,
        pattern.says.format(**{**blank, **words}),
        group,
        () if left else pattern.shows,
        () if left else pattern.rules_out,
        pattern.cautions,
        pattern.cautions[0] if pattern.danger and pattern.cautions else None,
        source,
    )
