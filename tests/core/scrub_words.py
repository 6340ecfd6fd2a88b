"""The words that scrubbing is tested with: those the service itself hands in."""

from functools import cache

from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.privacy.language import Language, language_of
from mendpool.core.text import reader


@cache
def trade_words() -> frozenset[str]:
    return reader.trade_words(packaged_catalogue())


@cache
def ordinary_words() -> frozenset[str]:
    return packaged_catalogue().nobodys_words


@cache
def language() -> Language:
    return language_of(packaged_catalogue().scrub_words)
