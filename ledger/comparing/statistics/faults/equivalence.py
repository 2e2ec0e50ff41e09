"""Which explanations the figures can tell apart, and which they never will.

ρ, from −1 to 1, is the cosine between the whitened columns of two faults. Where one of them is true and speaks with
noncentrality λ, the other one's T is raised by ρ²λ. Faults with |ρ| = 1 do the same to every balance: no statistic
tells them apart, only another look at the plant does. Such a group is shown as one line that names all its members.

Source: Bagajewicz and Jiang, Comput. Chem. Eng. 22 (1998) (equivalent sets of faults).
"""

import math

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Indices, Matrix, Vector
from ledger.comparing.statistics.algebra.chi_square import normal_cdf
from ledger.comparing.statistics.faults.bank import Bank

# |ρ| above which two faults are one direction.
EQUIVALENT_COSINE = 0.999999
# Distance between two unit vectors whose cosine is just EQUIVALENT_COSINE, with room for rounding.
_NEIGHBOURHOOD = 1.01 * math.sqrt(2.0 * (1.0 - EQUIVALENT_COSINE))
_PROBES = 6
_PROBE_SEED = 20


def cosine(first: Vector, second: Vector) -> float:
    """ρ of two one-column faults, from their whitened columns; 0 if one of them moves nothing."""
    lengths = float(np.linalg.norm(first) * np.linalg.norm(second))
    return float(first @ second) / lengths if lengths else 0.0


def bank_cosine(bank: Bank, first: int, second: int) -> float:
    """ρ of two hypotheses of a bank.

    With several columns a direction may be shared in part: then it is the largest cosine between a direction of
    one and a direction of the other, without sign.
    """
    overlap = bank.basis_of(first).T @ bank.basis_of(second)
    if overlap.size == 1:
        return float(overlap[0, 0])
    return float(np.linalg.svd(overlap, compute_uv=False)[0])


def equivalent(bank: Bank, first: int, second: int) -> bool:
    """Whether two hypotheses span the same directions, so that nothing in these figures separates them."""
    if not (bank.usable[first] and bank.usable[second]):
        return False
    return _same_span(bank.basis_of(first), bank.basis_of(second))


def equivalence_groups(bank: Bank) -> Indices:
    """Group number of every hypothesis (numbered by first member); -1 for those with nothing left to test.

    Equivalent hypotheses have nearly the same length of projection on any probe direction, so only the few that
    agree on all probes are compared in full.
    """
    probes = np.random.default_rng(_PROBE_SEED).standard_normal((bank.columns.shape[0], _PROBES))
    probes /= np.linalg.norm(probes, axis=0)
    shares = np.zeros((bank.size, _PROBES))
    np.add.at(shares, bank.owner, (bank.basis.T @ probes) ** 2)
    features = np.sqrt(shares)
    counts = bank.column_counts()
    order = np.argsort(features[:, 0], kind="stable")
    ordered = features[order]
    first_after = np.searchsorted(ordered[:, 0], features[:, 0] + _NEIGHBOURHOOD, side="right")
    first_within = np.searchsorted(ordered[:, 0], features[:, 0] - _NEIGHBOURHOOD, side="left")
    groups = np.full(bank.size, -1, dtype=np.intp)
    group = 0
    for leader in np.flatnonzero(bank.usable):
        if groups[leader] >= 0:
            continue
        near = slice(first_within[leader], first_after[leader])
        agreeing = (np.abs(ordered[near] - features[leader]) <= _NEIGHBOURHOOD).all(axis=1)
        candidates = order[near][agreeing]
        candidates = candidates[
            bank.usable[candidates] & (groups[candidates] < 0) & (counts[candidates] == counts[leader])
        ]
        groups[candidates[_parallel(bank, int(leader), candidates)]] = group
        group += 1
    return groups


def distinct_directions(groups: Indices) -> int:
    """m: how many directions are really looked at, for the level of the largest T."""
    return int(groups.max(initial=-1)) + 1


def probability_ranked_above(noncentrality: float, rho: float) -> float:
    """Probability that the true fault's T exceeds that of a rival at cosine ρ; 0.95 needs λ(1 − |ρ|) > 5.4."""
    return normal_cdf(math.sqrt(max(noncentrality * (1.0 - abs(rho)), 0.0) / 2.0))


def _parallel(bank: Bank, leader: int, candidates: Indices) -> Indices:
    own = bank.basis_of(leader)
    if own.shape[1] == 1:
        starts = np.searchsorted(bank.owner, candidates)
        return np.flatnonzero(np.abs(own[:, 0] @ bank.basis[:, starts]) > EQUIVALENT_COSINE)
    same = [_same_span(own, bank.basis_of(int(candidate))) for candidate in candidates]
    return np.flatnonzero(same)


def _same_span(first: Matrix, second: Matrix) -> bool:
    if first.shape[1] != second.shape[1]:
        return False
    return bool(np.linalg.svd(first.T @ second, compute_uv=False).min() > EQUIVALENT_COSINE)
