"""Banded positive definite systems and triangular ones, solved by LAPACK.

``scipy.linalg`` imports some hundred and fifty modules that are not needed here, which takes a tenth of an hour's
debrief. So its compiled LAPACK is loaded alone where it is in its usual place; else the package is imported as usual,
and the same routines are called.
"""

from __future__ import annotations

import sys
from importlib import import_module
from importlib.machinery import PathFinder
from importlib.util import module_from_spec
from typing import Any

import numpy as np

from analyser.logs.track import FloatArray


def _loaded() -> Any:
    name = "scipy.linalg._flapack"
    spec = PathFinder.find_spec(name, [f"{folder}/linalg" for folder in import_module("scipy").__path__])
    if name in sys.modules or spec is None or spec.loader is None:
        return import_module("scipy.linalg.lapack")
    module = module_from_spec(spec)
    try:
        spec.loader.exec_module(module)
    except ImportError:  # It leans on what only its package sets up.
        return import_module("scipy.linalg.lapack")
    # The package, if it is imported later, finds this one instead of loading a second.
    sys.modules[name] = module
    return module


_LAPACK = _loaded()


def solve_banded(banded: FloatArray, right: FloatArray) -> FloatArray:
    """Solve a positive definite system whose diagonal and those below it are the rows: (d, n) and (n, p).

    Raises
    ------
    LinAlgError
        The matrix is not positive definite.
    """
    _, found, info = _LAPACK.dpbsv(banded, right, lower=True)
    return _checked(found, info)


def factor_banded(banded: FloatArray) -> FloatArray:
    """Return the Cholesky factor of such a matrix, for :func:`solve_factored`; errors as there."""
    return _checked(*_LAPACK.dpbtrf(banded, lower=True))


def solve_factored(factor: FloatArray, right: FloatArray) -> FloatArray:
    """Solve a system by the factor of its matrix."""
    return _checked(*_LAPACK.dpbtrs(factor, right, lower=True))


def solve_triangular(lower: FloatArray, right: FloatArray) -> FloatArray:
    """Solve a lower triangular system: (n, n) and (n, p)."""
    # LAPACK reads columns first, so it is given the transpose of a matrix that lies in rows.
    return _checked(*_LAPACK.dtrtrs(lower.T, right, lower=False, trans=True))


def _checked(found: FloatArray, info: int) -> FloatArray:
    if info != 0:
        raise np.linalg.LinAlgError(f"LAPACK could not solve a system of equations (info {info})")
    return found
