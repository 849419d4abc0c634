"""Words of the command line that several commands share."""

from __future__ import annotations

from analyser.errors import UsageError


def pairs(text: str, option: str) -> dict[str, str]:
    """Read ``name=value,name=value``.

    Parameters
    ----------
    text : str
        Empty for none.
    option : str
        The option it was given to, for the message.

    Returns
    -------
    dict of str to str

    Raises
    ------
    UsageError
        A part has no equals sign, or no name or value.
    """
    found: dict[str, str] = {}
    for part in filter(None, (piece.strip() for piece in text.split(","))):
        name, equals, value = (piece.strip() for piece in part.partition("="))
        if not (name and equals and value):
            raise UsageError(
                f"'{part}' is not of the form name=value", place=option, mend="write time=…,lat=…"
            )
        found[name] = value
    return found
