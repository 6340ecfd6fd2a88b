"""The rule that words which name nobody must keep."""

from mendpool.core.catalogue.catalogue import Catalogue


def broken_name_rules(catalogue: Catalogue) -> list[str]:
    """Return a line for every word that the scrubber would never come upon so written."""
    return [
        f"name-nobody.yaml: {key}: {word!r} must be one word in lower case"
        for key, listed in catalogue.name_nobody.items()
        for word in listed
        if word != word.lower() or len(word.split()) != 1
    ]
