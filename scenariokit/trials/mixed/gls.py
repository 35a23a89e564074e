"""Generalised least squares for given variance components, with its standard errors.

The model is y = X b + Z u + e, with V = σ² H and H = I + Z Γ Z', where Γ is
diagonal and holds the ratio γ = σ²(term) / σ² of each random term. Everything
is computed from cross-products of the size of Z'Z and never of the size of V:
A' H⁻¹ B = A'B − A'Z Λ (I + Λ Z'Z Λ)⁻¹ Λ Z'B, with Λ² = Γ.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scenariokit.trials.mixed.matrices import FloatArray, indicators


@dataclass(frozen=True, eq=False)
class Products:
    """The cross-products of a model, with the fixed columns made orthonormal.

    Parameters
    ----------
    plots, coefficients : int
        Rows and columns of X.
    rotation : array of float
        R of X = Q R; coefficients of X are R⁻¹ times those of Q.
    start : array of float
        Ordinary least squares coefficients of Q. They are taken out of y first,
        so that sums of squares do not lose digits.
    zz, zq, zr : array of float
        Z'Z, Z'Q and Z'r, where r is what is left of y.
    rr : float
        r'r.
    terms : tuple of slice
        Columns of Z of each random term.
    """

    plots: int
    coefficients: int
    rotation: FloatArray
    start: FloatArray
    zz: FloatArray
    zq: FloatArray
    zr: FloatArray
    rr: float
    terms: tuple[slice, ...]


@dataclass(frozen=True, eq=False)
class Solved:
    """A model solved at given variance ratios, in units of the residual variance.

    Parameters
    ----------
    deviance : float
        −2 times the restricted log likelihood with σ² profiled out, up to a
        constant.
    covariance : array of float
        (Q'H⁻¹Q)⁻¹, times σ² the covariance of the coefficients of Q.
    coefficients : array of float
        Coefficients of Q, added to those of `Products.start`.
    zhq, zpz, zpy : array of float
        Z'H⁻¹Q, Z'PZ and Z'Py with P = H⁻¹ − H⁻¹Q (Q'H⁻¹Q)⁻¹ Q'H⁻¹.
    ypy : float
        y'Py, the sum of squares that is left.
    """

    deviance: float
    covariance: FloatArray
    coefficients: FloatArray
    zhq: FloatArray
    zpz: FloatArray
    zpy: FloatArray
    ypy: float


def products(
    y: FloatArray, columns: FloatArray, groups: Sequence[npt.NDArray[np.intp]]
) -> Products:
    """Return the cross-products of a model.

    Parameters
    ----------
    y : array of float
        One value for each plot.
    columns : array of float
        X, of full column rank.
    groups : sequence of array of int
        For each random term the number of each plot's group, from 0.
    """
    orthonormal, rotation = np.linalg.qr(columns)
    start = orthonormal.T @ y
    rest = y - orthonormal @ start
    # A second pass takes out what rounding left, so that Q'r is zero to the last digit.
    again = orthonormal.T @ rest
    start, rest = start + again, rest - orthonormal @ again
    sizes = [int(codes.max()) + 1 for codes in groups]
    z = np.hstack(
        [np.empty((y.size, 0))]
        + [indicators(codes, size) for codes, size in zip(groups, sizes, strict=True)]
    )
    ends = np.cumsum([0, *sizes])
    return Products(
        plots=y.size,
        coefficients=columns.shape[1],
        rotation=rotation,
        start=start,
        zz=z.T @ z,
        zq=z.T @ orthonormal,
        zr=z.T @ rest,
        rr=float(rest @ rest),
        terms=tuple(slice(int(a), int(b)) for a, b in itertools.pairwise(ends)),
    )


def each_column(given: Products, values: FloatArray) -> FloatArray:
    """Return `values`, one for each random term, repeated for each column of Z."""
    return np.repeat(values, [term.stop - term.start for term in given.terms])


def solve(given: Products, ratios: FloatArray) -> Solved:
    """Return the generalised least squares solution at the given variance ratios.

    Parameters
    ----------
    given : Products
        The model.
    ratios : array of float
        γ of each random term, zero or more.
    """
    from scipy.linalg import solve_triangular

    scale = np.sqrt(each_column(given, ratios))
    inner = np.eye(scale.size) + scale[:, None] * given.zz * scale
    factor = np.linalg.cholesky(inner)
    right = np.column_stack([given.zq, given.zz, given.zr])
    small = solve_triangular(factor, scale[:, None] * right, lower=True, check_finite=False)
    p = given.coefficients
    sq, sz, sr = small[:, :p], small[:, p:-1], small[:, -1]
    qhq = np.eye(p) - sq.T @ sq
    zhq = given.zq - sz.T @ sq
    qhr = -sq.T @ sr
    covariance = np.linalg.inv(qhq)
    covariance = (covariance + covariance.T) / 2
    coefficients = covariance @ qhr
    ypy = given.rr - float(sr @ sr) - float(qhr @ coefficients)
    return Solved(
        deviance=2 * float(np.log(np.diag(factor)).sum())
        + float(np.linalg.slogdet(qhq)[1])
        + (given.plots - p) * float(np.log(ypy)),
        covariance=covariance,
        coefficients=coefficients,
        zhq=zhq,
        zpz=given.zz - sz.T @ sz - zhq @ covariance @ zhq.T,
        zpy=given.zr - sz.T @ sr - zhq @ coefficients,
        ypy=ypy,
    )


@dataclass(frozen=True, eq=False)
class Estimates:
    """Coefficients with their covariance, and what their degrees of freedom rest on.

    Parameters
    ----------
    coefficients : array of float
        b, for the columns of X as given.
    covariance : array of float
        (X'V⁻¹X)⁻¹.
    slopes : tuple of array of float
        Derivative of the covariance by each variance component that is not at
        zero, the residual variance last.
    uncertainty : array of float
        Covariance of those components: the inverse of the expected information.
    """

    coefficients: FloatArray
    covariance: FloatArray
    slopes: tuple[FloatArray, ...]
    uncertainty: FloatArray

    def degrees(self, rows: FloatArray) -> FloatArray:
        """Return Satterthwaite's degrees of freedom for each row of contrasts.

        ν = 2 v² / (g' A g), where v is the variance of the contrast, g its
        derivatives by the variance components and A their covariance.
        """
        variance = np.einsum("ij,jk,ik->i", rows, self.covariance, rows)
        slopes = np.array([np.einsum("ij,jk,ik->i", rows, one, rows) for one in self.slopes])
        spread = np.einsum("ki,kl,li->i", slopes, self.uncertainty, slopes)
        return np.asarray(2 * variance**2 / spread)


def estimates(
    given: Products, solved: Solved, components: FloatArray, uncertainty: FloatArray
) -> Estimates:
    """Return the coefficients in terms of X, with covariance and its derivatives.

    Parameters
    ----------
    given, solved : Products, Solved
        The model and its solution at the components.
    components : array of float
        Variance of each random term, and the residual variance last.
    uncertainty : array of float
        Covariance of the components that are not at zero, the residual
        variance last.

    Notes
    -----
    With C = (X'V⁻¹X)⁻¹, dC/dσ²(k) = C X'V⁻¹Z Z'V⁻¹X C; the derivative by the
    residual variance follows because C is of the first degree in all of them.
    """
    back = np.linalg.inv(given.rotation)
    residual = components[-1]
    slopes, rest = [], solved.covariance
    for term, variance in zip(given.terms, components[:-1], strict=True):
        half = solved.zhq[term] @ solved.covariance
        slope = half.T @ half
        rest = rest - variance / residual * slope
        if variance > 0:
            slopes.append(back @ slope @ back.T)
    slopes.append(back @ rest @ back.T)
    return Estimates(
        coefficients=back @ (given.start + solved.coefficients),
        covariance=residual * back @ solved.covariance @ back.T,
        slopes=tuple(slopes),
        uncertainty=uncertainty,
    )
