"""Intraclass correlation: which part of what differs between readings is the dogs themselves."""

from __future__ import annotations

from dataclasses import dataclass

from numpy.typing import ArrayLike
from scipy import special

from kit.quantities.errors import EstimationError
from kit.reliability.mean_squares import MeanSquares, mean_squares

ROUNDING = 1e-20
"""Part of the mean square within dogs that is left by the rounding of numbers alone."""


@dataclass(frozen=True)
class Correlation:
    """One form of the intraclass correlation with its confidence interval.

    Attributes
    ----------
    form : str
        ``1,1`` (each dog by measurers of its own), ``2,1`` (all dogs by the same measurers, who
        stand for others), ``3,1`` (these measurers only); ``1,k`` and so on for means of k.
    """

    form: str
    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Intraclass:
    """The six forms, the mean squares behind them, and the coverage of the intervals.

    Attributes
    ----------
    satterthwaite : float
        Degrees of freedom of the intervals of forms ``2,1`` and ``2,k``.
    """

    forms: tuple[Correlation, ...]
    squares: MeanSquares
    coverage: float
    satterthwaite: float

    def __getitem__(self, form: str) -> Correlation:
        """Return one form by its name; a number in place of ``k`` is taken for it."""
        head, _, tail = form.partition(",")
        wanted = form if tail == "1" else f"{head},k"
        for one in self.forms:
            if one.form == wanted:
                return one
        raise EstimationError("no such form", ", ".join(one.form for one in self.forms), form)


def icc(table: ArrayLike, coverage: float = 0.95) -> Intraclass:
    """Return all six intraclass correlations of a table, with intervals.

    Parameters
    ----------
    table : array, shape (n, k)
        n dogs in rows, k measurers (or repeats) in columns, one unit, no hole.
    coverage : float
        Of the intervals.

    Raises
    ------
    EstimationError
        If the table is too small, has a hole, its readings do not differ at all, or nothing is
        left as error once dogs and measurers are taken out; or there is no such coverage.

    Source: Shrout PE, Fleiss JL 1979, Psychol Bull 86:420-428; the interval of form 2 is their
    Satterthwaite interval, equations on p. 424.
    """
    if not 0.0 < coverage < 1.0:
        raise EstimationError("no such interval", "a coverage between 0 and 1", f"{coverage:g}")
    squares = mean_squares(table)
    if not squares.within > 0:
        raise EstimationError("no correlation can be given: the readings of a dog never differ",
                              "readings that differ", "none", "read to a finer step")  # fmt: skip
    if not squares.residual > ROUNDING * squares.within:
        raise EstimationError("no correlation can be given: nothing is left as error",
                              "measurers who do not differ by the same on every dog",
                              do="read to a finer step, or take more dogs")  # fmt: skip
    second, freedom = _second(squares, coverage)
    singles = (_simple("1", squares, coverage), second, _simple("3", squares, coverage))
    return Intraclass(
        (*singles, *(_of_means(one, squares.readings) for one in singles)),
        squares, coverage, freedom,
    )  # fmt: skip


def _simple(form: str, s: MeanSquares, coverage: float) -> Correlation:
    """Return form 1 (error: within dogs) or 3 (error: the residual)."""
    error = s.within if form == "1" else s.residual
    freedom = (s.readings - 1) * (s.dogs if form == "1" else s.dogs - 1)
    upper = (1.0 + coverage) / 2.0
    ratio = s.between / error
    low = ratio / special.fdtri(s.dogs - 1, freedom, upper)
    high = ratio * special.fdtri(freedom, s.dogs - 1, upper)
    values = [float((f - 1.0) / (f + s.readings - 1.0)) for f in (ratio, low, high)]
    return Correlation(f"{form},1", *values)


def _second(s: MeanSquares, coverage: float) -> tuple[Correlation, float]:
    n, k = s.dogs, s.readings
    spread = s.between + (k - 1) * s.residual + k * (s.measurers - s.residual) / n
    value = (s.between - s.residual) / spread
    freedom = _satterthwaite(s, value)
    upper = (1.0 + coverage) / 2.0
    others = k * s.measurers + (k * n - k - n) * s.residual
    f_low = special.fdtri(n - 1, freedom, upper)
    f_high = special.fdtri(freedom, n - 1, upper)
    low = n * (s.between - f_low * s.residual) / (f_low * others + n * s.between)
    high = n * (f_high * s.between - s.residual) / (others + n * f_high * s.between)
    return Correlation("2,1", float(value), float(low), float(high)), float(freedom)


def _satterthwaite(s: MeanSquares, value: float) -> float:
    n, k = s.dogs, s.readings
    ratio = s.measurers / s.residual
    inner = n * (1.0 + (k - 1) * value) - k * value
    top = (k - 1) * (n - 1) * (k * value * ratio + inner) ** 2
    return top / ((n - 1) * (k * value * ratio) ** 2 + inner**2)


def _of_means(single: Correlation, k: int) -> Correlation:
    """Step up to the mean of k readings (Spearman and Brown)."""
    values = [k * v / (1.0 + (k - 1) * v) for v in (single.value, single.low, single.high)]
    return Correlation(single.form.replace(",1", ",k"), *values)
