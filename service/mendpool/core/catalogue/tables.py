"""Published tables as values: wires, motors, batteries, fuels, classes: `tables.yaml`.

Every table stands in order, smallest first, which is checked when it is read.
"""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from mendpool.core.catalogue.model import Code, Confidence, Entry

Above0 = Annotated[float, Field(gt=0)]
Share = Annotated[float, Field(gt=0, le=1)]
ClassName = Literal["G1", "G2", "G3"]


def _rising(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    _in_order([x for x, _ in points])
    return points


def _in_order(figures: Sequence[float]) -> None:
    if not figures or any(one >= other for one, other in pairwise(figures)):
        raise ValueError("rows must stand in order, smallest first, each once")


def _low_high(span: tuple[float, float]) -> tuple[float, float]:
    if not 0 <= span[0] <= span[1]:
        raise ValueError("from must not be above to")
    return span


Points = Annotated[tuple[tuple[float, float], ...], AfterValidator(_rising)]
Span = Annotated[tuple[float, float], AfterValidator(_low_high)]


class Sourced(Entry):
    """A table with where it comes from."""

    source: str
    confidence: Confidence


class Heat(Entry):
    """Factors of the three insulation columns up to a heat around, degrees C."""

    to: float
    factors: tuple[Share, Share, Share]


class HeatOne(Entry):
    """One factor up to a heat around, degrees C."""

    to: float
    factor: Share


class Together(Entry):
    """A factor for up to so many wires or circuits together."""

    most: Annotated[int, Field(ge=1)]
    factor: Share


class Wire(Entry):
    """An AWG size: ohm per 1000 ft, amps of the 60, 75 and 90 degree columns."""

    size: str
    circular_mil: Above0
    copper: Above0
    reactance: Above0
    amps: tuple[Above0, Above0, Above0]
    breaker: Above0 | None = None


class Nec(Sourced):
    """Wires by AWG."""

    drop_percent: Above0
    continuous: Annotated[float, Field(ge=1)]
    wires: tuple[Wire, ...]
    ambient: tuple[Heat, ...]
    bundling: tuple[Together, ...]

    def wire(self, size: str) -> Wire | None:
        """Return a size, None where the table lacks it."""
        return next((wire for wire in self.wires if wire.size == size), None)

    @model_validator(mode="after")
    def _whole(self) -> Self:
        _in_order([wire.circular_mil for wire in self.wires])
        _in_order([-wire.copper for wire in self.wires])
        _in_order([row.to for row in self.ambient])
        _in_order([row.most for row in self.bundling])
        for column in range(3):
            _in_order([wire.amps[column] for wire in self.wires])
        return self


class Cable(Entry):
    """A metric size: ohm per km at 20 degrees C, amps with two and with three loaded wires."""

    size: Above0
    ohm: Above0
    flexible: Above0
    amps: tuple[Above0, Above0]


class Iec(Sourced):
    """Cables by mm²."""

    drop_percent: Above0
    runs_at: float
    cables: tuple[Cable, ...]
    ambient: tuple[HeatOne, ...]
    grouping: tuple[Together, ...]

    @model_validator(mode="after")
    def _whole(self) -> Self:
        _in_order([cable.size for cable in self.cables])
        _in_order([-cable.ohm for cable in self.cables])
        _in_order([row.to for row in self.ambient])
        _in_order([row.most for row in self.grouping])
        return self


class MotorRow(Entry):
    """Running amps of one size of motor, in the order of the table's volts."""

    hp: Above0
    amps: tuple[Above0, ...]


class MotorAmps(Entry):
    """Running amps by horsepower and volts."""

    volts: tuple[float, ...]
    rows: tuple[MotorRow, ...]

    @model_validator(mode="after")
    def _whole(self) -> Self:
        _in_order(self.volts)
        _in_order([row.hp for row in self.rows])
        if any(len(row.amps) != len(self.volts) for row in self.rows):
            raise ValueError("each row needs one figure for each of the volts")
        return self


class UsualLetters(Entry):
    """The code letters usual from so many horsepower up, from and to."""

    from_hp: float
    letters: tuple[str, str]


class Motors(Sourced):
    """What motors draw, running and starting."""

    letters: Mapping[str, Span]
    open_letter: str
    usual_letters: tuple[UsualLetters, ...]
    locked_times: Above0
    one_phase: MotorAmps
    three_phase: MotorAmps
    derating: Points

    @model_validator(mode="after")
    def _whole(self) -> Self:
        _in_order([edge for span in self.letters.values() for edge in span])
        _in_order([row.from_hp for row in self.usual_letters])
        named = {letter for row in self.usual_letters for letter in row.letters}
        if not named <= set(self.letters):
            raise ValueError("usual_letters names a letter that letters lacks")
        return self


class Starting(Sourced):
    """How a set answers a motor's start."""

    reactance: tuple[Above0, Above0, Above0]
    dip_percent: Annotated[float, Field(gt=0, lt=100)]
    power_factor: Span
    set_power_factor: Share
    inverter_times: Span
    inverter_peak: Span


class Contacts(Sourced):
    """How pins of a connector are loaded."""

    doubling: Share
    tight: Share
    joint_volts: Above0


class ChargeRow(Entry):
    """One state of charge of a 12 V battery."""

    volts: Above0
    percent: Annotated[float, Field(ge=0, le=100)]
    gravity: Above0
    freezes: float


class Battery(Sourced):
    """States of charge and the load test of a flooded 12 V battery."""

    nominal: Above0
    split: Above0
    meter_percent: Above0
    charge: tuple[ChargeRow, ...]
    load_test: Points

    @model_validator(mode="after")
    def _whole(self) -> Self:
        _in_order([row.volts for row in self.charge])
        _in_order([row.percent for row in self.charge])
        return self

    @property
    def percent_by_volts(self) -> tuple[tuple[float, float], ...]:
        """Per cent of charge against rested volts."""
        return tuple((row.volts, row.percent) for row in self.charge)

    @property
    def freezes_by_percent(self) -> tuple[tuple[float, float], ...]:
        """Degrees C at which it freezes against per cent of charge."""
        return tuple((row.percent, row.freezes) for row in self.charge)


class Fuel(Entry):
    """What a litre holds, and how much a set burns for each kWh."""

    kwh_per_litre: Above0
    litres_per_kwh: Span


class Fuels(Sourced):
    """Fuels that come in a tank."""

    rows: Mapping[Code, Fuel]


class Insulation(Sourced):
    """Bands of insulation resistance at 40 degrees C, megohm."""

    good: Above0
    least: Above0


class Windings(Sourced):
    """When a winding agrees with its reference."""

    percent: Above0
    meter_floor: Above0


class ClassRow(Entry):
    """Limits of one performance class: per cent of rated, seconds to recover."""

    droop: Above0
    hertz_band: Above0
    hertz_rise: Above0
    hertz_fall: Above0
    hertz_seconds: Above0
    volts_off: Above0
    volts_rise: Above0
    volts_fall: Above0
    volts_seconds: Above0
    confidence: Confidence


class HeldTo(Entry):
    """What of a quantity is held to a class, and as which kind."""

    kind: Literal["voltage", "frequency"]
    points: tuple[Code, ...]


class Classes(Entry):
    """Performance classes, loosest first, and what is taken for one where none is given."""

    source: str
    rows: Mapping[ClassName, ClassRow]
    usual: Mapping[Code, ClassName]
    judged: Mapping[Code, HeldTo]
    moving: tuple[Code, ...]
    steady_share: Share
    steady_source: str


class ScaledBy(Entry):
    """The plate's figure that readings at some points are a share of."""

    figure: Literal["rated_volts", "rated_hz", "rated_rpm", "rated_kva"]
    points: tuple[Code, ...]


class Healthy(Sourced):
    """How far a reading may lie from what good sets read and still be alike.

    `percent_by` stands in for `percent` by quantity.
    """

    spreads: Above0
    percent: Above0
    percent_by: Mapping[Code, Above0]
    scaled_by: Mapping[Code, ScaledBy]
    means: Mapping[
        Literal["own past", "sets like it"], Mapping[Literal["low", "within", "high"], str]
    ]

    @model_validator(mode="after")
    def _every_sentence(self) -> Self:
        for against in ("own past", "sets like it"):
            for verdict in ("low", "within", "high"):
                sentence = self.means.get(against, {}).get(verdict, "")
                if not sentence:
                    raise ValueError(f"means lacks {against}: {verdict}")
                sentence.format(middle="", unit="", readings="", people="")
        return self


class Tables(Entry):
    """All of `tables.yaml`."""

    nec: Nec
    iec: Iec
    motors: Motors
    starting: Starting
    contacts: Contacts
    battery: Battery
    fuels: Fuels
    insulation: Insulation
    windings: Windings
    classes: Classes
    healthy: Healthy
