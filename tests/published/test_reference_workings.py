"""Published values through our own workings and limits.

Each row beside this file carries its source, how far the source was seen (L seen in public
text, M from memory, P common practice) and its status: PUB if the outside document prints the
answer itself, DER if the answer was worked out from a published table or formula.
"""

import json
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.tables import Nec, Tables
from mendpool.core.diagnosis import decide
from mendpool.core.evidence import intervals
from mendpool.core.readings import workings, workings_air, workings_load
from mendpool.core.readings.judge import judge
from mendpool.core.readings.together import together
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading

ROWS = json.loads((Path(__file__).parent / "reference_rows.json").read_text("utf-8"))
MODULES: dict[str, ModuleType] = {
    "workings": workings,
    "workings_air": workings_air,
    "workings_load": workings_load,
    "intervals": intervals,
    "decide": decide,
}
PSI = 6.894757


def name(row: dict[str, Any]) -> str:
    return f"{row['id']} {row['source']}"


def worked_out(row: dict[str, Any], tables: Tables) -> list[float]:
    """The call with its arguments, the catalogue's table before them where it takes one."""
    module, _, function = row["call"].partition(".")
    args = list(row["args"])
    if "table" in row:
        table: Any = tables
        for part in row["table"].split("."):
            table = getattr(table, part)
        if isinstance(table, Nec):
            args[0] = table.wire(args[0])
        args.insert(0, table)
    answer = getattr(MODULES[module], function)(*args)
    return list(answer) if isinstance(answer, tuple | list) else [answer]


@pytest.mark.parametrize("row", [r for r in ROWS if "call" in r], ids=name)
def test_a_working_gives_the_published_answer(
    catalogue: Catalogue, row: dict[str, Any]
) -> None:
    assert worked_out(row, catalogue.tables) == pytest.approx(row["expected"], abs=row["tol"])


@pytest.mark.parametrize("row", [r for r in ROWS if "reading" in r], ids=name)
def test_a_limit_is_the_published_one(catalogue: Catalogue, row: dict[str, Any]) -> None:
    judged = judge(
        Reading(**row["reading"]), Machine.model_validate(row["machine"]), catalogue.limits
    ).judged
    for field, expected in row["expect"].items():
        assert getattr(judged, field) == expected


def compression(catalogue: Catalogue, fuel: str, *psi: float) -> list[str]:
    machine = Machine(fuel=fuel)
    judged = [
        judge(
            Reading(
                quantity="pressure", point="compression", value=p * PSI, unit="kPa", which=n + 1
            ),
            machine,
            catalogue.limits,
        )
        for n, p in enumerate(psi)
    ]
    return [finding.says for finding in together(judged, machine, catalogue.patterns)]


def test_diesel_cylinders_within_100_psi_are_alike(catalogue: Catalogue) -> None:
    """TM 5-2420-230-24-2: cylinders within 100 psi."""
    assert compression(catalogue, "diesel", 445, 440, 345.5, 435) == []
    assert "no. 3" in compression(catalogue, "diesel", 445, 440, 344, 435)[0]


def test_petrol_cylinders_are_alike_down_to_three_quarters(catalogue: Catalogue) -> None:
    """CK-17: of a highest 160 psi, 120 psi is the lowest at 75 per cent."""
    assert compression(catalogue, "petrol", 160, 120.1) == []
    assert "no. 2" in compression(catalogue, "petrol", 160, 119.9)[0]


def test_the_printed_rule_for_motors_stops_at_five_per_cent(catalogue: Catalogue) -> None:
    """NEMA MG 1-14.36: above 5 per cent unbalance a motor is not to be run."""
    curve = catalogue.tables.motors.derating
    assert workings_load.motor_derating(curve, 5) == 0.75
    with pytest.raises(ValueError, match="not to be run"):
        workings_load.motor_derating(curve, 5.01)


def test_the_thermosetting_rule_has_ends() -> None:
    with pytest.raises(ValueError, match="10 to 85"):
        workings.insulation_factor_thermosetting(90)


@pytest.mark.parametrize(
    ("figures", "why"),
    [((80,), "columns"), ((75, 50), "hotter"), ((75, 30, 21), "hotter")],
)
def test_what_the_wire_tables_lack_is_refused(
    catalogue: Catalogue, figures: tuple[Any, ...], why: str
) -> None:
    nec = catalogue.tables.nec
    assert nec.wire("13") is None
    with pytest.raises(ValueError, match=why):
        workings_load.ampacity(nec, nec.wires[1], *figures)


def test_a_code_letter_that_is_not_used_is_refused(catalogue: Catalogue) -> None:
    """NEC 430.7(B): I, O and Q are not used; V is open above."""
    for letter in "IOQV":
        with pytest.raises(ValueError, match="code letter"):
            workings_load.locked_rotor_kva(catalogue.tables.motors.letters, 3, letter)


def test_every_row_says_where_it_is_from() -> None:
    assert len({row["id"] for row in ROWS}) >= 45
    for row in ROWS:
        assert row["status"] in {"PUB", "DER"}
        assert row["tag"] in {"L", "M", "P"}
        assert row["source"]
