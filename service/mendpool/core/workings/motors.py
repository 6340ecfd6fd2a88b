"""Will it start the pump: the dip in the volts, and the engine's power."""

from dataclasses import dataclass
from typing import Annotated

from pydantic import Field

from mendpool.core.catalogue.tables import Motors, Tables
from mendpool.core.readings.refuse import refused
from mendpool.core.readings.workings import apparent_kva
from mendpool.core.readings.workings_load import dip_percent, locked_rotor_kva, running_amps
from mendpool.core.record.fields import Record
from mendpool.core.workings.amounts import Takes
from mendpool.core.workings.inputs import Amps, Code, Kva, Kw, Phases, Volts
from mendpool.core.workings.worked import Step, Sum, figure, shown, text

_INVERTER = "inverter"
_KW_PER_HP = 0.7457
"""One mechanical horsepower; exact to the digits given."""


class PumpStart(Record):
    """Inputs of `pump-start`."""

    motor_hp: Annotated[float, Takes("hp", 0, 200, above=True)]
    code_letter: Annotated[str, Field(pattern=r"^[A-Za-z]$")] | None = None
    locked_amps: Amps | None = None
    running_amps: Amps | None = None
    volts: Volts
    phases: Phases = 1
    set_kva: Kva
    set_kw: Kw | None = None
    peak_kva: Kva | None = None
    excitation: Code | None = None
    other_kw: Annotated[float, Takes("kW", 0, 5000)] = 0.0


@dataclass(frozen=True, slots=True)
class _Start:
    """The kVA of a start, from and to, with how it was got."""

    low: float
    high: float
    steps: tuple[Step, ...]
    notes: tuple[str, ...] = ()
    words: tuple[tuple[str, float], ...] = ()


def pump_start(given: PumpStart, tables: Tables) -> Sum:
    """Work out whether a set can start a motor.

    Raises:
        RefusedInput: a letter that is not used or is open above; a size no table has; a set
            that already carries all it can.
    """
    if given.excitation == _INVERTER:
        return _from_inverter(given, tables)
    start = _start(given, tables.motors)
    starting = tables.starting
    rated_kw = given.set_kw or starting.set_power_factor * given.set_kva
    free = rated_kw - given.other_kw
    if free <= 0:
        raise refused("/other_kw", "it already carries all it can")
    least, usual, most = starting.reactance
    low, high = (
        dip_percent(start.low, given.set_kva, least),
        dip_percent(start.high, given.set_kva, most),
    )
    middle = dip_percent((start.low + start.high) / 2, given.set_kva, usual)
    usual_high = dip_percent(start.high, given.set_kva, usual)
    need = tuple(
        kva * pf for kva, pf in zip((start.low, start.high), starting.power_factor, strict=True)
    )
    limit = starting.dip_percent
    outcome = "doubtful"
    if low > limit or need[0] > free:
        outcome = "stalls"
    elif usual_high <= limit and need[1] <= free:
        outcome = "starts"
    notes = (*start.notes, *(() if given.set_kw else ("set-kw",)))
    return Sum(
        outcome=outcome,
        answer=figure("dip", middle, "%", (low, high)),
        steps=(
            *start.steps,
            Step(
                formula="dip % = 100 X S_start/(S_set + X S_start)",
                numbers=(
                    f"100 x {text(usual)} x {text((start.low + start.high) / 2)}"
                    f"/({text(given.set_kva)} + {text(usual)} x "
                    f"{text((start.low + start.high) / 2)}) = {text(middle)} %"
                ),
            ),
            Step(
                formula="kW while starting = S_start x power factor",
                numbers=(
                    f"{text(start.low)} x {text(starting.power_factor[0])} = {text(need[0])}; "
                    f"{text(start.high)} x {text(starting.power_factor[1])} = {text(need[1])}"
                ),
            ),
        ),
        words={
            "dip": shown(middle, 3), "dip_low": shown(low, 3), "dip_high": shown(high, 3),
            "limit": limit, "need_low": shown(need[0], 3), "need_high": shown(need[1], 3),
            "free": shown(free, 3), "share": starting.set_power_factor,
            **dict(start.words),
        },
        also=(
            figure("start_kva", (start.low + start.high) / 2, "kVA", (start.low, start.high)),
            figure("start_kw", (need[0] + need[1]) / 2, "kW", (need[0], need[1])),
        ),
        notes=notes,
        assumed=notes,
    )  # fmt: skip


