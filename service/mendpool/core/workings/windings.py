"""Winding resistance at 20 degrees C, and insulation at 40."""

from typing import Annotated, Literal

from mendpool.core.catalogue.tables import Tables
from mendpool.core.readings.refuse import refused
from mendpool.core.readings.workings import (
    ALUMINIUM_K,
    COPPER_K,
    insulation_at_40c,
    insulation_factor_to_40c,
    resistance_at,
)
from mendpool.core.record.fields import Record
from mendpool.core.workings.amounts import Takes
from mendpool.core.workings.inputs import Degrees, Ohms
from mendpool.core.workings.worked import Figure, Step, Sum, figure, shown, text


class WindingResistance(Record):
    """Inputs of `winding-resistance`."""

    ohms: Ohms
    at_degC: Degrees  # noqa: N815 - wire name
    leads_ohm: Annotated[float, Takes("ohm", 0, 10)] | None = None
    material: Literal["copper", "aluminium"] = "copper"
    reference_ohm: Ohms | None = None
    reference_degC: Degrees = 20.0  # noqa: N815 - wire name


def winding_resistance(given: WindingResistance, tables: Tables) -> Sum:
    """Work out a winding's resistance at 20 degrees C.

    Raises:
        RefusedInput: leads that read as much as the winding.
    """
    windings = tables.windings
    leads = given.leads_ohm or 0.0
    ohms = given.ohms - leads
    if ohms <= 0:
        raise refused("/leads_ohm", "the leads alone read as much: nothing is left")
    k = COPPER_K if given.material == "copper" else ALUMINIUM_K
    at_20 = resistance_at(ohms, given.at_degC, 20, k)
    words: dict[str, float | str] = {
        "ohms20": shown(at_20), "leads": shown(leads), "floor": windings.meter_floor,
    }  # fmt: skip
    outcome = "worked"
    also: tuple[Figure, ...] = ()
    if given.reference_ohm is not None:
        reference = resistance_at(given.reference_ohm, given.reference_degC, 20, k)
        off = 100 * (at_20 / reference - 1)
        outcome = "agrees" if abs(off) <= windings.percent else "low" if off < 0 else "high"
        words |= {"reference": shown(reference), "off": shown(abs(off), 2)}
        also = (figure("off", off, "%"), figure("reference20", reference, "ohm"))
    if given.ohms < windings.meter_floor and given.leads_ohm is None:
        outcome = "below-meter"
    return Sum(
        outcome=outcome,
        answer=figure("ohms20", at_20, "ohm"),
        steps=(
            Step(
                formula="R20 = R (k + 20)/(k + T)",
                numbers=(
                    f"{text(ohms)} x ({text(k)} + 20)/({text(k)} + {text(given.at_degC)}) = "
                    f"{text(at_20)} ohm"
                ),
            ),
        ),
        words=words,
        also=also,
        notes=("leads",) if given.leads_ohm else (),
    )


class Insulation(Record):
    """Inputs of `insulation`."""

    megohm: Annotated[float, Takes("Mohm", 0, 1e6)]
    at_degC: Degrees  # noqa: N815 - wire name


def insulation(given: Insulation, tables: Tables) -> Sum:
    """Work out insulation resistance at 40 degrees C."""
    bands = tables.insulation
    at_40 = insulation_at_40c(given.megohm, given.at_degC)
    outcome = "good" if at_40 >= bands.good else "dry" if at_40 >= bands.least else "do-not-run"
    factor = insulation_factor_to_40c(given.at_degC)
    return Sum(
        outcome=outcome,
        answer=figure("megohm40", at_40, "Mohm"),
        steps=(
            Step(
                formula="R40 = R x 0.5^((40 - T)/10)",
                numbers=f"{text(given.megohm)} x {text(factor)} = {text(at_40)} Mohm",
            ),
        ),
        words={"megohm40": shown(at_40, 3), "good": bands.good, "least": bands.least},
    )
