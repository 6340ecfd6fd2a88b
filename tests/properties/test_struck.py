"""What is shown struck through is the text as typed, and no more of it goes than goes."""

from hypothesis import example, given
from hypothesis import strategies as st

from mendpool.api.pages.reporting import Piece, pieces
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.record.fields import clean_text

from tests.engines import scrubber_of

WORDS = st.sampled_from(
    ["rang", "Bob Miller", "0301 555 0142", "someone@example.org", "brush", "6203-2RS", "and",
     "[name]", "the", "Anna", "near", "12 Mill Road", ",", "."]
)  # fmt: skip


@given(st.lists(WORDS, min_size=1, max_size=12).map(" ".join).map(clean_text))
@example("Bob Miller Anna [name] Bob Miller")
def test_the_pieces_are_the_text_again(catalogue: Catalogue, text: str) -> None:
    kept = str(scrubber_of(catalogue)({"note": text})[0]["note"])
    found = pieces(text, kept)
    shown = "".join(piece.text for piece in found)
    # Where the text itself holds a mark, all of it may be shown as it will be kept.
    assert shown in (text, kept)
    if "[" not in text:
        assert shown == text
    stays = "".join(piece.text if piece.gone is None else f"[{piece.gone}]" for piece in found)
    assert stays == kept


def test_what_goes_is_named() -> None:
    assert pieces("ring 0171 now", "ring [phone] now") == [
        Piece("ring ", None),
        Piece("0171", "phone"),
        Piece(" now", None),
    ]


def test_what_does_not_fit_is_shown_as_it_will_be() -> None:
    assert pieces("one two", "three [name]") == [Piece("three [name]", None)]
