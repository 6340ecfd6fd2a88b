"""Judged readings and what they say together, as the wire carries them."""

from mendpool.core.readings.together import Together
from mendpool.core.record.answer import PatternShown
from mendpool.core.record.reading import Judged


def bare(judged: Judged) -> Judged:
    """Return a judged reading with only what is known of it set; the band always is."""
    known = {name: value for name, value in judged if value not in (None, ())}
    return Judged.model_construct(**{**known, "low": judged.low, "high": judged.high})


def pattern_shown(pattern: Together) -> PatternShown:
    """Return what readings say together, as the wire carries it."""
    return PatternShown(
        code=pattern.code,
        says=pattern.says,
        readings=tuple(pattern.readings),
        cautions=tuple(
            dict.fromkeys((*([pattern.danger] if pattern.danger else []), *pattern.cautions))
        ),
        source=pattern.source,
    )
