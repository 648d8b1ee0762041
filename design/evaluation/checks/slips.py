"""Runs that are off, and the single slip of the pen that accounts for one much better than anything else does."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from design.errors import DesignError
from design.evaluation.checks.candidates import MINUTE, OF_THE_SHEET, UNIT_FACTORS, Slip, in_cells, in_columns
from design.evaluation.checks.outlook import IMPOSSIBLE, Outlook, Traits, outlook_of, traits_of
from design.evaluation.expected import Windows
from design.evaluation.runs import Run
from design.sheets.readings import Reading

CERTAIN = 10.0
"""How many times as likely as all else together a slip must be to be named: one in eleven may be wrong."""
OFF = 20.0
"""How many times as likely that something is wrong with a run as that nothing is, to say so (judgement)."""
HOPELESS = -10.0
"""Logarithm of how much less likely than no slip a slip is that is not looked at more closely."""
FEWEST_ABOUT = 3
"""Marks from which one of them can be seen to fit neither of the others."""
TURNED = math.log(0.02)
"""Logarithm of the chance that the mass of one run rises where that of others falls (judgement)."""
WORTH_NAMING = 0.1
"""Probability from which an entry is named among those that could account for a run."""
MOST_NAMED = 2
"""Most entries named where none is certain."""

Remake = Callable[[Sequence[Reading]], Run]
"""Makes a run of rows; raises a `DesignError` where it cannot."""


@dataclass(frozen=True)
class Judged:
    """
    What is made of a run.

    Parameters
    ----------
    run : str
        Its name.
    slip : Slip or None
        The one that accounts for it.
    possible : tuple of Slip
        At most two that could, the likelier first, where none is certain.
    off : bool
        Whether something is wrong with it.
    outlook, traits
        What the bench and the other runs let one expect of it, and what it shows.
    """

    run: str
    slip: Slip | None
    possible: tuple[Slip, ...]
    off: bool
    outlook: Outlook
    traits: Traits | None


@dataclass(frozen=True)
class Group:
    """Runs of one group as typed and as made, with the bench."""

    typed: Mapping[str, Sequence[Reading]]
    made: Mapping[str, Run]
    windows: Windows
    remake: Remake

    def traits(self, readings: Sequence[Reading], *, each_mark: bool = True) -> Traits | None:
        """What a run of these rows would show; None where they make none."""
        try:
            return traits_of(self.remake(readings), self.windows, each_mark=each_mark)
        except DesignError:
            return None


def slip_of_the_sheet(group: Group) -> Slip | None:
    """Find the slip of a whole column that all runs have; None where none is certain."""
    readings = [reading for name in group.made for reading in group.typed[name]]
    as_typed = [traits_of(run, group.windows) for run in group.made.values()]
    likelihoods = [_of_all(as_typed, group.windows)]
    slips = [slip for quantity in UNIT_FACTORS for slip in in_columns(readings, quantity, OF_THE_SHEET)]
    for slip in slips:
        mended = {reading.row: reading for reading in slip.mended}
        rows = [[mended[reading.row] for reading in group.typed[name]] for name in group.made]
        traits = [group.traits(one) for one in rows]
        stretched = sum(_stretched(slip, one) for one in traits)
        likelihoods.append(math.log(slip.chance) + stretched + _of_all(traits, group.windows))
    best = _certain(slips, likelihoods)
    return best if best is not None and len(group.made) > 1 else None


def _stretched(slip: Slip, traits: Traits | None) -> float:
    """Logarithm of how much denser readings lie about their line as typed than they would without the slip."""
    if traits is None:
        return 0.0
    free = {"mass": traits.marks[1], "mass_step": traits.marks[1], "time": traits.times[1]}.get(slip.quantity, 0)
    return free * math.log(slip.stretched)


def _of_all(traits: Sequence[Traits | None], windows: Windows) -> float:
    found = [one for one in traits if one is not None and one.goes_on]
    return outlook_of(found, windows).evidence + (len(traits) - len(found)) * IMPOSSIBLE


def _certain(slips: Sequence[Slip], likelihoods: Sequence[float]) -> Slip | None:
    """The slip that is certain among all; the first likelihood is that of no slip."""
    share = _shares(likelihoods)
    for slip, chance in _together(slips, share[1:]):
        if chance >= CERTAIN * (1.0 - chance):
            return slip
    return None


def _shares(likelihoods: Sequence[float]) -> list[float]:
    terms = np.array(likelihoods)
    weights = np.exp(terms - terms.max())
    return [float(one) for one in weights / weights.sum()]


def _together(slips: Sequence[Slip], shares: Sequence[float]) -> list[tuple[Slip, float]]:
    """Slips with their probability, the likeliest first; those that mend to the same thing are one."""
    found: dict[object, list[tuple[float, Slip]]] = {}
    for slip, share in zip(slips, shares, strict=True):
        if share > 1e-6:
            found.setdefault(_mends(slip), []).append((share, slip))
    same = [(_joined(some), sum(share for share, _ in some)) for some in found.values()]
    return sorted(same, key=lambda one: -one[1])


def _mends(slip: Slip) -> object:
    """What a slip mends to; 12.30 for 12 min 30 s, and 12.3 min, are the same thing but for seconds."""
    typed = slip.reading.numbers[slip.quantity].value
    meant = next(value for row, quantity, value in slip.place if (row, quantity) == (slip.reading.row, slip.quantity))
    minutes = slip.code == "unit_slip" and slip.quantity == "time" and abs(meant - MINUTE * typed) < 1e-6 * abs(meant)
    if minutes or slip.code == "clock_as_minutes":
        return ("minutes", *(row for row, *_ in slip.place))
    return slip.place


def _joined(same: Sequence[tuple[float, Slip]]) -> Slip:
    """The likeliest of slips that mend to the same thing, with every value that may have been meant."""
    ordered = [slip for _, slip in sorted(same, key=lambda one: -one[0])]
    return replace(ordered[0], likely=" / ".join(dict.fromkeys(slip.likely for slip in ordered)))


def judged(group: Group) -> Iterator[Judged]:
    """Judge every run by the bench and by the others."""
    traits = {name: traits_of(run, group.windows) for name, run in group.made.items()}
    for name in group.made:
        others = [one for other, one in traits.items() if other != name and one is not None and one.goes_on]
        yield _judged(name, group, outlook_of(others, group.windows), traits[name])


def _judged(name: str, group: Group, outlook: Outlook, traits: Traits | None) -> Judged:
    sound, unsound = outlook.likely(traits), outlook.unsound(traits)
    slips: list[Slip] = []
    likelihoods: list[float] = []
    way = sum(_direction(readings) for other, readings in group.typed.items() if other != name)
    if traits is None or not traits.goes_on or _is_odd(outlook, traits):
        for slip in in_cells(group.typed[name], group.windows.used):
            slips.append(slip)
            turned = TURNED if _direction(slip.mended) * way < 0.0 else 0.0
            likelihoods.append(turned + _without(slip, group, outlook, max(sound, unsound)))
    share = _shares([sound, unsound, *likelihoods])
    named = _together(slips, share[2:])
    best, chance = named[0] if named else (None, 0.0)
    certain = best if chance >= CERTAIN * (1.0 - chance) else None
    possible = tuple(one for one, chance in named[:MOST_NAMED] if chance >= WORTH_NAMING) if certain is None else ()
    off = 1.0 - share[0] >= OFF * share[0]
    return Judged(name, certain, possible if off else (), off, outlook, traits)


def _without(slip: Slip, group: Group, outlook: Outlook, otherwise: float) -> float:
    """
    Logarithm of the likelihood of a slip, with its prior: none where the run is not sound without it.

    ``otherwise`` is that of no slip, far below which nothing is worked out.
    """
    bare = group.traits(slip.mended, each_mark=False)
    likelihood = math.log(slip.chance) + _stretched(slip, bare) + outlook.likely(bare)
    if likelihood < otherwise + HOPELESS:
        return IMPOSSIBLE
    mended = group.traits(slip.mended)
    return likelihood if outlook.likely(mended) > outlook.unsound(mended) else IMPOSSIBLE


def _direction(readings: Sequence[Reading]) -> float:
    """1 where the mass rises from the first to the last mark, -1 where it falls, else 0."""
    masses = [reading.numbers["mass"].value for reading in readings if "mass" in reading.numbers]
    return float(np.sign(masses[-1] - masses[0])) if masses else 0.0


def mark_astray(name: str, group: Group, outlook: Outlook) -> Reading | None:
    """
    Find the mark without which a run is sound, as no other; None where none is, or several are.

    The last mark of the run before and the first of the run after stand beside its own: where the water went on
    boiling between the runs, they are on the same line.
    """
    names = list(group.made)
    place = names.index(name)
    own = [mark[0] for mark in group.made[name].readings]
    before = [group.made[other].readings[-1][0] for other in names[place - 1 : place]] if place else []
    after = [group.made[other].readings[0][0] for other in names[place + 1 : place + 2]]
    marks = [*before, *own, *after]
    if len(marks) < FEWEST_ABOUT:
        return None
    found = []
    for reading in own:
        rest = [one for one in marks if one is not reading]
        traits = group.traits([replace(one, run=name, mark=str(index)) for index, one in enumerate(rest)])
        likely = outlook.likely(traits)
        if likely > IMPOSSIBLE and likely > outlook.unsound(traits):
            found.append((likely, reading))
    found.sort(key=lambda one: -one[0])
    if not found or (len(found) > 1 and found[0][0] - found[1][0] < math.log(OFF)):
        return None
    return found[0][1]


def _is_odd(outlook: Outlook, traits: Traits) -> bool:
    """Whether a run lies so far from what is expected that slips are worth looking for."""
    return outlook.unsound(traits) - outlook.likely(traits) > math.log(0.1)


def unsound_somewhere(group: Group) -> bool:
    """Whether the runs together say that one of them is off, whichever it is."""
    traits = [traits_of(run, group.windows) for run in group.made.values()]
    going = [one for one in traits if one is not None and one.goes_on]
    if len(going) < max(2, len(traits)):
        return False
    outlook = outlook_of(going, group.windows)
    return outlook.evidence - outlook.evidence_if_sound > math.log(1.0 + OFF)
