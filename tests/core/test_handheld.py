"""What a client in the hand keeps of the catalogue: whole enough to work by, and small."""

import gzip
import json
from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.handheld import handheld, limit_without_blanks
from mendpool.core.catalogue.limits import Limit

PACKED_MOST = 100_000


@pytest.fixture(scope="module")
def kept(catalogue: Catalogue) -> dict[str, Any]:
    return handheld(catalogue)


def text_of(body: Any) -> str:
    return json.dumps(body, ensure_ascii=False, separators=(",", ":"))


class TestWhatIsKept:
    def test_it_is_json_and_the_same_each_time(
        self, kept: dict[str, Any], catalogue: Catalogue
    ) -> None:
        assert json.loads(text_of(kept)) == kept
        assert text_of(handheld(catalogue)) == text_of(kept)

    def test_it_is_small_enough_for_poor_signal(self, kept: dict[str, Any]) -> None:
        assert len(gzip.compress(text_of(kept).encode())) < PACKED_MOST

    def test_nothing_empty_is_sent(self, kept: dict[str, Any]) -> None:
        def look(part: Any, at: str) -> None:
            assert part not in (None, [], {}), at
            inner = list(enumerate(part)) if isinstance(part, list) else []
            for name, held in part.items() if isinstance(part, dict) else inner:
                look(held, f"{at}/{name}")

        look(kept, "")

    def test_every_code_of_the_wire_has_a_word(
        self, kept: dict[str, Any], catalogue: Catalogue
    ) -> None:
        vocabulary = catalogue.vocabulary
        wanted = {
            "symptoms": vocabulary.symptoms,
            "components": vocabulary.components,
            "failures": vocabulary.failure_modes,
            "actions": vocabulary.actions,
            "results": vocabulary.results,
            "outcomes": vocabulary.outcomes,
            "states": vocabulary.followups,
            "before": vocabulary.before,
            "conditions": vocabulary.conditions,
            "readings": vocabulary.readings,
            "topics": vocabulary.cautions,
        }
        for kind, codes in wanted.items():
            assert set(kept[kind]) == set(codes), kind
            for code, said in kept[kind].items():
                assert said if isinstance(said, str) else said["label"], code
        points = {p for q in vocabulary.readings.values() for p in q.points}
        assert set(kept["points"]) == points

    def test_what_is_offered_can_be_read_and_judged(
        self, kept: dict[str, Any], catalogue: Catalogue
    ) -> None:
        for one in kept["offer"]:
            assert one["says"]
            assert one["point"] in kept["readings"][one["quantity"]]["points"]
            assert catalogue.limits_at.get((one["quantity"], one["point"])), one

    def test_a_check_that_is_a_reading_is_among_what_is_offered(
        self, kept: dict[str, Any]
    ) -> None:
        offered = {(o["quantity"], o["point"], o.get("condition")) for o in kept["offer"]}
        for check in kept["checks"].values():
            at = check.get("reading")
            if at is not None:
                assert (at["quantity"], at["point"], at.get("condition")) in offered

    def test_readings_stand_by_excitation(self, kept: dict[str, Any]) -> None:
        """Residual volts say nothing of an inverter set; its offer has none."""

        def fits(one: dict[str, Any], excitation: str) -> bool:
            return excitation in one.get("only", {}).get("excitation", [excitation])

        off = [o for o in kept["offer"] if o.get("condition") == "regulator-off"]
        assert any(fits(one, "brushed-avr") for one in off)
        assert not any(fits(one, "inverter") for one in off)

    def test_a_check_says_what_each_result_looks_like(
        self, kept: dict[str, Any], catalogue: Catalogue
    ) -> None:
        for code, check in catalogue.checks.items():
            told = kept["checks"][code]
            assert told["found"] == {c: f.says for c, f in check.found.items()}
            assert (told["how"], told["expect"]) == (check.how, check.expect)

    def test_the_gravest_caution_is_first_and_one_is_for_always(
        self, kept: dict[str, Any]
    ) -> None:
        ranks = [caution["rank"] for caution in kept["cautions"]]
        assert ranks == sorted(ranks)
        assert any(caution.get("always") for caution in kept["cautions"])


class TestLimits:
    def test_a_band_can_be_made_whole_again(self, catalogue: Catalogue) -> None:
        for limit in catalogue.limits:
            assert Limit.model_validate(limit_without_blanks(limit)) == limit

    def test_they_keep_their_order(self, kept: dict[str, Any], catalogue: Catalogue) -> None:
        """The first that fits judges."""
        assert [Limit.model_validate(told) for told in kept["limits"]] == list(catalogue.limits)
