"""Sources before and after the readings, as pairs of densities."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from reports.figures.canvas import NARROW, SMALL_TEXT, Figure, colours, drawing, figure, markup
from reports.words.evaluate import shown_unit, with_spread
from reports.words.languages import ENGLISH, Language
from reports.words.names import quantity_name

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.evaluation.account import Account
    from reports.tables.tables import Table


def posterior(name: str, accounts: Sequence[Account], numbers: Table, say: Language = ENGLISH) -> Figure:
    """
    Draw prior and posterior density of the sources that the readings move most.

    Parameters
    ----------
    name : str
        Of the drawing, its own on the page.
    accounts : sequence of Account
        Largest effect first.
    numbers : Table
        The numbers behind it.
    say : Language
        Language of its words.
    """
    shown = [account for account in accounts if account.density.size]
    parts = [
        say.text(
            "evaluate.densities_part",
            quantity=quantity_name(one.quantity, say),
            before=with_spread(one, one.prior_mean, one.prior_uncertainty, say),
            after=with_spread(one, one.mean, one.standard_uncertainty, say),
        )
        for one in shown
    ]
    alt = say.text("evaluate.densities", parts="; ".join(parts))
    return figure(
        name,
        lambda own, width: _draw((own, width), shown, alt, say),
        alt,
        say.text("evaluate.densities_caption"),
        numbers,
    )


def _draw(drawn: tuple[str, float], shown: Sequence[Account], alt: str, say: Language) -> str:
    name, width = drawn
    wide = width > NARROW
    height = (0.95 if wide else 1.05) * len(shown) + 0.1
    with drawing(name, width, height) as (canvas, axes):
        axes.set_axis_off()
        for index, account in enumerate(shown):
            room = 1.0 / len(shown)
            top = 1.0 - index * room
            own = canvas.add_axes((0.36 if wide else 0.04, top - 0.80 * room, 0.60 if wide else 0.92, 0.56 * room))
            _pair(own, account, say)
            at = (0.34, top - 0.5 * room) if wide else (0.04, top - 0.08 * room)
            canvas.text(*at, _label(account, say, wide=wide), ha="right" if wide else "left", va="center",
                        fontsize=SMALL_TEXT)  # fmt: skip
        return markup(canvas, name, alt)


def _label(account: Account, say: Language, *, wide: bool) -> str:
    import textwrap

    unit = shown_unit(account, say)[1]
    return "\n".join(textwrap.wrap(f"{quantity_name(account.quantity, say)} / {unit}", 34 if wide else 60))


def _pair(axes: Any, account: Account, say: Language) -> None:
    from matplotlib.ticker import FuncFormatter

    tint = colours()
    factor = shown_unit(account)[0]
    before, after = account.prior_density, account.density
    axes.fill_between(factor * after[0], smooth(after[1]), facecolor=tint["level-4"], edgecolor=tint["blue"])
    axes.plot(factor * before[0], smooth(before[1]), color=tint["ink"], linestyle=(0, (4, 2)), linewidth=1.1)
    spread = 4.0 * account.prior_uncertainty
    low = max(min(before[0][0], after[0][0]), account.prior_mean - spread)
    high = min(max(before[0][-1], after[0][-1]), account.prior_mean + spread)
    axes.set_xlim(factor * low, factor * high)
    axes.set_ylim(0, None)
    axes.set_yticks([])
    axes.set_facecolor("none")
    for side in ("top", "left", "right"):
        axes.spines[side].set_visible(False)
    axes.locator_params(axis="x", nbins=6)
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: say.number(f"{value:g}".replace("-", "\u2212"))))


def smooth(density: np.ndarray) -> np.ndarray:
    """Running mean over three points, scaled to a height of 1."""
    padded = np.pad(density, 1, mode="edge")
    mean = (padded[:-2] + padded[1:-1] + padded[2:]) / 3.0
    return np.asarray(mean / max(float(mean.max()), 1e-300))
