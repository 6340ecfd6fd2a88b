"""Words that trap a matcher: every one on the trade's list is read as the trade means it."""

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.machine import Machine
from mendpool.core.text.reader import Reader, Understood

PETROL = Machine(fuel="petrol", phases=1)
LPG = Machine(fuel="lpg", phases=1)
DIESEL = Machine(fuel="diesel", phases=1)
THREE_PHASE = Machine(fuel="diesel", phases=3)
NOT_SAID = Machine()


@pytest.fixture(scope="module")
def reader(engine: Engine) -> Reader:
    return engine.plain_reader


def surest(read: Understood) -> str | None:
    """The symptom said outright, None where nothing is."""
    code, sure = next(iter(read.symptoms.items()), ("", 0.0))
    return code if sure >= 0.8 else None


# --- gas is petrol or LPG, by the plate


def test_gas_is_petrol_on_a_petrol_set_and_lpg_on_an_lpg_set(reader: Reader) -> None:
    assert "petrol" in reader.read("old gas in it", PETROL).words
    assert "lpg" in reader.read("old gas in it", LPG).words


def test_gas_stays_gas_where_the_plate_does_not_settle_it(reader: Reader) -> None:
    for machine in (NOT_SAID, DIESEL, Machine(fuel="dual-fuel"), Machine(fuel="natural-gas")):
        words = reader.read("old gas in it", machine).words
        assert "gas" in words
        assert not {"petrol", "lpg"} & set(words)


def test_a_gas_bottle_and_exhaust_gas_are_no_petrol(reader: Reader) -> None:
    assert "petrol" not in reader.read("the gas bottle is empty", PETROL).words
    for machine in (PETROL, LPG):
        words = reader.read("exhaust gas in the room", machine).words
        assert not {"petrol", "lpg"} & set(words)
        assert "fume" in words


# --- choked is blocked, not the choke


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("air filter choked", "air-filter"),
        ("fuel filter is choked up", "fuel-filter"),
        ("silencer getting choked", "exhaust"),
    ],
)
def test_choked_is_blocked(reader: Reader, text: str, part: str) -> None:
    read = reader.read(text, PETROL)
    assert read.components == (part,)
    assert "block" in read.words


def test_the_choke_is_the_choke(reader: Reader) -> None:
    read = reader.read("choke stuck open", PETROL)
    assert read.components == ("choke",)
    assert "block" not in read.words


# --- missing is misfiring as often as a lost part


@pytest.mark.parametrize(
    "text", ["engine is missing", "keeps missing", "missing on one cylinder"]
)
def test_an_engine_that_is_missing_misfires(reader: Reader, text: str) -> None:
    assert surest(reader.read(text, PETROL)) == "misfires"


@pytest.mark.parametrize("text", ["fuel cap missing", "a screw is missing from the cover"])
def test_a_part_that_is_missing_is_no_misfire(reader: Reader, text: str) -> None:
    assert "misfires" not in reader.read(text, PETROL).symptoms


# --- heating is overheating


@pytest.mark.parametrize(
    "text", ["engine heating", "heating too much", "the set is heating up"]
)
def test_heating_is_overheating(reader: Reader, text: str) -> None:
    assert surest(reader.read(text, DIESEL)) == "overheats"


def test_a_plug_or_a_joint_that_heats_is_no_overheated_engine(reader: Reader) -> None:
    assert "overheats" not in reader.read("glow plug not heating", DIESEL).symptoms
    cable = reader.read("cable heating at the terminal", DIESEL)
    assert surest(cable) == "hot-connection"
    assert "overheats" not in cable.symptoms


# --- load, and the RCD


@pytest.mark.parametrize(
    "text",
    ["not taking load", "dg not taking the load", "doesn't take load", "load not taking"],
)
def test_not_taking_load_is_dropping_under_load(reader: Reader, text: str) -> None:
    assert surest(reader.read(text, DIESEL)) == "drops-under-load"


@pytest.mark.parametrize(
    "text",
    [
        "trips the earth leakage", "tripping earth leakage", "earth leakage trips at once",
        "safety switch trips", "trips the safety switch", "the elcb trips",
    ],
)  # fmt: skip
def test_earth_leakage_and_safety_switch_are_the_rcd(reader: Reader, text: str) -> None:
    read = reader.read(text, PETROL)
    assert surest(read) == "trips-rcd"
    assert "rcd" in read.components


def test_the_engines_own_safety_switch_is_no_rcd(reader: Reader) -> None:
    for text in (
        "oil safety switch faulty",
        "engine cuts out on the oil pressure safety switch",
    ):
        read = reader.read(text, DIESEL)
        assert read.components == ("oil-switch",)
        assert "trips-rcd" not in read.symptoms


# --- nothing comes out