def _from_inverter(given: PumpStart, tables: Tables) -> Sum:
    """An inverter set limits its current: running kVA times three to seven against its peak."""
    starting = tables.starting
    running, steps, notes, words = _running_kva(given, tables.motors)
    need = (running * starting.inverter_times[0], running * starting.inverter_times[1])
    peak = (
        (given.peak_kva, given.peak_kva)
        if given.peak_kva
        else (
            given.set_kva * starting.inverter_peak[0],
            given.set_kva * starting.inverter_peak[1],
        )
    )
    outcome = "inverter-doubtful"
    if need[1] <= peak[0]:
        outcome = "inverter-starts"
    elif need[0] > peak[1]:
        outcome = "inverter-stalls"
    return Sum(
        outcome=outcome,
        answer=figure("start_kva", (need[0] + need[1]) / 2, "kVA", need),
        steps=(
            *steps,
            Step(
                formula="S_start = running kVA x 3 to 7",
                numbers=f"{text(running)} kVA: {text(need[0])} to {text(need[1])} kVA",
            ),
        ),
        words={
            "kva_low": shown(need[0], 3), "kva_high": shown(need[1], 3),
            "peak_low": shown(peak[0], 3), "peak_high": shown(peak[1], 3), **dict(words),
        },
        also=(figure("peak_kva", (peak[0] + peak[1]) / 2, "kVA", peak),),
        notes=notes,
        assumed=notes,
    )  # fmt: skip


def _start(given: PumpStart, motors: Motors) -> _Start:
    if given.locked_amps is not None:
        kva = apparent_kva(given.volts, given.locked_amps, given.phases)
        # Held still it draws more than when it runs, and no motor gives more than it takes.
        if kva <= given.motor_hp * _KW_PER_HP:
            says = f"too few to start {text(given.motor_hp)} hp: are they the running amps?"
            raise refused("/locked_amps", says)
        return _Start(kva, kva, (_apparent(given.volts, given.locked_amps, given.phases, kva),))
    if given.code_letter is not None:
        letter = given.code_letter.upper()
        return _by_letters(given.motor_hp, (letter, letter), motors, ())
    if given.phases == 3:
        rows = [row for row in motors.usual_letters if given.motor_hp >= row.from_hp]
        return _by_letters(given.motor_hp, rows[-1].letters, motors, ("usual-letter",))
    running, steps, notes, words = _running_kva(given, motors)
    kva = motors.locked_times * running
    times = Step(
        formula="S_start = 6 x running kVA",
        numbers=f"{text(motors.locked_times)} x {text(running)} = {text(kva)} kVA",
    )
    return _Start(kva, kva, (*steps, times), ("six-times", *notes), words)


def _by_letters(
    horsepower: float, letters: tuple[str, str], motors: Motors, notes: tuple[str, ...]
) -> _Start:
    low_letter, high_letter = letters
    if low_letter == motors.open_letter:
        says = f"letter {low_letter} has no upper end: give the starting amps (locked_amps)"
        raise refused("/code_letter", says)
    try:
        low, _ = locked_rotor_kva(motors.letters, horsepower, low_letter)
        _, high = locked_rotor_kva(motors.letters, horsepower, high_letter)
    except ValueError:
        raise refused("/code_letter", f"no motor has code letter {low_letter}") from None
    each = (motors.letters[low_letter][0], motors.letters[high_letter][1])
    step = Step(
        formula="S_start = horsepower x kVA for each horsepower of the letter",
        numbers=(
            f"{text(horsepower)} x {text(each[0])} to {text(each[1])} = "
            f"{text(low)} to {text(high)} kVA"
        ),
    )
    return _Start(low, high, (step,), notes)


def _running_kva(
    given: PumpStart, motors: Motors
) -> tuple[float, tuple[Step, ...], tuple[str, ...], tuple[tuple[str, float], ...]]:
    if given.running_amps is not None:
        kva = apparent_kva(given.volts, given.running_amps, given.phases)
        return kva, (_apparent(given.volts, given.running_amps, given.phases, kva),), (), ()
    table = motors.three_phase if given.phases == 3 else motors.one_phase
    try:
        amps, volts = running_amps(table, given.motor_hp, given.volts)
    except ValueError as error:
        says = f"{error}: give the motor's running or starting amps from its plate"
        raise refused("/motor_hp", says) from None
    kva = apparent_kva(volts, amps, given.phases)
    near = abs(volts - given.volts) < 0.5
    words = (("table_volts", volts), ("volts", given.volts))
    steps = (_apparent(volts, amps, given.phases, kva),)
    return kva, steps, () if near else ("nearest-volts",), words


def _apparent(volts: float, amps: float, phases: int, kva: float) -> Step:
    root = "root 3 x " if phases == 3 else ""
    return Step(
        formula=f"S = {root}V x I/1000",
        numbers=f"{root}{text(volts)} x {text(amps)}/1000 = {text(kva)} kVA",
    )
