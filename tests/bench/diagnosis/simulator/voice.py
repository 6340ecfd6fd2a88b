"""A complaint in somebody's words: pieces, order, style, typing."""

from collections.abc import Sequence
from random import Random
from typing import NamedTuple

from mendpool.core.record.machine import Machine

from tests.bench.diagnosis.simulator.pieces import pieces
from tests.bench.diagnosis.simulator.world import Fault

_SKEW = 1.2
TELL = 0.7
"""How often what gives a fault away is said. With what is looked at it makes how hard the
questions are. It was raised once after a trial of 40 questions (ceiling 0.66 first, ours
0.16): a mind that knows every number of the world now names the true cause first in about
0.86 of questions and in three in 0.92. So the level is our choice; only differences inform."""

_DENIAL = 0.15
_STYLES = {"plain": 0.55, "second language": 0.2, "phone": 0.25}
_TYPOS = {"plain": 0.015, "second language": 0.04, "phone": 0.05}
_ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
_BESIDE = {
    letter: (row[max(0, i - 1) : i] + row[i + 1 : i + 2])
    + "".join(other[i : i + 1] for other in _ROWS if other is not row)
    for row in _ROWS
    for i, letter in enumerate(row)
}


class Tongue(NamedTuple):
    """Which pieces are common in a world: `asks` picks most what reports say least.

    People who ask are not those who report, so a question mostly finds its own words in few
    reports. The order is the world's own, by its seed.
    """

    seed: int
    asks: bool

    def pick(self, said: Sequence[str], rng: Random) -> str:
        """Return one of the pieces, some much oftener than others."""
        order = sorted(said)
        Random(f"{self.seed} {order[0]}").shuffle(order)
        weights = [(place + 1) ** -_SKEW for place in range(len(order))]
        return rng.choices(order, weights=weights[::-1] if self.asks else weights)[0]


class Speaker(NamedTuple):
    """Whose set it is: the set, and the cause that may be given away (None: nobody knows)."""

    machine: Machine
    key: str | None


class Voiced(NamedTuple):
    """A complaint, how it was said, and whether the fault was given away."""

    text: str
    style: str
    told: bool


def voice(
    fault: Fault, speaker: Speaker, tongue: Tongue, rng: Random, tried: str | None = None
) -> Voiced:
    """Say what is wrong.

    Args:
        tried: a part that was changed for nothing, to be said in passing.
    """
    p = pieces()
    machine, key = speaker
    said = [_of_symptom(fault.symptom, machine, tongue, rng)]
    if rng.random() < 0.2:
        said.append(_of_symptom(fault.symptom, machine, tongue, rng))
    said += [_of_symptom(code, machine, tongue, rng) for code in fault.others]
    tells = p.tells.get(key or "", ())
    told = bool(tells) and rng.random() < TELL
    if told:
        said.insert(rng.choice((0, len(said))), tongue.pick(tells, rng))
    if rng.random() < _DENIAL:
        said.append(_denial(fault, rng))
    for _ in range(rng.choice((0, 0, 1, 1, 2))):
        said.insert(rng.randrange(len(said) + 1), rng.choice(p.filler))
    words = p.parts.get(tried or "", ())
    if words:
        said.append(rng.choice(p.changed).format(rng.choice(words)))
    style = rng.choices(list(_STYLES), weights=list(_STYLES.values()))[0]
    text = dict.fromkeys(filter(None, said))
    whole = _opened(_joined(list(text), rng), style, rng)
    return Voiced(_typed(_styled(whole, style, rng), _TYPOS[style], rng), style, told)


def _of_symptom(code: str, machine: Machine, tongue: Tongue, rng: Random) -> str:
    kinds = pieces().symptoms.get(code)
    if kinds is None:
        return ""
    fitting = [list(kinds["any"])]
    fitting += [
        list(said)
        for kind, said in kinds.items()
        if kind in (machine.fuel, machine.starting, machine.excitation)
    ]
    return tongue.pick(rng.choice(fitting), rng)


def _denial(fault: Fault, rng: Random) -> str:
    said, codes = rng.choice(pieces().denials)
    return "" if {fault.symptom, *fault.others} & set(codes) else said


def _joined(said: list[str], rng: Random) -> str:
    text = said[0]
    for piece in said[1:]:
        text += rng.choice(pieces().joins) + piece
    return text


def _opened(text: str, style: str, rng: Random) -> str:
    p = pieces()
    if style == "second language" and rng.random() < 0.5:
        text = f"{rng.choice(p.second_language['openers'])}, {text}"
    elif rng.random() < 0.3:
        text = f"{rng.choice(p.openers)}. {text}"
    return f"{text}. {rng.choice(p.closers)}" if rng.random() < 0.3 else text


def _styled(text: str, style: str, rng: Random) -> str:
    if style == "plain":
        return text[:1].upper() + text[1:] if rng.random() < 0.6 else text
    rules = pieces().second_language if style == "second language" else pieces().phone
    words = []
    for word in text.split(" "):
        bare = word.rstrip(".,;")
        if bare in rules.get("drop", ()) and rng.random() < 0.5:
            continue
        swapped = rules["swap"].get(bare) if rng.random() < 0.6 else None
        words.append(swapped + word[len(bare) :] if swapped else word)
    text = " ".join(words)
    return text.replace(",", "").replace("'", "") if style == "phone" else text


def _typed(text: str, chance: float, rng: Random) -> str:
    return " ".join(
        _mistyped(w, rng) if len(w) > 3 and rng.random() < chance * 2 else w
        for w in text.split(" ")
    )


def _mistyped(word: str, rng: Random) -> str:
    at = rng.randrange(1, len(word))
    kind = rng.random()
    if kind < 0.35 and word[at] in _BESIDE and _BESIDE[word[at]]:
        return word[:at] + rng.choice(_BESIDE[word[at]]) + word[at + 1 :]
    if kind < 0.6:
        return word[:at] + word[at + 1 :]
    if kind < 0.8:
        return word[: at - 1] + word[at] + word[at - 1] + word[at + 1 :]
    return word[:at] + word[at] + word[at:]
