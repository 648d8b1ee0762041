"""Faults at the bench: what is seen, where it comes from, what to do."""

from __future__ import annotations

from typing import Any

from reports.pieces.parts import Given, Grid, grid


def values(given: Given) -> dict[str, Any]:
    """Fill the template of the table of faults."""
    return {"faults": faults_table(given)}


def faults_table(given: Given) -> Grid:
    """Faults of this kit and procedure, those of every kit after them."""
    _ = given.say.text
    rows = [
        *_of_the_kit(given),
        *_of_fittings(given),
        *_of_timed_marks(given),
        *_of_the_value(given),
        *_of_every_kit(given),
    ]
    return grid(_("What is seen, where it comes from, what to do"), (_("Seen"), _("Cause"), _("What to do")), rows)


def _of_the_kit(given: Given) -> list[tuple[str, str, str]]:
    _, say = given.say.text, given.say
    rows = []
    if given.kit.balance.kind == "electronic":
        rows.append(
            (
                _("number of the balance stands still, then jumps"),
                _("filter or hold waits for a steady load"),
                _("switch the filter off; if it cannot be switched off, another balance or a beam that tips"),
            )
        )
    else:
        rows.append(
            (
                _("beam swings and never quite tips"),
                _("bumps of the boiling; too much damping or friction"),
                _("judge the middle of the swing; clean the edges; a little less power"),
            )
        )
    if given.kit.meter.energy_per_count > 0.0:
        seconds = float(given.situation.runs.time[0]) / max(given.design.counts, 1.0)
        rows.append(
            (
                _("meter seems to stand still"),
                _("one count takes about {time} at this power", time=say.in_unit(seconds, "s", 2)),
                _("wait for several counts; if none comes, the current is below what the meter starts at"),
            )
        )
    if given.kit.heater.held_by == "stand":
        rows.append(
            (
                _("balance jumps when the heater or its lead is touched"),
                _("lead pulls, or the heater touches the vessel"),
                _("clamp the heater clear of wall and floor; hang the lead in a loose bow"),
            )
        )
    return rows


def _of_fittings(given: Given) -> list[tuple[str, str, str]]:
    _, rows = given.say.text, []
    if given.kit.vessel.jacket.thickness > 0.0:
        rows.append(
            (
                _("lagging gets wet or heavy"),
                _("boiled over, or drops run down outside"),
                _("switch off, let cool, dry it: wet lagging loses more heat, and its water is weighed"),
            )
        )
    if given.is_covered:
        rows.append(
            (
                _("drops fall from lid or guard beside the vessel"),
                _("steam condenses on it and runs over the edge"),
                _("switch off, let cool; set it so that drops fall back into the vessel"),
            )
        )
    return rows


def _of_timed_marks(given: Given) -> list[tuple[str, str, str]]:
    _, say = given.say.text, given.say
    if not given.timed:
        return []
    return [
        (
            _("part of a count comes out below 0 or above 1"),
            _("not the last mark before and the first one after, or lap times mixed up"),
            _("one person calls marks and tip, one writes; check that t₁ ≤ t ≤ t₂"),
        ),
        (
            _("marks do not follow each other every {time}", time=say.in_unit(given.mark_interval, "s", 2)),
            _("a mark missed, another power, or another supply voltage"),
            _("twice the time is a missed mark: count it; else look at the setting of the power"),
        ),
    ]


def _of_the_value(given: Given) -> list[tuple[str, str, str]]:
    _, say = given.say.text, given.say
    share = 100 * given.design.loss_W / max(max(given.design.powers_W) - given.design.loss_W, 1.0)
    loss = say.in_unit(given.design.loss_W, "W", 2)
    power = say.power(max(given.design.powers_W))
    return [
        (
            _("L too high by a few per cent"),
            _(
                "heat loss: {loss} of {power} alone make {share}",
                loss=loss,
                power=power,
                share=say.signed_percent(share),
            ),
            _("more power, lagging, or correct for the loss"),
        ),
        (
            _("L too high by far more"),
            _("energy counted before steady boiling; nameplate power; slip in the units"),
            _("start only after two minutes of steady boiling; use the meter; check the units"),
        ),
        (
            _("L too low"),
            _("droplets thrown out; mass lost before the meter was read; meter reads low"),
            _("more height to the rim or less power; read both at one moment; test the meter against another"),
        ),
        (
            _("runs differ more than the readings allow"),
            _("draught, drops on the balance, unsteady boiling, readings not at one moment"),
            _("shield, wipe dry, wait for steady boiling, one person calls the moment"),
        ),
        (
            _("L agrees to the last digit"),
            _("perhaps luck: errors of opposite sign can cancel"),
            _("ask for the sizes of both before calling the method good"),
        ),
    ]


def _of_every_kit(given: Given) -> list[tuple[str, str, str]]:
    _ = given.say.text
    return [
        (
            _("water does not boil steadily"),
            _("power too low for this vessel, or heater scaled"),
            _("more power, a smaller or lagged vessel; remove the scale"),
        ),
        (
            _("water thrown over the rim"),
            _("too full, or too much power for the surface"),
            _("switch off first; less water, less power, a wider vessel or a deflector"),
        ),
        (
            _("drops under the rim or on the balance"),
            _("steam condenses on cold parts"),
            _("keep clamps and leads out of the steam; wipe dry between runs"),
        ),
        (
            _("element shows above the water"),
            _("boiled too long, or too little water at the start"),
            _("switch off at once and let it cool; never add water to a hot dry heater"),
        ),
        (
            _("circuit breaker or residual-current device trips"),
            _("too many sets on the circuit, or a damp or damaged heater"),
            _("stop; do not switch on again; have a qualified person look at it"),
        ),
    ]
