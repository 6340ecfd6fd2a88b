"""The hand-written fragments as data."""

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import yaml

_FILE = Path(__file__).parent / "fragments.yaml"


class Pieces(NamedTuple):
    """What people say: by symptom and kind of set, by fault, and round about it."""

    symptoms: Mapping[str, Mapping[str, Sequence[str]]]
    tells: Mapping[str, Sequence[str]]
    parts: Mapping[str, Sequence[str]]
    changed: Sequence[str]
    openers: Sequence[str]
    closers: Sequence[str]
    filler: Sequence[str]
    denials: Sequence[tuple[str, tuple[str, ...]]]
    joins: Sequence[str]
    second_language: Mapping[str, Any]
    phone: Mapping[str, Any]

    def said(self) -> Iterator[str]:
        """Return every piece that stands for a symptom, a fault or a thing tried."""
        for kinds in self.symptoms.values():
            for said in kinds.values():
                yield from said
        for said in self.tells.values():
            yield from said
        for said in self.parts.values():
            yield from (way.format(word) for way in self.changed for word in said)
        for piece, _ in self.denials:
            yield piece


@lru_cache(maxsize=1)
def pieces() -> Pieces:
    """Return the fragments of the file beside this module."""
    raw = yaml.safe_load(_FILE.read_text("utf-8"))
    raw["denials"] = [(said, tuple(codes)) for said, codes in raw["denials"]]
    return Pieces(**raw)
