"""What a reading costs and how much of what people say is understood.

Run: ``python -m tests.bench.readings``.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from time import perf_counter

import yaml

from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.errors import RefusedInput
from mendpool.core.readings.judge import judge
from mendpool.core.readings.parse import understand
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading, ReadingGiven
from mendpool.core.workings.registry import WORKINGS, work

PLATE = Machine(fuel="diesel", rated_volts=240, rated_hz=60, rated_kva=6.5, phases=1)
TESTS = Path(__file__).parents[1]


def best_us(times: int, each: int, call: Callable[[], object]) -> float:
    """The quickest of so many runs, microseconds for each of the things done."""
    quickest = float("inf")
    for _ in range(times):
        begin = perf_counter()
        call()
        quickest = min(quickest, perf_counter() - begin)
    return 1e6 * quickest / each


def main() -> None:
    """Print the figures."""
    catalogue = packaged_catalogue()
    core = TESTS / "core"
    rows = yaml.safe_load((core / "reading_phrases.yaml").read_text("utf-8"))["understood"]
    rows += yaml.safe_load((core / "reading_voices.yaml").read_text("utf-8"))
    given = [ReadingGiven(text=row["say"]) for row in rows]

    def understood(all_given: Sequence[ReadingGiven]) -> list[Reading]:
        found = []
        for one in all_given:
            try:
                found.append(
                    understand(one, catalogue.vocabulary, PLATE, catalogue.reading_words)
                )
            except RefusedInput:
                continue
        return found

    readings = understood(given)
    parse = best_us(5, len(given), lambda: understood(given))
    judging = best_us(
        5, len(readings), lambda: [judge(r, PLATE, catalogue.limits) for r in readings]
    )
    sums = best_us(
        5,
        len(WORKINGS),
        lambda: [work(name, catalogue.workings[name].example, catalogue) for name in WORKINGS],
    )
    print(f"understood {len(readings)} of {len(given)} phrases")
    print(f"understand {parse:.0f} us, judge {judging:.0f} us, a sum {sums:.0f} us each")
    published = (TESTS / "published" / "reference_rows.json").read_text("utf-8")
    tags = Counter((row["status"], row["tag"]) for row in yaml.safe_load(published))
    print("published rows:", {f"{s} {t}": n for (s, t), n in sorted(tags.items())})


if __name__ == "__main__":
    main()
