"""The test of one fault: how much better the figures close when its size is left free.

T (0 or more, without a unit) is how far γ = w'w falls. For the column of one reading √T is the maximum-power test of a
measurement, and for that of one row the maximum-power test of a constraint.

A fault with several columns, such as an unwritten movement of unknown strength, lowers γ further by chance alone. To be
compared with others its T is turned into that of one column which chance would pass as rarely: `one_column_equivalent`.

All hypotheses of a window are looked at, and the largest T is taken. So the level is set for the largest. Among the
three thousand hypotheses of a month, chance alone passes T > 20 about once in five years, and T > 12 in every other
month (by simulation).

Source: Narasimhan and Mah, AIChE J. 33 (1987); Tamhane and Mah, Technometrics 27 (1985), for the level; Crowe,
Can. J. Chem. Eng. 70 (1992), for T as the fall of the sum of squares.
"""

import math
from dataclasses import dataclass

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Matrix, Vector
from ledger.comparing.statistics.algebra.chi_square import critical_value, log_upper_tail, statistic_at

# T above which the program speaks unasked.
FINDING_LEVEL = 20.0
# T enough to name a candidate when only the neighbours of one difference are asked about.
NEIGHBOUR_LEVEL = 9.0
# Share of a column's length below which nothing of it is left to test.
LEAST_LENGTH_LEFT = 1e-9


class NothingToTest(ValueError):
    """The columns of a fault are zero, or one of them follows from the others."""


@dataclass(frozen=True, slots=True)
class LikelihoodRatio:
    """T with its degrees of freedom, and the size of each column with its standard uncertainty."""

    statistic: float
    degrees_of_freedom: int
    sizes: tuple[float, ...]
    uncertainties: tuple[float, ...]

    @property
    def size(self) -> float:
        """b: estimated size of the fault, in the unit of its first column."""
        return self.sizes[0]

    @property
    def uncertainty(self) -> float:
        """u_b: standard uncertainty of b."""
        return self.uncertainties[0]

    @property
    def comparable(self) -> float:
        """The statistic of one column that would be as rare as this one."""
        return one_column_equivalent(self.statistic, self.degrees_of_freedom)


def likelihood_ratio(residual: Vector, columns: Matrix) -> LikelihoodRatio:
    """Test one fault: whitened residual w against its whitened column (or columns side by side).

    Raises NothingToTest if the columns are zero or depend on one another.
    """
    columns = columns.reshape(len(residual), -1)
    lengths = np.linalg.norm(columns, axis=0)
    if not lengths.all():
        raise NothingToTest("This fault would move no row of the window.")
    basis, root = np.linalg.qr(columns)
    if (np.abs(np.diag(root)) < LEAST_LENGTH_LEFT * lengths).any():
        raise NothingToTest("The columns of this fault depend on one another: leave one of them out.")
    shares = basis.T @ residual
    inverse = np.linalg.inv(root)
    return LikelihoodRatio(
        float(shares @ shares),
        columns.shape[1],
        tuple(float(size) for size in inverse @ shares),
        tuple(float(u) for u in np.linalg.norm(inverse, axis=1)),
    )


def global_statistic(residual: Vector) -> float:
    """γ = r'V⁻¹r = w'w: chi-square with as many degrees of freedom as rows, if nothing is wrong."""
    return float(residual @ residual)


def one_column_equivalent(statistic: float, degrees_of_freedom: int) -> float:
    """T of one column with the same tail probability: 23.5 from two columns counts as 20."""
    if degrees_of_freedom == 1:
        return statistic
    return statistic_at(log_upper_tail(statistic, degrees_of_freedom), 1)


def level_for_columns(one_column_level: float, degrees_of_freedom: int) -> float:
    """What T of several columns must pass to be as rare as `one_column_level` is for one."""
    if degrees_of_freedom == 1:
        return one_column_level
    return statistic_at(log_upper_tail(one_column_level, 1), degrees_of_freedom)


def level_of_largest(false_alarm_probability: float, hypotheses: int, degrees_of_freedom: int = 1) -> float:
    """The T that the largest of `hypotheses` distinct directions passes with the given probability, at most.

    Šidák's level 1 − (1 − α)^(1/m) for each. Raises ValueError for a probability outside 0 to 1 or no hypothesis.
    """
    if not 0.0 < false_alarm_probability < 1.0 or hypotheses < 1:
        raise ValueError("A level needs a probability between 0 and 1 and at least one hypothesis.")
    each = -math.expm1(math.log1p(-false_alarm_probability) / hypotheses)
    return critical_value(each, degrees_of_freedom)
