"""What a fit must know of all reports at once: a few numbers each, over all blocks."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.duplicates import TELLING
from mendpool.core.evidence.ledger import Column, Ledger, Numbers, Ragged


class Reports(NamedTuple):
    """Columns over all blocks.

    Args:
        ids: of the reports.
        person: whose they are, numbered from 0.
        new: whether nobody vouched for that person.
        said: the parts at fault, as one name.
        telling: the terms that tell reports apart, in order.
    """

    ids: NDArray[np.bytes_]
    person: Numbers
    new: NDArray[np.bool_]
    said: NDArray[np.int32]
    telling: Ragged


def reports_of(ledger: Ledger) -> Reports:
    """Collect them."""
    tells = np.array([n.startswith(TELLING) for n in ledger.names["term"].names], np.bool_)
    plain: dict[str, list[Column]] = {
        "id": [np.zeros(0, np.bytes_)],
        "group": [np.zeros(0, np.int64)],
        "new": [np.zeros(0, np.bool_)],
        "said": [np.zeros(0, np.int32)],
    }
    lengths, terms = [np.zeros(1, np.int64)], [np.zeros(0, np.int32)]
    for block in ledger.blocks():
        held = block.ragged("term")
        kept = tells[held.entries]
        lengths.append(np.bincount(held.owners[kept], minlength=len(block)))
        terms.append(held.entries[kept])
        for name, columns in plain.items():
            columns.append(block[name])
    whole = {name: np.concatenate(columns) for name, columns in plain.items()}
    return Reports(
        whole["id"],
        np.unique(whole["group"], return_inverse=True)[1],
        whole["new"],
        whole["said"],
        Ragged(np.cumsum(np.concatenate(lengths)), np.concatenate(terms)),
    )


def mixed(numbers: Column) -> NDArray[np.uint64]:
    """Spread numbers over 64 bits (the finish of Vigna's splitmix64)."""
    z = (numbers.astype(np.uint64) + np.uint64(1)) * np.uint64(0x9E3779B97F4A7C15)
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.asarray(z ^ (z >> np.uint64(31)))
