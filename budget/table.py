"""The uncertainty budget as a table, in the columns of EA-4/02."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from budget.model.measurement import MeasurementModel
from budget.propagation import Propagation
from budget.sampling.sensitivity import SobolIndices

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = (
    "symbol",
    "quantity",
    "unit",
    "estimate",
    "standard uncertainty",
    "distribution",
    "degrees of freedom",
    "sensitivity coefficient",
    "contribution",
    "variance share",
    "first-order index",
    "total-effect index",
    "source",
)


def budget_table(model: MeasurementModel, propagation: Propagation, sobol: SobolIndices | None = None) -> pd.DataFrame:
    """
    Return the uncertainty budget.

    Parameters
    ----------
    model : MeasurementModel
        The model.
    propagation : Propagation
        Its propagation.
    sobol : SobolIndices, optional
        Its Sobol' indices.

    Returns
    -------
    pandas.DataFrame
        A row an input quantity in the model's order and a last row for the measurand; columns ``COLUMNS``.

    References
    ----------
    .. [1] EA-4/02, table of an ordered arrangement of quantities (section not checked).
    """
    import pandas as pd

    first, total = _by_symbol(sobol, "first"), _by_symbol(sobol, "total")
    rows = [
        {
            "symbol": quantity.symbol,
            "quantity": quantity.name,
            "unit": quantity.unit,
            "estimate": quantity.distribution.mean,
            "standard uncertainty": quantity.distribution.standard_uncertainty,
            "distribution": quantity.distribution.describe(),
            "degrees of freedom": quantity.distribution.dof,
            "sensitivity coefficient": propagation.sensitivity_coefficients[symbol],
            "contribution": propagation.contributions[symbol],
            "variance share": propagation.variance_shares[symbol],
            "first-order index": first.get(symbol, np.nan),
            "total-effect index": total.get(symbol, np.nan),
            "source": quantity.source,
        }
        for symbol, quantity in zip(model.symbols, model.inputs, strict=True)
    ]
    rows.append(
        {
            "symbol": model.symbol,
            "quantity": model.name,
            "unit": model.unit,
            "estimate": propagation.estimate,
            "standard uncertainty": propagation.standard_uncertainty,
            "distribution": "",
            "degrees of freedom": propagation.effective_dof,
            "sensitivity coefficient": np.nan,
            "contribution": propagation.standard_uncertainty,
            "variance share": np.nan,
            "first-order index": np.nan,
            "total-effect index": np.nan,
            "source": "",
        }
    )
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _by_symbol(sobol: SobolIndices | None, field: str) -> dict[str, float]:
    return {} if sobol is None else dict(zip(sobol.symbols, getattr(sobol, field).tolist(), strict=True))
