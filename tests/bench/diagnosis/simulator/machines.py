"""Sets as people own them, and what their owners know of them."""

from math import exp
from random import Random

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.knowledge import possible_kinds
from mendpool.core.record.machine import Machine

_FUELS = (("petrol", 48), ("diesel", 34), ("dual-fuel", 7), ("lpg", 6), ("natural-gas", 5))
_KVA = {
    "petrol": (1.0, 2.2, 3.0, 5.5, 6.5, 8.0),
    "diesel": (3.0, 5.5, 6.5, 8.0, 11.0, 16.0, 20.0, 33.0, 45.0),
    "dual-fuel": (2.2, 5.5, 8.0),
    "lpg": (3.0, 8.0, 14.0),
    "natural-gas": (8.0, 14.0, 22.0),
}
_MIXED = ("excitation", "cooling", "starting", "control")
_KNOWS = {
    "excitation": 0.5, "cooling": 0.9, "starting": 0.9, "control": 0.7, "duty": 0.6,
    "governor": 0.3, "rated_kva": 0.85, "phases": 0.8,
}  # fmt: skip
_MIX_SPREAD = 0.4


class Machines:
    """Draws sets; the mix is off from the catalogue's by the world's seed."""

    def __init__(self, catalogue: Catalogue, seed: int) -> None:
        self._catalogue = catalogue
        rng = Random(f"mix {seed}")
        codes = sorted({c for f in _MIXED for e in catalogue.sets.mix[f] for c in e.shares})
        self._off = {code: exp(rng.gauss(0, _MIX_SPREAD)) for code in codes}

    def draw(self, rng: Random) -> Machine:
        """Return a set with everything known of it."""
        fuel = _pick(rng, dict(_FUELS))
        kva = rng.choice(_KVA[fuel])
        phases = 3 if kva >= 8 and rng.random() < 0.55 else 1
        sixty = rng.random() < 0.35
        machine = Machine(
            fuel=fuel,
            rated_kva=kva,
            phases=phases,
            drive="own-engine",
            rated_hz=60 if sixty else 50,
            rated_volts=(240 if phases == 1 else 208)
            if sixty
            else (230 if phases == 1 else 400),
        )
        for field in _MIXED:
            shares = possible_kinds(self._catalogue, machine, field)
            moved = {code: share * self._off[code] for code, share in shares.items()}
            machine = machine.model_copy(update={field: _pick(rng, moved)})
        small = kva < 8 and machine.control == "manual"
        duty = _pick(
            rng, {"portable": 80, "standby": 20} if small else {"standby": 60, "prime": 40}
        )
        governor = (
            "electronic" if machine.excitation == "inverter" or kva > 20 else "mechanical"
        )
        return machine.model_copy(update={"duty": duty, "governor": governor})


def as_told(machine: Machine, rng: Random) -> Machine:
    """Return the set as its owner tells of it: some things nobody looked at."""
    hidden = {field: None for field, knows in _KNOWS.items() if rng.random() > knows}
    return machine.model_copy(update=hidden)


def _pick(rng: Random, shares: dict[str, float]) -> str:
    return rng.choices(list(shares), weights=list(shares.values()))[0]
