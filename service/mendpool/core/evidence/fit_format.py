"""What a fit is kept under: the catalogue it was made with, and its own form."""

FIT_FORMAT = 5
"""Raised whenever what a fit holds, or how it is learned, changes: fits are kept under it, so
that no release meets one that it can't read."""


def fit_version(catalogue: str, form: int = FIT_FORMAT) -> str:
    """Return what fits of a form are kept under, by the version of their catalogue."""
    return f"{catalogue}+{form}"


def catalogue_of(version: str) -> str:
    """Return the catalogue's version of what a fit is kept under."""
    return version.rpartition("+")[0] or version
