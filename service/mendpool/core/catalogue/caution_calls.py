"""What calls for which caution: the catalogue's triggers turned round, made once."""

from collections.abc import Iterable, Sequence

from mendpool.core.catalogue.model import Caution

ANY = ("*", "")


class CautionCalls:
    """The places of cautions by what calls for them."""

    def __init__(self, cautions: Sequence[Caution]) -> None:
        """Turn the triggers of the catalogue's cautions round."""
        self._by_code: dict[tuple[str, str], list[int]] = {}
        self._by_reading: dict[str, list[tuple[str, str, int]]] = {}
        for place, caution in enumerate(cautions):
            when = caution.when
            codes = [("topic", caution.topic)]
            codes += [("symptom", code) for code in when.symptoms]
            codes += [("component", code) for code in when.components]
            codes += [("action", code) for code in when.actions]
            codes += [("check", code) for code in when.checks]
            for code in codes:
                self._by_code.setdefault(code, []).append(place)
            for wanted in when.readings:
                quantity, point, verdict = _parts(wanted)
                self._by_reading.setdefault(quantity, []).append((point, verdict, place))
        self.always = frozenset(n for n, c in enumerate(cautions) if c.when.always)
        self.defeated = frozenset(
            n for n, c in enumerate(cautions) if c.when.protection_defeated
        )

    def by_codes(self, kind: str, codes: Iterable[str]) -> set[int]:
        """Return the places called for by codes of a kind.

        Args:
            kind: ``topic``, ``symptom``, ``component``, ``action`` or ``check``.
            codes: of that kind.
        """
        return {place for code in codes for place in self._by_code.get((kind, code), ())}

    def by_readings(self, readings: Iterable[str]) -> set[int]:
        """Return the places called for by judged readings, ``quantity@point:verdict``."""
        found = set()
        for reading in readings:
            quantity, their_point, their_verdict = _parts(reading)
            for point, verdict, place in self._by_reading.get(quantity, ()):
                if point in (*ANY, their_point) and verdict in (*ANY, their_verdict):
                    found.add(place)
        return found


def _parts(reading: str) -> tuple[str, str, str]:
    place, _, verdict = reading.partition(":")
    quantity, _, point = place.partition("@")
    return quantity, point, verdict
