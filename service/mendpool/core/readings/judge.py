"""What a reading says: low, within or high against the plate and the published limits."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mendpool.core.catalogue.admits import surely
from mendpool.core.catalogue.limits import Limit, Range, Side
from mendpool.core.catalogue.model import SetKind
from mendpool.core.readings.basis import corrected, rounded, scale
from mendpool.core.readings.said import edge_text, figure_text, with_unit
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Judged, Reading, Verdict

_FIGURES = {
    "duty": "whether it is portable or standby",
    "excitation": "how it is excited",
    "class": "its performance class",
    "size": "its rated kVA",
    "rated_volts": "its rated volts",
    "rated_hz": "its rated hertz",
    "rated_rpm": "its rated speed",
    "phases": "its phases",
    "mark": "what is printed on the part",
}
"""How a figure that was not given is named in a sentence; a field not here is its own name."""
_BASIS_NEEDS = {
    "percent of rated volts": ("rated_volts",),
    "percent of leg volts": ("rated_volts",),
    "scaled to rated volts": ("rated_volts",),
    "percent of rated hertz": ("rated_hz",),
    "percent of rated speed": ("rated_rpm",),
    "percent of rated current": ("rated_volts", "size"),
    "percent of rated power": ("size",),
    "percent of mark": ("mark",),
}


@dataclass(frozen=True, slots=True)
class JudgedReading:
    """A reading with its verdict, and what the verdict shows.

    Args:
        judged: the answer as the wire has it.
        shows: symptoms it shows to be present; none for a reading as left.
        rules_out: symptoms it shows to be absent; none for a reading as left.
        danger: a caution topic it calls for at once.
        dead: it is not low but absent.
    """

    judged: Judged
    shows: tuple[str, ...] = ()
    rules_out: tuple[str, ...] = ()
    danger: str | None = None
    dead: bool = False


@dataclass(frozen=True, slots=True)
class _Fit:
    """A limit that fits a reading: its scale, and the figures that would have narrowed it."""

    limit: Limit
    scale: float
    factor: float | None
    unknown: tuple[str, ...]

    def edge(self, edge: float | None) -> float | None:
        """Return an edge in the reading's unit, moved to where it was taken."""
        return None if edge is None else rounded(edge * self.scale * (self.factor or 1.0))


def judge(reading: Reading, machine: Machine, limits: Sequence[Limit]) -> JudgedReading:
    """Judge one reading.

    Returns:
        Its verdict by the first limit that fits; `unjudged` only where there is no band, and
        then `means` says which figure is missing.
    """
    missing: list[str] = []
    for limit in limits:
        if limit.quantity != reading.quantity or reading.point not in limit.points:
            continue
        unknown = _fits(limit, reading, machine)
        if unknown is None:
            continue
        size = scale(limit, reading, machine)
        if size is None:
            missing.extend(_BASIS_NEEDS[limit.basis])
            continue
        return _judged(
            reading, _Fit(limit, size, corrected(limit.correct, reading, machine), unknown)
        )
    return _unjudged(reading, missing)


def _unjudged(reading: Reading, missing: list[str]) -> JudgedReading:
    names = [_FIGURES.get(name, name) for name in dict.fromkeys(missing)]
    means = f"No band without {_listed(names)}." if names else "No band for this reading."
    return JudgedReading(_wire(reading, "unjudged", None, None, "", means))


# --- which limit


def _fits(limit: Limit, reading: Reading, machine: Machine) -> tuple[str, ...] | None:
    """Return the figures not known that would have mattered, None if it does not fit."""
    if (
        (limit.conditions and reading.condition not in limit.conditions)
        or (limit.which and reading.which not in limit.which)
        or (limit.value_in and not _inside(reading.value, limit.value_in))
    ):
        return None
    if not (_plate_fits(limit, reading.value, machine) and surely(limit.surely, machine)):
        return None
    unknown: list[str] = []
    for fits in (_among(limit.only, machine), _class(limit, machine), _size(limit, machine)):
        if fits is None:
            return None
        unknown.extend(fits)
    return tuple(unknown)


def _plate_fits(limit: Limit, value: float, machine: Machine) -> bool:
    """Whether the figures that must be known are known and lie where they should."""
    volts, hertz = machine.rated_volts, machine.rated_hz
    percent = None if volts is None else 100 * value / volts
    spans = ((limit.percent_in, percent), (limit.rated_volts, volts), (limit.rated_hz, hertz))
    return all(span is None or (x is not None and _inside(x, span)) for span, x in spans)


def _inside(value: float, span: Range) -> bool:
    return span[0] <= value < span[1]


def _among(kind: SetKind, machine: Machine) -> list[str] | None:
    """The fields of a kind that the set leaves open; None if one rules it out."""
    unknown = []
    for field, codes in kind.named:
        own = machine.kind(field)
        if own is None:
            unknown.append(field)
        elif own not in codes:
            return None
    return unknown


def _class(limit: Limit, machine: Machine) -> list[str] | None:
    if not limit.classes:
        return []
    if machine.class_ is not None:
        return [] if machine.class_ in limit.classes else None
    open_to = _among(limit.unclassed, machine)
    return None if open_to is None else ["class", *open_to] if open_to else []


