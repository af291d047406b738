"""Chances and quantiles of the usual distributions, loaded when first asked for.

scipy's special functions take a third of a second to import; who only reads a report or converts
a unit need not wait for them. Names and argument order are those of ``scipy.special``.
"""

from __future__ import annotations

from typing import Any


def _special() -> Any:
    from scipy import special  # heavy; only when a chance is computed

    return special


def stdtr(df: Any, t: Any) -> Any:
    """Return the chance that Student's t with ``df`` degrees of freedom is at most ``t``.

    Examples
    --------
    >>> round(float(stdtr(10, 0.0)), 3)
    0.5
    """
    return _special().stdtr(df, t)


def stdtrit(df: Any, p: Any) -> Any:
    """Return the quantile of Student's t below which it lies with chance ``p``.

    Examples
    --------
    >>> round(float(stdtrit(10, 0.975)), 3)
    2.228
    """
    return _special().stdtrit(df, p)


def ndtr(z: Any) -> Any:
    """Return the chance that a standard normal number is at most ``z``.

    Examples
    --------
    >>> round(float(ndtr(1.96)), 3)
    0.975
    """
    return _special().ndtr(z)


def log_ndtr(z: Any) -> Any:
    """Return the logarithm of the chance that a standard normal number is at most ``z``.

    Examples
    --------
    >>> round(float(log_ndtr(-40.0)), 2)
    -804.61
    """
    return _special().log_ndtr(z)


def ndtri(p: Any) -> Any:
    """Return the quantile of the standard normal below which it lies with chance ``p``.

    Examples
    --------
    >>> round(float(ndtri(0.975)), 2)
    1.96
    """
    return _special().ndtri(p)


def fdtrc(upper: Any, lower: Any, f: Any) -> Any:
    """Return the chance that a variance ratio with these degrees of freedom exceeds ``f``.

    Examples
    --------
    >>> round(float(fdtrc(1, 10, 4.965)), 3)
    0.05
    """
    return _special().fdtrc(upper, lower, f)


def nctdtrinc(df: Any, p: Any, t: Any) -> Any:
    """Return the shift of a noncentral t at which it lies below ``t`` with chance ``p``.

    Examples
    --------
    >>> round(float(nctdtrinc(1e6, 0.2, 1.96)), 2)
    2.8
    """
    return _special().nctdtrinc(df, p, t)