@pytest.mark.parametrize(
    "text", ["current not coming", "current is not coming", "no current coming"]
)
def test_current_not_coming_is_no_output(reader: Reader, text: str) -> None:
    assert surest(reader.read(text, DIESEL)) == "no-output"


def test_current_that_does_not_come_to_the_panel_is_something_else(reader: Reader) -> None:
    assert surest(reader.read("current not coming to the panel", DIESEL)) != "no-output"


@pytest.mark.parametrize("text", ["phase gone", "phase has gone", "phase not coming"])
def test_phase_gone_is_no_output_on_a_two_wire_set(reader: Reader, text: str) -> None:
    assert surest(reader.read(text, DIESEL)) == "no-output"


@pytest.mark.parametrize("machine", [THREE_PHASE, NOT_SAID])
def test_phase_gone_is_a_dead_leg_on_a_set_with_three(reader: Reader, machine: Machine) -> None:
    assert surest(reader.read("phase gone", machine)) == "one-leg-dead"


# --- parts under other names


@pytest.mark.parametrize("text", ["self not working", "self is dead", "self start not working"])
def test_the_self_is_the_starter(reader: Reader, text: str) -> None:
    read = reader.read(text, DIESEL)
    assert read.components == ("starter-motor",)
    assert surest(read) == "no-crank"


@pytest.mark.parametrize("text", ["stops by itself", "stops by it self"])
def test_it_self_is_no_starter(reader: Reader, text: str) -> None:
    read = reader.read(text, DIESEL)
    assert surest(read) == "stops-running"
    assert "starter-motor" not in read.components


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("carbons worn", "brushes"),
        ("carbon brushes worn", "brushes"),
        ("condenser blown", "capacitor"),
        ("feed pump leaking", "lift-pump"),
        ("FIP leaking", "injection-pump"),
        ("fip rack jammed", "injection-pump"),
        ("silencer rusted through", "exhaust"),
        ("tappets noisy", "valve-gear"),
        ("tappet gap too wide", "valve-gear"),
        ("changeover stuck", "transfer-switch"),
        ("AMF panel dead", "transfer-switch"),
    ],
)
def test_parts_are_known_by_their_other_names(reader: Reader, text: str, part: str) -> None:
    assert part in reader.read(text, DIESEL).components


def test_the_injection_pump_is_not_taken_for_the_lift_pump(reader: Reader) -> None:
    assert reader.read("feed pump", DIESEL).components == ("lift-pump",)
    assert reader.read("FIP", DIESEL).components == ("injection-pump",)


def test_the_dynamo_is_the_alternator(reader: Reader) -> None:
    dynamo = reader.read("dynamo not giving current", DIESEL)
    assert dynamo == reader.read("alternator not giving current", DIESEL)
    assert surest(dynamo) == "no-output"


def test_the_motor_is_the_engine(reader: Reader) -> None:
    assert "engin" in reader.read("motor runs but no power", PETROL).words
    for text in ("the motor won't start", "motor wont start", "motor not starting"):
        assert surest(reader.read(text, PETROL)) == "cranks-no-start"


@pytest.mark.parametrize("text", ["starter motor clicks", "will not run the pump motor"])
def test_a_starter_or_a_loads_motor_is_no_engine(reader: Reader, text: str) -> None:
    read = reader.read(text, PETROL)
    assert "engin" not in read.words
    assert surest(read) != "cranks-no-start"


def test_a_changeover_that_does_not_change_over_does_not_transfer(reader: Reader) -> None:
    for text in ("changeover not working", "does not change over"):
        assert surest(reader.read(text, DIESEL)) == "no-transfer"


# --- the list as a whole


def test_every_trap_says_something_else(catalogue: Catalogue) -> None:
    for trap in catalogue.words.traps:
        assert trap.phrase.split()
        assert trap.phrase != trap.means


def test_a_trap_is_taken_word_for_word_and_in_any_case(reader: Reader) -> None:
    assert reader.read("AIR FILTER CHOKED", PETROL) == reader.read("air filter choked", PETROL)
    assert "choke" in reader.read("the choke", PETROL).components


def test_a_solenoid_that_clicks_on_an_engine_that_cranks_is_no_dead_starter(
    reader: Reader,
) -> None:
    read = reader.read("cranks fine, no start, bled it twice, solenoid clicks", DIESEL)
    assert surest(read) != "clicks-only"
    assert max(read.symptoms, key=lambda code: read.symptoms[code]) == "cranks-no-start"
    dead = reader.read("only the solenoid clicks, does not turn", DIESEL)
    assert surest(dead) == "clicks-only"


def test_chargers_that_refuse_the_supply_are_no_flat_starter_battery(reader: Reader) -> None:
    read = reader.read("chargers wont charge on it but lamps work fine", PETROL)
    assert surest(read) == "upsets-electronics"
