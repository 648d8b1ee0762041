"""How well a share is known from a number of trials."""

from __future__ import annotations


def binomial_interval(successes: int, trials: int, coverage: float = 0.95) -> tuple[float, float]:
    """
    Exact interval of a share, from quantiles of the beta distribution; 0 to 1 where nothing was tried. [1]

    References
    ----------
    .. [1] Clopper and Pearson 1934, Biometrika 26, 404.

    Examples
    --------
    >>> low, high = binomial_interval(8, 10)
    >>> round(low, 3), round(high, 3)
    (0.444, 0.975)
    """
    from scipy.special import betaincinv

    tail = 0.5 * (1.0 - coverage)
    low = 0.0 if successes == 0 else float(betaincinv(successes, trials - successes + 1, tail))
    high = 1.0 if successes == trials else float(betaincinv(successes + 1, trials - successes, 1.0 - tail))
    return low, high
