"""Where the files that travel with the code are: the migrations and the page.

A wheel carries them inside the package. A checkout keeps them at its top level, and an
editable install leaves them there, so both places are looked at.
"""

from pathlib import Path

from mendpool.core.errors import MendpoolError

_PACKAGE = Path(__file__).resolve().parent


def place_of(name: str) -> Path:
    """Return the folder `name`, the package's own before the checkout's.

    Args:
        name: ``migrations`` or ``phone``.

    Returns:
        ``<package>/<name>``, else ``<checkout>/<name>``, else ``<checkout>/clients/<name>``:
        the first of the three that is a folder.

    Raises:
        MendpoolError: none of them is there, so the installation is incomplete.
    """
    checkout = _PACKAGE.parent.parent
    for folder in (_PACKAGE / name, checkout / name, checkout / "clients" / name):
        if folder.is_dir():
            return folder
    raise MendpoolError(f"this installation of mendpool lacks its folder `{name}`")