def _size(limit: Limit, machine: Machine) -> list[str] | None:
    if limit.size is None:
        return []
    own = machine.rated_kw or machine.rated_kva
    if own is None:
        return ["size"]
    return [] if limit.size[0] < own <= limit.size[1] else None


# --- the verdict


def _judged(reading: Reading, fit: _Fit) -> JudgedReading:
    limit = fit.limit
    low, high = fit.edge(limit.low), fit.edge(limit.high)
    value = _nudged(reading)
    verdict: Verdict = "within"
    if not limit.judges:
        verdict = "unjudged"
    elif low is not None and value < low:
        verdict = "low"
    elif high is not None and value > high:
        verdict = "high"
    dead = (
        verdict == "low"
        and limit.dead is not None
        and value < (fit.edge(limit.dead.below) or 0)
    )
    side: Side = "dead" if dead else "within" if verdict == "unjudged" else verdict
    swung = _swung(reading, limit)
    shows, rules_out = limit.shows.get(side, ()), limit.rules_out.get(side, ())
    if swung and limit.swing is not None:
        shows = (*shows, limit.swing.shows)
    if reading.stage == "left" or verdict == "unjudged":
        shows, rules_out = (), ()
    rules_out = tuple(code for code in rules_out if code not in shows)
    source = limit.source
    if limit.confidence != "published" and limit.confidence not in source:
        source = f"{source} ({limit.confidence})"
    means = _means(reading, fit, verdict, (low, high), dead=dead, swung=swung)
    wire = _wire(reading, verdict, low, high, source, means)
    return JudgedReading(wire, shows, rules_out, _danger(value, fit), dead)


def _nudged(reading: Reading) -> float:
    """A bound lies just past its figure, so that `under 1` is under 1."""
    step = max(abs(reading.value) * 1e-9, 1e-12)
    return reading.value + {"over": step, "under": -step}.get(reading.sign or "", 0.0)


def _danger(value: float, fit: _Fit) -> str | None:
    danger = fit.limit.danger
    if danger is None:
        return None
    above, below = fit.edge(danger.above), fit.edge(danger.below)
    past = (above is not None and value > above) or (below is not None and value < below)
    return danger.topic if past else None


def _swung(reading: Reading, limit: Limit) -> bool:
    if limit.swing is None or reading.min is None or reading.max is None:
        return False
    middle = (reading.min + reading.max) / 2
    return middle > 0 and 100 * (reading.max - reading.min) / middle > limit.swing.percent


def _means(
    reading: Reading,
    fit: _Fit,
    verdict: Verdict,
    edges: tuple[float | None, float | None],
    *,
    dead: bool,
    swung: bool,
) -> str:
    limit = fit.limit
    low, high = edges
    words = {
        "value": figure_text(reading.value),
        "unit": "" if reading.unit == "1" else reading.unit,
        "low": "" if low is None else edge_text(low),
        "high": "" if high is None else edge_text(high),
        "rated": edge_text(100 * fit.scale),
    }
    template = limit.dead.means if dead and limit.dead is not None else limit.means[verdict]
    parts = [template]
    value = _nudged(reading)
    for shade in limit.shades:
        over, under = fit.edge(shade.over), fit.edge(shade.under)
        if (over is None or value >= over) and (under is None or value < under):
            parts.append(shade.says)
    parts = [part.format(**words) for part in parts]
    if swung and limit.swing is not None:
        parts.append(limit.swing.says)
    parts.extend(_footnotes(reading, fit, verdict, edges))
    return " ".join(parts)


def _footnotes(
    reading: Reading,
    fit: _Fit,
    verdict: Verdict,
    edges: tuple[float | None, float | None],
) -> Iterator[str]:
    low, high = edges
    if verdict == "unjudged":
        return
    lacking = [_FIGURES.get(name, name) for name in dict.fromkeys(fit.unknown)]
    lacking.extend(fit.limit.lacks)
    if lacking:
        yield f"The widest band is used: not given is {_listed(lacking)}."
    if fit.factor is not None and abs(fit.factor - 1) > 1e-3:
        yield "The band is moved to where it was read."
    if reading.sign == "over" and high is not None and verdict == "within":
        yield "Only a lower bound was given: it may be higher."
    if reading.sign == "under" and low is not None and verdict == "within":
        yield "Only an upper bound was given: it may be lower."
    if verdict == "within" and (
        (low is not None and reading.min is not None and reading.min < low)
        or (high is not None and reading.max is not None and reading.max > high)
    ):
        yield f"It moved out of the band, to {_furthest(reading, low, high)}."


def _furthest(reading: Reading, low: float | None, high: float | None) -> str:
    ends = []
    if low is not None and reading.min is not None and reading.min < low:
        ends.append(with_unit(reading.min, reading.unit))
    if high is not None and reading.max is not None and reading.max > high:
        ends.append(with_unit(reading.max, reading.unit))
    return " and ".join(ends)


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _wire(
    reading: Reading,
    verdict: Verdict,
    low: float | None,
    high: float | None,
    source: str,
    means: str,
) -> Judged:
    # Every part is checked already (the reading when it was understood, the rest here), so
    # it is not validated a second time.
    return Judged.model_construct(
        **reading.__dict__, verdict=verdict, low=low, high=high, source=source, means=means
    )
