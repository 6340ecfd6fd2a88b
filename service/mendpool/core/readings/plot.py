"""A log drawn as lines of text, for a terminal of any width."""

from collections.abc import Sequence

from mendpool.core.readings.said import figure_text

LEAST_WIDTH, LEAST_HEIGHT = 40, 4
_BLOCKS, _ASCII = ("█", "┄", "│", "─"), ("#", "-", "|", "-")


def plot(
    values: Sequence[float],
    unit: str,
    *,
    width: int = 72,
    height: int = 8,
    band: tuple[float, float] | None = None,
    ascii_only: bool = False,
) -> list[str]:
    """Return a plot: one line a row, each at most `width` characters.

    Args:
        values: in order of time; more than fit are drawn as the lowest to the highest of
            each column, so that a dip is never lost.
        unit: shown once, at the top.
        width, height: at least 40 and 4; the scale takes a part of the width.
        band: the edges of a band, drawn as dashed lines.
        ascii_only: plain characters alone.

    Raises:
        ValueError: no values, or a plot smaller than the least.
    """
    if not values or width < LEAST_WIDTH or height < LEAST_HEIGHT:
        raise ValueError(f"a plot needs values, {LEAST_WIDTH} columns and {LEAST_HEIGHT} rows")
    mark, dash, edge, floor = _ASCII if ascii_only else _BLOCKS
    low, high = _scale(values, band)
    labels = [figure_text(_rounded(edge_, low, high)) for edge_ in (high, low)]
    margin = min(max(map(len, labels)), width // 4)
    spans = _spans(values, width - margin - 1)
    step = (high - low) / height
    dashed = {} if band is None else {_row(e, low, step, height): e for e in band}
    lines = [f"{'':>{margin}} {unit}"[:width].rstrip()] if unit else []
    for row in range(height - 1, -1, -1):
        label = labels[0] if row == height - 1 else labels[1] if row == 0 else ""
        cells = [
            mark
            if _row(lowest, low, step, height) <= row <= _row(highest, low, step, height)
            else dash
            if row in dashed
            else " "
            for lowest, highest in spans
        ]
        lines.append(f"{label[:margin]:>{margin}}{edge}{''.join(cells)}".rstrip())
    lines.append(f"{'':>{margin}}{'+' if ascii_only else '└'}{floor * len(spans)}")
    return lines


def _scale(values: Sequence[float], band: tuple[float, float] | None) -> tuple[float, float]:
    """The ends of the scale: the values and the band; never of no height."""
    low, high = min(values), max(values)
    if band is not None:
        low, high = min(low, band[0]), max(high, band[1])
    if high - low <= max(abs(high), 1.0) * 1e-9:
        spare = max(abs(high) * 0.01, 0.5)
        return low - spare, high + spare
    return low, high


def _rounded(edge: float, low: float, high: float) -> float:
    """An end of the scale with no more places than its height needs."""
    span = high - low
    places = 0
    while span < 100 and places < 4:
        span *= 10
        places += 1
    return round(edge, places)


def _spans(values: Sequence[float], columns: int) -> list[tuple[float, float]]:
    """The lowest and highest value of each column, none left out."""
    count = min(columns, len(values))
    parts = [
        values[n * len(values) // count : (n + 1) * len(values) // count] for n in range(count)
    ]
    return [(min(part), max(part)) for part in parts]


def _row(value: float, low: float, step: float, height: int) -> int:
    return min(height - 1, max(0, int((value - low) / step)))
