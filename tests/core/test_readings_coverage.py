"""How much of quantity × point × condition has a band: a floor that may only rise."""

import itertools

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.readings.judge import judge
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading

PLATE = Machine.model_validate(
    {"fuel": "diesel", "excitation": "brushed-avr", "phases": 1, "duty": "standby",
     "rated_kva": 12, "rated_volts": 240, "rated_hz": 60, "rated_rpm": 1800, "start_volts": 12,
     "cooling": "liquid", "governor": "mechanical"}
)  # fmt: skip
"""Everything that stands on a nameplate."""
FLOOR = 0.857
"""Measured 2026-11; what is left has no published or customary band at all."""


def judged(catalogue: Catalogue, mark: float | None) -> dict[tuple[str, str, str], bool]:
    """Whether each place in each condition gets a verdict on a known set."""
    conditions = ("", *catalogue.vocabulary.conditions)
    table = {}
    for code, quantity in catalogue.vocabulary.readings.items():
        for point, condition in itertools.product(quantity.points, conditions):
            reading = Reading(
                quantity=code, point=point, condition=condition or None, value=1.2,
                unit=quantity.unit, mark=mark,
            )  # fmt: skip
            verdict = judge(reading, PLATE, catalogue.limits).judged.verdict
            table[code, point, condition] = verdict != "unjudged"
    return table


def test_the_share_of_places_with_a_band_does_not_fall(catalogue: Catalogue) -> None:
    table = judged(catalogue, mark=20.0)
    share = sum(table.values()) / len(table)
    print(f"\nverdicts: {sum(table.values())} of {len(table)} places ({share:.1%})")  # noqa: T201
    bare = judged(catalogue, mark=None)
    print(f"without a part's own mark: {sum(bare.values())} of {len(bare)}")  # noqa: T201
    assert share >= FLOOR


def test_every_quantity_is_judged_at_most_of_its_points(catalogue: Catalogue) -> None:
    table = judged(catalogue, mark=20.0)
    for code, quantity in catalogue.vocabulary.readings.items():
        points = {p for (c, p, _), has in table.items() if c == code and has}
        assert len(points) >= len(quantity.points) / 2, code


def test_a_place_without_a_band_names_the_figure_that_is_missing(catalogue: Catalogue) -> None:
    for (code, point, condition), has in judged(catalogue, mark=None).items():
        if not has:
            reading = Reading(
                quantity=code, point=point, condition=condition or None, value=1.2,
                unit=catalogue.vocabulary.readings[code].unit,
            )  # fmt: skip
            means = judge(reading, PLATE, catalogue.limits).judged.means
            assert len(means) > 20, (code, point, condition)
            assert "No band for this" not in means
