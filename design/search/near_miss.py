"""Where nothing is feasible: the designs that come nearest, what stands in their way, and what would mend it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product

import numpy as np

from design.chosen import price_of
from design.kit import Kit
from design.limits import TOLERANCE, excesses, limits_of, unsuitables
from design.procedures.face import Procedure
from design.search.candidates import kits_of, procedures_of, settings_of, vessels_of
from design.search.plan import NearMiss
from design.setting.hardware import Conditions, hardware_of
from design.setting.situation import situation_of

MOST = 3
"""Near misses shown."""


@dataclass(frozen=True)
class _Found:
    """A near miss with what sorts it: number of limits broken, then the sum of their excesses, then names."""

    order: tuple[int, float, str]
    miss: NearMiss


def near_misses(conditions: Conditions) -> tuple[NearMiss, ...]:
    """
    Find the designs that break the fewest limits, and those by the least.

    Parameters
    ----------
    conditions : Conditions
        A bench on which nothing is feasible.

    Returns
    -------
    tuple of NearMiss
        At most one for each set of limits broken, nearest first.
    """
    found: dict[tuple[str, ...], _Found] = {}
    for candidate in _candidates(conditions):
        keys = tuple(limit.key for limit in candidate.miss.limits)
        known = found.get(keys)
        if known is None or candidate.order < known.order:
            found[keys] = candidate
    nearest = sorted(found.values(), key=lambda candidate: candidate.order)
    return tuple(candidate.miss for candidate in nearest[:MOST])


def _candidates(conditions: Conditions) -> Iterable[_Found]:
    bench = conditions.bench
    for procedure, heater, use in product(procedures_of(bench), bench.heaters, tuple(vessels_of(bench))):
        for kit in kits_of(bench, procedure, heater, use):
            candidate = _nearest(conditions, procedure, kit)
            if candidate is not None:
                yield candidate


def _nearest(conditions: Conditions, procedure: Procedure, kit: Kit) -> _Found | None:
    """Setting of a kit that comes nearest."""
    settings = settings_of(conditions.bench, kit, procedure)
    if settings.mass.size == 0:
        return None
    hardware = hardware_of(conditions, kit.vessel, kit.heater)
    situation = situation_of(conditions, kit, hardware, settings, procedure.pace)
    limits = limits_of(situation, procedure, price_of(kit, conditions.bench.lesson.groups))
    barred, _ = unsuitables(kit, conditions, procedure)
    excess = np.maximum(np.broadcast_to(excesses(limits), (len(limits), settings.mass.size)), 0.0)
    excess = np.minimum(np.where(excess > TOLERANCE, excess, 0.0), 1e6)
    index = int(np.lexsort((excess.sum(axis=0), (excess > 0.0).sum(axis=0)))[0])
    broken = [limit for limit, bad in zip(limits, excess[:, index] > 0.0, strict=True) if bad]
    miss = NearMiss(
        items=tuple(item.name for item in kit.items.values()),
        procedure=procedure.identifier,
        powers_W=tuple(settings.powers[index].tolist()),
        mass_kg=float(settings.mass[index]),
        repeats=int(settings.repeats[index]),
        limits=(*(fault.said() for fault in barred), *(limit.said(index) for limit in broken)),
    )
    names = ", ".join((*miss.items, miss.procedure))
    return _Found((len(miss.limits), float(excess[:, index].sum()), names), miss)
