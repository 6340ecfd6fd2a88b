"""Reports as columns of small integers: all that a fit needs of each, and nothing else.

A case becomes numbers once, when it comes. Columns of many reports make a block; a fit is sums
over blocks, in whatever order they and the reports in them lie. What a number stands for is
in the book of names, which only grows; no figure of a fit depends on which number it is.
"""

import json
from array import array
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import repeat
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.attempts import Proof, proof_of
from mendpool.core.evidence.case import Case, components_at_fault

Column = NDArray[Any]
Numbers = NDArray[np.int64]

WORKED, BETTER = 1, 2
"""Marks of what a try of a repair came to."""

_LISTS: dict[str, tuple[str, ...]] = {
    "term": ("term",),
    "word": ("word",),
    "symptom": ("symptom",),
    "found": ("found",),
    "cause": ("cause",),
    "fault": ("fault",),
    "done": ("fix", "deed", "came"),
    "good": ("good",),
    "bad": ("bad",),
    "healthy": ("place", "reads"),
}
"""Lists of a report, and what each entry of them holds."""

_TYPES: dict[str, type] = {
    "group": np.int64, "new": np.bool_, "came": np.uint8, "deed": np.int16, "reads": np.float64,
}  # fmt: skip
_DONE = ("fix", "deed", "came", "good", "bad")
_FIRST = [(what, entries[0]) for what, entries in _LISTS.items()]
_CODES = {"came": "B", "deed": "h", "reads": "d"}


class Names:
    """What numbers stand for: each name gets the next number when it is first met."""

    def __init__(self, names: Iterable[str] = ()) -> None:
        self.names = list(names)
        self.number: Callable[[str], int] = _Numbers(self.names).__getitem__

    def __len__(self) -> int:
        """Count the names, those that nothing uses any more among them."""
        return len(self.names)


class _Numbers(dict[str, int]):
    """The numbers of a list of names, which grows by what is asked for and not in it."""

    def __init__(self, names: list[str]) -> None:
        super().__init__((name, number) for number, name in enumerate(names))
        self._names = names

    def __missing__(self, name: str) -> int:
        number = self[name] = len(self._names)
        self._names.append(name)
        return number


NAMED = ("term", "word", "kind", "symptom", "found", "cause", "part", "said", "fix", "place")


NAMES_OF = {
    "term": "term", "word": "word", "kind": "kind", "symptom": "symptom", "found": "found",
    "cause": "cause", "fault": "part", "good": "part", "bad": "part", "said": "said",
    "fix": "fix", "place": "place",
}  # fmt: skip
"""Columns of numbers, and the names they stand for."""


def new_names(given: dict[str, list[str]] | None = None) -> dict[str, Names]:
    """Return a book of names, empty or with what was kept of it."""
    kept = given or {}
    return {what: Names(kept.get(what, ())) for what in NAMED}


class Ragged(NamedTuple):
    """A list for each report, one after another: where each begins, and the entries."""

    begins: Numbers
    entries: Column

    @property
    def lengths(self) -> Numbers:
        """How many entries each report has."""
        return np.diff(self.begins)

    @property
    def owners(self) -> Numbers:
        """The report of each entry, by its place in the block."""
        return np.repeat(np.arange(len(self.begins) - 1), self.lengths)


@dataclass(frozen=True)
class Block:
    """Columns of some reports.

    Args:
        columns: by name. Of one entry a report: ``id``, ``group`` (of its contributor), ``new``
            (nobody vouched for him), ``kind``, ``said`` (parts at fault, as one name). Of a
            list a report: where it begins, ``term_begins`` and so on, and its entries.
    """

    columns: dict[str, Column]

    def __len__(self) -> int:
        """Count the reports."""
        return len(self.columns["id"])

    def __getitem__(self, name: str) -> Column:
        """Return a column."""
        return self.columns[name]

    def ragged(self, what: str, entry: str | None = None) -> Ragged:
        """Return the lists called `what`, of several kinds of entries those of `entry`."""
        return Ragged(self.columns[f"{what}_begins"], self.columns[entry or what])

    def take(self, rows: Numbers) -> "Block":
        """Return the reports at these places, in this order."""
        columns = {name: self.columns[name][rows] for name in _PLAIN}
        for what, entries in _LISTS.items():
            begins, places = gathered(self.columns[f"{what}_begins"], rows)
            columns[f"{what}_begins"] = begins
            columns.update({entry: self.columns[entry][places] for entry in entries})
        return Block(columns)


_PLAIN = ("id", "group", "new", "kind", "said")


def used_names(blocks: Iterable[Block], names: Mapping[str, Names]) -> dict[str, Column]:
    """Return which names the reports of these blocks use, by number."""
    used = {what: np.zeros(len(names[what]), dtype=np.bool_) for what in NAMED}
    for block in blocks:
        for column, what in NAMES_OF.items():
            used[what][block[column]] = True
    return used


def renumbered(block: Block, used: Mapping[str, Column]) -> Block:
    """Return a block with the numbers that names have when unused ones are left out."""
    columns = dict(block.columns)
    for column, what in NAMES_OF.items():
        number = (np.cumsum(used[what]) - 1).astype(np.int32)
        columns[column] = number[columns[column]]
    return Block(columns)


def only_used(names: Mapping[str, Names], used: Mapping[str, Column]) -> dict[str, Names]:
    """Return the book of names without those that nothing uses."""
    return {
        what: Names(kept.names[number] for number in np.flatnonzero(used[what]).tolist())
        for what, kept in names.items()
    }


def gathered(begins: Numbers, rows: Numbers) -> tuple[Numbers, Numbers]:
    """Return where the lists of some rows begin once laid out anew, and their old places."""
    lengths = begins[rows + 1] - begins[rows]
    fresh = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)
    places = np.arange(fresh[-1]) + np.repeat(begins[rows] - fresh[:-1], lengths)
    return fresh, places


