"""Arrays of times, and the single gatekeeper for them.

An array of times is a one-dimensional, read-only float64 array of finite seconds (or counts) in ascending order.
Every column that a dataclass of this project keeps passes through :func:`column` or :func:`ascending`, so that no
other module has to ask again whether a number is finite or an array can change under its hands.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike, NDArray

Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
Ints = np.ndarray[tuple[int, ...], np.dtype[np.int64]]
Bools = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


def column(values: ArrayLike | Iterable[float], *, name: str, allow_nan: bool = False) -> Floats:
    """Return the values as a read-only one-dimensional float64 array of its own.

    Parameters
    ----------
    values : array_like, shape (n,)
        Anything that numpy can turn into numbers.
    name : str
        What the numbers are, for the error.
    allow_nan : bool
        Whether NaN may stand for "not known". Infinity never may.

    Returns
    -------
    numpy.ndarray, shape (n,)
        A copy; writing to it raises.

    Raises
    ------
    ValueError
        If the values are not one-dimensional or not finite.
    """
    array = np.array(values, dtype=np.float64)
    if array.ndim != 1:
        raise ValueError(f"{name}: expected one dimension, got shape {array.shape}")
    bad = np.isinf(array) if allow_nan else ~np.isfinite(array)
    if bad.any():
        first = int(np.argmax(bad))
        raise ValueError(f"{name}: expected finite numbers, got {array[first]} at position {first}")
    array.flags.writeable = False
    return array


def ascending(values: ArrayLike | Iterable[float], *, name: str, strict: bool = False) -> Floats:
    """Return the values as :func:`column` does, checked to be in ascending order.

    Parameters
    ----------
    values : array_like, shape (n,)
        Seconds or counts.
    name : str
        What the numbers are, for the error.
    strict : bool
        Whether two equal neighbours are an error too.

    Returns
    -------
    numpy.ndarray, shape (n,)

    Raises
    ------
    ValueError
        If they are not finite, not one-dimensional or not in order.

    Examples
    --------
    >>> ascending([0, 0.5, 1], name="beats")
    array([0. , 0.5, 1. ])
    """
    array = column(values, name=name)
    steps = np.diff(array)
    wrong = steps <= 0 if strict else steps < 0
    if wrong.any():
        first = int(np.argmax(wrong)) + 1
        raise ValueError(
            f"{name}: expected ascending order, got {array[first]} after {array[first - 1]} at position {first}"
        )
    return array


def whole(values: ArrayLike | Iterable[int], *, name: str) -> Ints:
    """Return the values as a read-only one-dimensional array of whole numbers.

    Parameters
    ----------
    values : array_like, shape (n,)
        Whole numbers, of whatever type.
    name : str
        What the numbers are, for the error.

    Returns
    -------
    numpy.ndarray of int64, shape (n,)
        A copy; writing to it raises.

    Raises
    ------
    ValueError
        If they are not one-dimensional or not whole.
    """
    floats = column(values, name=name)
    array: NDArray[np.int64] = floats.astype(np.int64)
    if (array != floats).any():
        raise ValueError(f"{name}: expected whole numbers")
    array.flags.writeable = False
    return array
