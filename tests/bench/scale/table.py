"""What one run comes to: a line for each way of asking, and how each cost grows."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from statistics import fmean

from tests.bench.scale.judged import interval

_ENOUGH = 40
"""Questions from which a peer may be called the best."""

OVER_HTTP = (": HTTP", ": constant route)")
"""How the names end of what a service of its own is asked."""


def in_a_row(name: str) -> str:
    """Return the name of the same way, asked by nobody else meanwhile."""
    return name.replace("HTTP", "HTTP in a row").replace("route)", "route in a row)")


@dataclass
class Row:
    """One way of asking at one size."""

    size: int
    name: str
    build_s: float
    disk_mb: float | None
    memory_mb: float = 0.0
    times_ms: list[float] = field(default_factory=list)
    quality: dict[int, float] = field(default_factory=dict)

    def at(self, share: float) -> float:
        """Return the time that so large a share of the questions took at most."""
        took = sorted(self.times_ms)
        return took[min(len(took) - 1, int(share * len(took)))] if took else float("nan")

    @property
    def is_ours(self) -> bool:
        """Whether it is ours."""
        return self.name.startswith("ours")

    @property
    def ndcg(self) -> float | None:
        """The mean over its questions; None for what finds nothing."""
        return fmean(self.quality.values()) if self.quality else None

    def to_json(self) -> dict[str, object]:
        """Return it with what was worked out."""
        told = asdict(self)
        del told["times_ms"], told["quality"]
        found = {"p50_ms": self.at(0.5), "p99_ms": self.at(0.99), "ndcg10": self.ndcg}
        return {**told, **found, "questions": len(self.quality), "asked": len(self.times_ms)}


_HEAD = (
    f"{'reports':>9}  {'side':28} {'p50 ms':>9} {'p99 ms':>9}"
    f"  {'nDCG@10':>7} {'ours':>5} {'q':>4}  {'build s':>8} {'disk MB':>8} {'RSS MB':>7}"
)


def lines_of(rows: Sequence[Row]) -> list[str]:
    """Return the table of one size; `ours` is our search on the same questions."""
    ours = _ours(rows)
    lines = [_HEAD]
    for row in rows:
        found = "" if row.ndcg is None else f"{row.ndcg:.3f}"
        same = [ours.quality[q] for q in row.quality if q in ours.quality] if ours else []
        beside = f"{fmean(same):.3f}" if same else ""
        disk = "" if row.disk_mb is None else f"{row.disk_mb:,.1f}"
        asked = len(row.quality) or len(row.times_ms)
        lines.append(
            f"{row.size:9,}  {row.name:28} {row.at(0.5):9.3f} {row.at(0.99):9.3f}"
            f"  {found:>7} {beside:>5} {asked:4}"
            f"  {row.build_s:8.1f} {disk:>8} {row.memory_mb:7.0f}"
        )
    return lines


def against_the_best(rows: Sequence[Row]) -> list[str]:
    """Say how much better our orders are than the best peer's, and how much quicker we are."""
    peers = [r for r in rows if not r.is_ours and len(r.quality) >= _ENOUGH]
    peers = peers or [r for r in rows if not r.is_ours and r.quality]
    if not peers:
        return []
    best = max(peers, key=lambda row: row.ndcg or 0.0)
    lines = []
    for row in rows:
        if row.is_ours and row.quality:
            gap, low, high, many = interval(row.quality, best.quality)
            lines.append(
                f"  nDCG@10 of {row.name}, less that of {best.name}:"
                f" {gap:+.3f} [{low:+.3f}, {high:+.3f}] q={many}"
            )
    ours = _ours(rows)
    if ours is not None:
        quicker = (
            f"{row.name} {row.at(0.5) / ours.at(0.5):,.1f}"
            for row in rows
            if not row.is_ours and row.quality
        )
        lines.append(f"  p50 over that of {ours.name}: " + ", ".join(quicker))
    named = {row.name: row for row in rows}
    for name, whole in named.items():
        if ": HTTP" in name:
            route = name.removeprefix("ours ").replace("HTTP", "constant route")
            times = whole.at(0.5) / named[f"({route})"].at(0.5)
            lines.append(f"  {name} over a constant route, p50: {times:.1f}")
    return lines


def growth_of(tables: Mapping[int, Sequence[Row]]) -> list[str]:
    """Return by how much each cost grows from the smallest size to the largest."""
    sizes = sorted(tables)
    if len(sizes) < 2:
        return []
    small = {row.name: row for row in tables[sizes[0]]}
    heads = ("p50", "p99", "build", "disk", "RSS")
    grows = f"growth from {sizes[0]:,} to {sizes[-1]:,}"
    lines = [f"{grows:30} " + " ".join(f"{head:>8}" for head in heads)]
    for row in tables[sizes[-1]]:
        before = small.get(row.name)
        if before is None:
            continue
        pairs = (
            (row.at(0.5), before.at(0.5)),
            (row.at(0.99), before.at(0.99)),
            (row.build_s, before.build_s),
            (row.disk_mb, before.disk_mb),
            (row.memory_mb, before.memory_mb),
        )
        grown = " ".join(
            f"{now / then:8.1f}" if now and then else " " * 8 for now, then in pairs
        )
        lines.append(f"  {row.name:28} {grown}")
    return lines


def _ours(rows: Sequence[Row]) -> Row | None:
    return next((r for r in rows if r.is_ours and r.name.endswith(": search")), None)
