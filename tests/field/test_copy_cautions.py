"""A report of one's own copy warns as the pool's does, after an upgrade too."""

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.usecases.own_copy import caution_name, known_cautions, with_cautions


def test_known_words_come_back_as_they_were(catalogue: Catalogue) -> None:
    known = known_cautions(catalogue)
    for name, caution in known.items():
        assert name == caution_name(caution)
        assert with_cautions({"cautions": [name]}, known)["cautions"] == [caution]


def test_a_name_kept_by_an_older_command_is_still_known(catalogue: Catalogue) -> None:
    known = known_cautions(catalogue)
    name, caution = next(iter(known.items()))
    older = name.rpartition(":")[2]
    assert with_cautions({"cautions": [older]}, known)["cautions"] == [caution]


def test_reworded_since_it_warns_in_todays_words_of_that_topic(catalogue: Catalogue) -> None:
    known = known_cautions(catalogue)
    gone = caution_name({"code": "carbon-monoxide", "says": "Air!", "source": "from memory"})
    (told,) = with_cautions({"cautions": [gone]}, known)["cautions"]
    assert told["code"] == "carbon-monoxide"
    of_topic = [c for c in catalogue.cautions if c.topic == "carbon-monoxide"]
    assert told["says"] == min(of_topic, key=lambda c: c.rank).says


def test_what_nothing_is_known_of_any_more_is_never_silence(catalogue: Catalogue) -> None:
    known = known_cautions(catalogue)
    older, dropped = with_cautions({"cautions": ["0123456789ab", "moon:0123"]}, known)[
        "cautions"
    ]
    assert older["code"] == "caution"
    assert dropped["code"] == "moon"
    assert "Take care" in older["says"]
    assert "mendpool sync" in dropped["says"]