def joined(blocks: Sequence[Block]) -> Block:
    """Return the reports of several blocks, one or more, as one."""
    columns = {n: np.concatenate([block[n] for block in blocks]) for n in _PLAIN}
    for what, entries in _LISTS.items():
        lengths = np.concatenate([block.ragged(what, entries[0]).lengths for block in blocks])
        columns[f"{what}_begins"] = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)
        columns.update({e: np.concatenate([block[e] for block in blocks]) for e in entries})
    return Block(columns)


class _Open:
    """The columns of a block that is being filled."""

    def __init__(self) -> None:
        self.ids: list[bytes] = []
        # Arrays rather than lists: a number takes four bytes, not forty.
        self.plain = {name: array("q") for name in _PLAIN if name != "id"}
        self.lists: dict[str, array[Any]] = {
            entry: array(_CODES.get(entry, "i"))
            for entries in _LISTS.values()
            for entry in entries
        }
        self.ends = {what: array("q", [0]) for what in _LISTS}

    def block(self) -> Block:
        columns: dict[str, Column] = {"id": np.array(self.ids, dtype=np.bytes_)}
        for name, values in self.plain.items():
            columns[name] = np.array(values, dtype=_TYPES.get(name, np.int32))
        for what, ends in self.ends.items():
            columns[f"{what}_begins"] = np.array(ends, dtype=np.int64)
        for entry, values in self.lists.items():
            columns[entry] = np.array(values, dtype=_TYPES.get(entry, np.int32))
        return Block(columns)


class Clerk:
    """Writes cases into blocks.

    Args:
        names: the book of names; it grows.
        protections: codes of components whose removal is a get-by.
    """

    def __init__(self, names: dict[str, Names], protections: frozenset[str]) -> None:
        self._names = names
        self._protections = protections
        self._open = _Open()
        self._kinds: dict[tuple[tuple[str, str | int], ...], int] = {}
        self._proofs: dict[object, tuple[list[int], ...]] = {}
        self._number = {what: each.number for what, each in names.items()}

    def __len__(self) -> int:
        """Count the reports written since the last block was closed."""
        return len(self._open.ids)

    def write(self, case: Case) -> None:
        """Write down a case."""
        number, faults = self._number, components_at_fault(case, self._protections)
        self._open.ids.append(case.id.encode())
        plain = self._open.plain
        plain["group"].append(case.group)
        plain["new"].append(not case.vouched)
        plain["kind"].append(self._kind(case))
        plain["said"].append(number["said"](" ".join(faults)))
        lists = self._open.lists
        for what, name, values in (
            ("term", "term", case.terms),
            ("word", "word", case.words),
            ("symptom", "symptom", case.symptoms),
            ("found", "found", case.found),
            ("cause", "cause", case.causes),
            ("fault", "part", faults),
        ):
            lists[what].extend(map(number[name], values))
        for name, numbers in zip(_DONE, self._proof(case), strict=True):
            lists[name].extend(numbers)
        for healthy in case.healthy:
            lists["place"].extend(map(number["place"], healthy.keys))
            lists["reads"].extend(repeat(healthy.value, len(healthy.keys)))
        for what, first in _FIRST:
            self._open.ends[what].append(len(lists[first]))

    def close(self) -> Block:
        """Return what was written since the last time."""
        block, self._open = self._open.block(), _Open()
        return block

    def _kind(self, case: Case) -> int:
        items = tuple(case.kind.items())
        if items not in self._kinds:
            self._kinds[items] = self._names["kind"].number(json.dumps(sorted(items)))
        return self._kinds[items]

    def _proof(self, case: Case) -> tuple[list[int], ...]:
        key = (case.defeated, tuple([(a[0], a[1], a[3], a[4]) for a in case.attempts]))
        if key not in self._proofs:
            if len(self._proofs) >= _PROOFS_MOST:
                self._proofs.clear()
            self._proofs[key] = self._numbered(proof_of(case, self._protections))
        return self._proofs[key]

    def _numbered(self, proof: Proof) -> tuple[list[int], ...]:
        fix, part = self._names["fix"].number, self._names["part"].number
        each = [
            (f"{c} {a}", d, done) for d, done in enumerate(proof.done) for c, a in done.fixes
        ]
        return (
            [fix(name) for name, _, _ in each],
            [deed for _, deed, _ in each],
            [WORKED * done.worked + BETTER * done.better for _, _, done in each],
            [part(component) for component in proof.good],
            [part(component) for component in proof.bad],
        )


_PROOFS_MOST = 20_000

BLOCK = 32_768
"""Reports of a block: so much is held in memory at a time."""


def written(
    cases: Iterable[Case], names: dict[str, Names], protections: frozenset[str]
) -> Iterator[Block]:
    """Write cases into blocks of at most `BLOCK` reports."""
    clerk = Clerk(names, protections)
    for case in cases:
        clerk.write(case)
        if len(clerk) >= BLOCK:
            yield clerk.close()
    if len(clerk):
        yield clerk.close()


@dataclass(frozen=True)
class Ledger:
    """Reports in blocks, and what their numbers stand for.

    Args:
        blocks: gives the blocks, the same each time; they may be read from a disk.
        names: the book of names.
    """

    blocks: Callable[[], Iterator[Block]]
    names: dict[str, Names]


def ledger_of(cases: Iterable[Case], protections: frozenset[str] = frozenset()) -> Ledger:
    """Return a ledger of cases, held in memory."""
    names = new_names()
    blocks = list(written(cases, names, protections))
    return Ledger(lambda: iter(blocks), names)
