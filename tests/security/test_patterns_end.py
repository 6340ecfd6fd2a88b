"""Row 19 (ASVS 1.3.12): no pattern takes long on any text that is short enough to be sent.

Every compiled pattern of the program is pumped with four times the longest text there is.
"""

import importlib
import pkgutil
import re
import time
from collections.abc import Iterator

import pytest

import mendpool
import mendpool_field

PUMPS = (
    "a",
    "A",
    "1",
    " ",
    ".",
    "-",
    "a1",
    "a.",
    "a@",
    "1-",
    "1 ",
    "a ",
    "Aa ",
    "1.1",
    "\n",
    "é",
    "+1",
    "://",
    "a-a",
    "'",
    "oo0",
    "N 1 ",
    "12:3",
    "/",
)
ENDS = ("", "!", "\x00")
SIZE = 16_384
# On a busy machine with two cores; the longest text takes a quarter of it at most.
MOST_S = 0.5


def patterns() -> Iterator[tuple[str, re.Pattern[str]]]:
    seen: set[str] = set()
    for package in (mendpool, mendpool_field):
        for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            module = importlib.import_module(found.name)
            for name, value in vars(module).items():
                several = value if isinstance(value, tuple | list) else (value,)
                for one in several:
                    if not isinstance(one, re.Pattern) or one.pattern in seen:
                        continue
                    seen.add(one.pattern)
                    if isinstance(one.pattern, str):
                        yield f"{found.name}.{name}", one


def slowest(pattern: re.Pattern[str]) -> float:
    most = 0.0
    for pump in PUMPS:
        for end in ENDS:
            text = (pump * (SIZE // len(pump)))[:SIZE] + end
            begun = time.perf_counter()
            for number, _ in enumerate(pattern.finditer(text)):
                if number > 100_000:
                    break
            pattern.match(text)
            pattern.fullmatch(text)
            most = max(most, time.perf_counter() - begun)
            if most > MOST_S:
                return most
    return most


@pytest.mark.slow
def test_no_pattern_takes_long() -> None:
    found = dict(patterns())
    assert len(found) > 20
    assert {n: round(s, 2) for n, p in found.items() if (s := slowest(p)) > MOST_S} == {}
