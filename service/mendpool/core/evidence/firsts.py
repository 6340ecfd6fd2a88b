"""Which of the candidates of a question stand for themselves, and which are copies.

The same groups as `duplicates.grouped` makes, for the few hundred of one question: what was
said is numbers already, and all that one person said is compared at once.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.candidates import Candidates
from mendpool.core.evidence.duplicates import ALIKE, EXACT_LEAST, NEAR_LEAST, TELLING
from mendpool.core.evidence.ledger import gathered

Places = NDArray[np.int64]


def firsts(held: Candidates, order: Sequence[int]) -> list[int]:
    """Return the places whose case is no copy of an earlier one, in their order.

    Args:
        held: the candidates.
        order: places of cases among them, in the order that decides who stands for a group.
    """
    begins, at = gathered(held.starts, np.array(order, dtype=np.int64))
    numbers = held.numbers[at]
    telling = held.names.beginning(TELLING)[numbers]
    owner = np.repeat(np.arange(len(order)), np.diff(begins))[telling]
    numbers = numbers[telling]
    lengths = np.bincount(owner, minlength=len(order))
    earlier = _alike(numbers, owner, lengths, held.people[order])
    ends = np.cumsum(lengths).tolist()
    said = set[bytes]()
    stands: list[bool] = []
    for place, (begin, end) in enumerate(zip([0, *ends], ends, strict=False)):
        words = numbers[begin:end].tobytes()
        copies = end - begin >= EXACT_LEAST and words in said
        stands.append(not (copies or any(stands[other] for other in earlier.get(place, ()))))
        if stands[-1]:
            said.add(words)
    return [place for place, own in zip(order, stands, strict=True) if own]


def _alike(
    numbers: NDArray[np.uint32], owner: Places, lengths: Places, person: Places
) -> dict[int, list[int]]:
    """Return for each case the earlier ones of its person that it is nearly alike to."""
    one, other = _of_one_person(np.where(lengths >= NEAR_LEAST, person, -1))
    shared = _shared(numbers, owner, lengths, one, other)
    alike = shared > ALIKE * (lengths[one] + lengths[other] - shared)
    found: dict[int, list[int]] = {}
    for first, later in zip(one[alike].tolist(), other[alike].tolist(), strict=True):
        found.setdefault(later, []).append(first)
    return found


def _of_one_person(person: Places) -> tuple[Places, Places]:
    """Return every two cases of one person, the earlier one first; -1 is nobody."""
    order = np.argsort(person, kind="stable")
    order = order[np.searchsorted(person[order], 0) :]
    sorted_by = person[order]
    ends = np.searchsorted(sorted_by, sorted_by, "right")
    after = ends - np.arange(len(order)) - 1
    one = np.repeat(np.arange(len(order)), after)
    step = np.arange(len(one)) - np.repeat(np.cumsum(after) - after, after)
    return order[one], order[one + 1 + step]


def _shared(
    numbers: NDArray[np.uint32], owner: Places, lengths: Places, one: Places, other: Places
) -> Places:
    """Return how much each two cases have in common, by looking one's up in the other's."""
    apart = int(numbers.max(initial=0)) + 1
    said = np.sort(owner * apart + numbers)
    begins = np.concatenate([[0], np.cumsum(lengths)])
    fresh, at = gathered(begins, one)
    pair = np.repeat(np.arange(len(one)), np.diff(fresh))
    wanted = other[pair] * apart + numbers[at]
    found = said.take(np.searchsorted(said, wanted), mode="clip") == wanted
    return np.bincount(pair[found], minlength=len(one))
