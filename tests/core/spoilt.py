"""Spoiling the catalogue, for the tests that its faults are named."""

from collections.abc import Mapping

import pytest

from mendpool.core.catalogue.loader import load_catalogue
from mendpool.core.errors import CatalogueError

Texts = dict[str, str]


def faults_of(texts: Mapping[str, str]) -> tuple[str, ...]:
    with pytest.raises(CatalogueError) as refused:
        load_catalogue(texts)
    return refused.value.lines


LIMIT = """
- quantity: length
  points: [{point}]
  {more}
  low: 5
  means: {{within: Long enough., low: Short.}}
  source: common practice
  confidence: common practice
"""
