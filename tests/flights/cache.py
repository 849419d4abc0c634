"""Flights take a while to fly: what came of them is kept in the system's temporary folder.

The key holds a hash of the code that made it, so that a changed generator never meets an old flight.
"""

from __future__ import annotations

import hashlib
import pickle
import tempfile
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import TypeVar

T = TypeVar("T")

HERE = Path(__file__).resolve().parent


@lru_cache
def _code(folders: tuple[Path, ...]) -> str:
    digest = hashlib.sha256()
    for folder in folders:
        for path in sorted(folder.glob("*.py")) if folder.is_dir() else [folder]:
            digest.update(path.name.encode())
            digest.update(path.read_bytes())
    for library in ("numpy", "scipy", "pyproj", "jsbsim"):
        digest.update(version(library).encode())
    return digest.hexdigest()[:20]


def remembered(name: str, make: Callable[[], T], also: Sequence[Path] = ()) -> T:
    """Return what ``make`` returns, from the temporary folder where it was made before.

    Parameters
    ----------
    name : str
        Unique among everything remembered.
    make : callable
        Depends on nothing but the generator's code and the modules in ``also``.
    also : sequence of Path
        Further modules or packages that it depends on.
    """
    folder = Path(tempfile.gettempdir()) / f"invented-flights-{_code((HERE, *also))}"
    path = folder / (hashlib.sha256(name.encode()).hexdigest()[:24] + ".pickle")
    if path.exists():
        with suppress(pickle.UnpicklingError, EOFError, AttributeError, ImportError):
            found: T = pickle.loads(path.read_bytes())
            return found
    made = make()
    folder.mkdir(exist_ok=True)
    unfinished = path.with_suffix(f".{hashlib.sha256(str(id(made)).encode()).hexdigest()[:8]}")
    unfinished.write_bytes(pickle.dumps(made, protocol=pickle.HIGHEST_PROTOCOL))
    unfinished.replace(path)
    return made
