"""Names that come from the lower packages, marked for the catalogues: quantities, stages of a lesson, limits."""

from __future__ import annotations

import re

from reports.words.languages import N_, Language

QUANTITIES = (
    N_("mass step"),
    N_("latent heat at the room's pressure"),
    N_("power as dialled in"),
    N_("power for which the carry-over was worked out"),
    N_("number of runs"),
    N_("heat lost by wall and water surface"),
    N_("heat lost through the base"),
    N_("heat given off by steam that runs back, stem and lid"),
    N_("warming of the water between the readings"),
    N_("carry-over: droplets thrown out unboiled"),
    N_("stem: share of the surface cut by bodies held from outside"),
    N_("air buoyancy"),
    N_("heat that vapour takes with the heater off, scaled like the loss"),
    N_("share of the wall loss that the cooling run misses"),
    N_("cooling balance, over all the heat that the water gives up"),
    N_("balance, the two readings of the cooling run"),
    N_("power lost in the flex between meter and element"),
    N_("energy meter"),
    N_("heater's power against its nameplate"),
    N_("supply voltage"),
    N_("balance, linearity"),
    N_("balance, the two readings"),
    N_("unsteadiness of the readings at the boil"),
    N_("masses put on the pan"),
    N_("energy of one count"),
    N_("counts read at start and stop"),
    N_("reaction time of the observer"),
    N_("restart: heat lost while the heater is off"),
    N_("counts"),
    N_("time at each power"),
    N_("counts read at the end, started on a mark"),
    N_("part of a count, from the times of the marks about each reading"),
    N_("loss in the flex over that at the highest power"),
    N_("carry-over over that at the highest power"),
    N_("how far this power is below the highest"),
    N_("wall loss missing at lower power: air in the freeboard"),
    N_("counts over the whole run"),
    N_("scatter of the fitted line over that of two readings"),
    N_("weight of this power in the fit"),
    N_("expected carry-over over that of the cube law"),
    N_("carry-over by the cube law over that at the highest power"),
    N_("carry-over while the boil settles over that of the runs"),
    N_("steam given off while the boil settles, as a share of the freeboard"),
    N_("freeboard after the boil has settled, over that with no droplet thrown"),
)
"""Names of the input quantities of every procedure."""
STAGES = (
    N_("set up and clear away"),
    N_("heat the water"),
    N_("boil until steady"),
    N_("runs"),
    N_("pauses and notes"),
    N_("cooling run"),
)
LIMITS = (
    N_("costs more than the purse"),
    N_("takes more current than the circuit allows"),
    N_("takes longer than the lesson"),
    N_("too little power to boil steadily in that vessel"),
    N_("stems do not fit into the vessel"),
    N_("vessel is too small for the water that covers the element and boils away"),
    N_("too little height between water and rim"),
    N_("would boil over: too much power for the vessel"),
    N_("mass step is too small"),
    N_("takes more current than the meter bears"),
    N_("takes more power than the meter bears"),
    N_("takes less current than the meter starts at"),
    N_("marks of the meter follow each other too fast to be timed"),
    N_("vessel, water and masses are too heavy for the balance"),
    N_("balance is not splash-proof"),
    N_("balance holds or averages its reading while the load changes (stability filter)"),
    N_("balance does not work under a warm vessel"),
    N_("a beam balance cannot be read while the mass falls"),
    N_("supply voltage is above what the meter bears"),
    N_("meter has no marks to start and stop on"),
    N_("heater is made for a lower voltage than the supply's"),
)
"""Reasons for which a design is ruled out."""
RULES = (
    N_(
        "The uncertainty is a limit: half a division for a reading, twice that for a difference of two, half the range "
        "for repeats; percentages are added."
    ),
)
"""Descriptions of the rule profiles that a printed piece uses."""


def quantity_name(say: Language, name: str) -> str:
    """Name an input quantity in a language, also one of a power of its own or one that a correction stands for."""
    found = re.fullmatch(r"(.*) \(power (\d+)\)", name)
    if found:
        return say.text("{name} (power {number})", name=say.text(found[1]), number=found[2])
    if name.endswith(", as corrected for"):
        return say.text("{name}, as corrected for", name=quantity_name(say, name.removesuffix(", as corrected for")))
    return say.text(name)
