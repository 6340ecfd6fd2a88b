"""What several readings say together."""

from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.readings.judge import judge
from mendpool.core.readings.parse import understand
from mendpool.core.readings.together import Together, together
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import ReadingGiven

STANDBY = {"fuel": "diesel", "excitation": "brushed-avr", "phases": 1, "duty": "standby",
           "rated_kva": 6.5, "rated_volts": 240, "rated_hz": 60, "rated_rpm": 1800}  # fmt: skip


def findings(catalogue: Catalogue, *texts: str, **changes: Any) -> list[Together]:
    machine = Machine.model_validate({**STANDBY, **changes})
    judged = [
        judge(
            understand(
                ReadingGiven(text=text), catalogue.vocabulary, machine, catalogue.reading_words
            ),
            machine,
            catalogue.limits,
        )
        for text in texts
    ]
    return together(judged, machine, catalogue.patterns)


def codes(catalogue: Catalogue, *texts: str, **changes: Any) -> list[str]:
    return [finding.code for finding in findings(catalogue, *texts, **changes)]


@pytest.mark.parametrize(
    ("texts", "expected"),
    [
        (("190 V at the outlet", "52 hz"), ["engine-first"]),
        (("270 V at the outlet", "70 hz"), ["overspeed-first"]),
        (("190 V at the outlet", "60 hz"), ["excitation"]),
        (("275 V at the outlet", "60 hz"), ["excitation-high"]),
        (("240 V at the outlet", "60 hz"), []),
        (("3 V at the outlet", "1800 rpm"), ["no-excitation"]),
        (("leg 1 152 V", "leg 2 91 V"), ["lost-neutral"]),
        (("leg 1 121 V", "leg 2 119 V"), []),
        (("leg 1 120 V", "leg 2 0 V"), ["one-leg-dead"]),
        (("leg 1 120 V", "leg 2 100 V"), ["legs-unequal"]),
        (("61 hz no load", "55 hz full load"), ["engine-short-of-power", "droop-too-wide"]),
        (("63 hz no load", "60 hz full load"), []),
        (("240 V output no load", "200 V output full load", "60 hz full load"),
         ["excitation", "excitation-under-load"]),
        (("1800 rpm", "120 hz"), ["speed-and-hertz-disagree"]),
        (("battery 11 V cranking", "solenoid 8.9 V cranking"), ["solenoid-starved"]),
        (("battery 9.7 V cranking", "solenoid 9 V cranking"), []),
        (("brush to brush 60 ohm", "rotor 48 ohm"), ["lead-drop"]),
        (("connector 75 C", "ambient 20 C"), ["connector-hot"]),
        (("connector 75 C", "ambient 50 C"), []),
        (("cell 1 hydrometer 1.265", "cell 2 hydrometer 1.260", "cell 3 hydrometer 1.200"),
         ["cells-differ"]),
        (("240 V at the outlet", "sensing leads 200 V"), ["sensing-short"]),
    ],
)  # fmt: skip
def test_readings_point_at_something(
    catalogue: Catalogue, texts: tuple[str, ...], expected: list[str]
) -> None:
    assert codes(catalogue, *texts) == expected


def test_volts_and_hertz_both_wrong_is_not_the_engine_on_an_inverter_set(
    catalogue: Catalogue,
) -> None:
    assert codes(catalogue, "190 V at the outlet", "52 hz", excitation="inverter") == []
    assert codes(catalogue, "61 hz no load", "55 hz full load", excitation="inverter") == []


def test_a_lost_neutral_is_a_danger_and_names_its_readings(catalogue: Catalogue) -> None:
    finding = findings(catalogue, "60 hz", "leg 1 152 V", "leg 2 91 V")[0]
    assert (finding.danger, finding.readings) == ("lost-neutral", (1, 2))
    assert finding.shows == ("unequal-legs",)
    assert "152" in finding.says
    assert "91" in finding.says


def test_legs_that_do_not_add_up_are_no_lost_neutral(catalogue: Catalogue) -> None:
    assert "lost-neutral" not in codes(catalogue, "leg 1 120 V", "leg 2 60 V")


def test_the_droop_allowed_is_that_of_the_class(catalogue: Catalogue) -> None:
    """ISO 8528-5: G1 8, G2 5, G3 3 per cent. CK-20: 62.4 to 60 is 4.0."""
    pair = ("62.4 hz no load", "60 hz full load")
    assert codes(catalogue, *pair, **{"class": "G2"}) == []
    assert codes(catalogue, *pair, **{"class": "G3"}) == ["droop-too-wide"]
    assert "droop-too-wide" not in codes(
        catalogue, "64.5 hz no load", "60 hz full load", **{"class": "G1"}
    )


def test_readings_of_two_loads_or_stages_are_not_mixed(catalogue: Catalogue) -> None:
    assert codes(catalogue, "190 V at the outlet full load", "52 hz no load") == []
    assert codes(catalogue, "190 V at the outlet", "after repair 52 hz") == []


def test_findings_as_left_show_no_symptom(catalogue: Catalogue) -> None:
    left = findings(catalogue, "after repair leg 1 152 V", "after repair leg 2 91 V")[0]
    assert left.shows == ()
    assert left.danger == "lost-neutral"


def test_one_thing_read_twice_is_not_compared_with_itself(catalogue: Catalogue) -> None:
    assert codes(catalogue, "cyl 1 compression 400 psi", "cyl 1 compression 250 psi") == []
    assert codes(catalogue, "compression 400 psi", "compression 250 psi") == []


def test_windings_are_compared_by_which(catalogue: Catalogue) -> None:
    three = (
        "stator winding 1 0.80 ohm",
        "stator winding 2 0.81 ohm",
        "stator winding 3 0.70 ohm",
    )
    finding = findings(catalogue, *three)[0]
    assert finding.code == "windings-differ"
    assert "no. 3" in finding.says
