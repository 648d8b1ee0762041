"""Drawings of the pieces as SVG: the set-up with its labels, the lesson as a bar, the interval of good results."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from markupsafe import Markup, escape

from reports.pieces.parts import PieceBasis, sentence_start
from reports.words.languages import Language

WIDTH = 640.0
"""Width of the bars in their own units; the page sizes them."""
HATCHES = ("none", "rising", "dots", "falling", "none", "rising")
"""Fillings of the stages in turn, so that neighbours differ without colour."""


def apparatus(given: PieceBasis) -> Markup:
    """Draw the set-up, with numbers that the list of its parts explains."""
    parts, vessel = _parts(given), given.design.kit.vessel
    alt = given.say.text(
        "drawing.set_up_parts", parts="; ".join(f"{number} {part.name}" for number, part in enumerate(parts, start=1))
    )
    drawn = _SHAPES
    drawn += _JACKET if vessel.jacket.text != "none" else Markup("")
    drawn += _GUARD if vessel.guard != "none" else Markup("")
    drawn += _LID + _STEAM_ASIDE if vessel.lid != "none" else _STEAM
    drawn += _STAND if given.design.kit.heater.held_by == "stand" else Markup("")
    return Markup('<svg class="apparatus" viewBox="128 8 420 232" role="img" aria-label="{alt}">{all}</svg>').format(
        alt=alt, all=drawn + Markup("").join(_callout(number, part.place) for number, part in enumerate(parts, start=1))
    )


def apparatus_parts(given: PieceBasis) -> tuple[str, ...]:
    """Name the parts of the set-up, in the order of their numbers."""
    return tuple(part.name for part in _parts(given))


class _Part(NamedTuple):
    """A part of the set-up and where its number stands."""

    name: str
    place: tuple[float, float]


def _parts(given: PieceBasis) -> tuple[_Part, ...]:
    _, vessel = given.say.text, given.design.kit.vessel
    balance = _("drawing.beam_balance") if given.design.kit.balance.kind == "beam" else _("drawing.balance_display")
    parts = [
        _Part(_("drawing.immersion_heater_covered"), (204, 20)),
        _Part(_("drawing.water_mass", mass=given.say.mass(given.design.fill)), (205, 140)),
        _Part(_("drawing.vessel_dry_outside"), (262, 130)),
        _Part(_("drawing.insulating_board"), (270, 197)),
        _Part(balance, (205, 221)),
        _Part(_("role.meter"), (413, 128)),
        _Part(_("drawing.lead_hangs_free"), (300, 66)),
    ]
    if given.design.kit.heater.held_by == "stand":
        parts.append(_Part(_("drawing.stand_holds_heater"), (324, 160)))
    if vessel.jacket.text != "none":
        parts.append(_Part(_("role.jacket"), (149, 130)))
    if vessel.lid != "none":
        parts.append(_Part(_("drawing.loose_lid_steam"), (146, 54)))
    if vessel.guard != "none":
        parts.append(_Part(_("drawing.splash_guard_steam"), (146, 76)))
    return tuple(parts)


def _callout(number: int, place: tuple[float, float]) -> Markup:
    return Markup(
        '<circle class="plate" cx="{x}" cy="{y}" r="8.5"/>'
        '<text x="{x}" y="{below}" text-anchor="middle">{number}</text>'
    ).format(x=place[0], y=place[1], below=place[1] + 4, number=number)


_SHAPES = Markup(
    '<path class="water" d="M172 98H238V186H172Z"/>'
    '<path class="line" d="M168 58V188H242V58"/>'
    '<path class="line" d="M172 98q8 -5 16 0t16 0t16 0t18 0"/>'
    '<path class="heater" d="M196 32V160q0 8 9 8t9 -8V32"/>'
    '<path class="line" d="M158 192H252V202H158Z"/>'
    '<path class="line" d="M146 208H264V234H146Z"/>'
    '<path class="line" d="M214 32q46 -6 84 52t92 8"/>'
    '<path class="line" d="M390 76H436V108H390Z"/>'
    '<path class="line" d="M398 84H428V94H398Z"/>'
    '<path class="line" d="M436 92H520"/><path class="line" d="M520 84v16m6 -16v16"/>'
)
_STEAM = Markup('<path class="steam" d="M186 48q-6 -8 0 -16m34 16q-6 -8 0 -16"/>')
_STEAM_ASIDE = Markup('<path class="steam" d="M160 46q-8 -6 0 -18m90 18q8 -6 0 -18"/>')
_JACKET = Markup(
    '<path class="line" d="M160 66H168V188H160ZM242 66H250V188H242Z"/>'
    '<path class="hatch" d="M160 78l8 -8m-8 24l8 -8m-8 24l8 -8m-8 24l8 -8m-8 24l8 -8m-8 24l8 -8m-8 24l8 -8"/>'
    '<path class="hatch" d="M242 78l8 -8m-8 24l8 -8m-8 24l8 -8m-8 24l8 -8m-8 24l8 -8m-8 24l8 -8m-8 24l8 -8"/>'
)
_LID = Markup('<path class="line" d="M162 54H192V57H162ZM218 54H248V57H218Z"/>')
_GUARD = Markup('<path class="line" d="M168 68L190 80M242 68L220 80"/>')
_STAND = Markup('<path class="line" d="M310 234V38M286 234H336M310 44H218"/>')


def lesson_bar(given: PieceBasis, stages: Sequence[tuple[str, float]]) -> Markup:
    """Draw the stages of the lesson to scale, each with its minutes; the names stand in the table beside it."""
    say, length = given.say, max(given.plan.lesson_minutes, given.design.minutes)
    scale, reached, parts = WIDTH / length, 0.0, []
    for place, (_name, minutes) in enumerate(stages):
        width = minutes * scale
        parts.append(
            Markup('<rect class="stage" fill="{fill}" x="{x:.1f}" y="2" width="{w:.1f}" height="26"/>').format(
                fill=_fill(HATCHES[place % len(HATCHES)]), x=reached, w=width
            )
        )
        if width > 26:
            parts.append(_plate(reached + width / 2, say.fixed(minutes, 0)))
        reached += width
    parts.append(Markup('<path class="line" d="M{x:.1f} 0V34"/>').format(x=given.plan.lesson_minutes * scale))
    alt = say.text(
        "drawing.minutes_lesson_lesson",
        minutes=say.minutes(given.design.minutes),
        lesson=say.minutes(given.plan.lesson_minutes),
        stages="; ".join(f"{name} {say.minutes(minutes)}" for name, minutes in stages),
    )
    return Markup('<svg class="bar" viewBox="0 0 644 36" role="img" aria-label="{alt}">{defs}{parts}</svg>').format(
        alt=alt, defs=_PATTERNS, parts=Markup("").join(parts)
    )


def swatch(place: int) -> Markup:
    """Draw the filling of a stage, for the key."""
    return Markup(
        '<svg viewBox="0 0 24 14" aria-hidden="true">'
        '<rect class="stage" fill="{fill}" x="1" y="1" width="22" height="12"/></svg>'
    ).format(fill=_fill(HATCHES[place % len(HATCHES)]))


def _fill(hatch: str) -> str:
    return "none" if hatch == "none" else f"url(#{hatch})"


def _plate(x: float, text: str) -> Markup:
    return Markup(
        '<rect class="plate" x="{left:.1f}" y="7" width="22" height="16"/>'
        '<text x="{x:.1f}" y="19" text-anchor="middle">{text}</text>'
    ).format(left=x - 11, x=x, text=text)


_PATTERNS = Markup(
    '<defs><pattern id="rising" width="6" height="6" patternUnits="userSpaceOnUse">'
    '<path class="hatch" d="M0 6L6 0"/></pattern>'
    '<pattern id="falling" width="6" height="6" patternUnits="userSpaceOnUse">'
    '<path class="hatch" d="M0 0L6 6"/></pattern>'
    '<pattern id="dots" width="5" height="5" patternUnits="userSpaceOnUse">'
    '<circle class="dot" cx="2.5" cy="2.5" r="1"/></pattern></defs>'
)


def interval_line(given: PieceBasis) -> Markup:
    """Draw the interval of results to expect on a line of values, with the true value."""
    say, design, true = given.say, given.ranked, given.plan.latent_heat
    ends = [true * (1 + end / 100) for end in design.interval_percent]
    low, high = min(*ends, true), max(*ends, true)
    margin = 0.22 * (high - low)

    def place(value: float) -> float:
        return 20 + (value - low + margin) / (high - low + 2 * margin) * (WIDTH - 40)

    def written(value: float) -> str:
        return say.latent_heat(value, design.standard_uncertainty_percent)

    accepted = say.text("drawing.accepted_value")
    parts = [
        Markup('<path class="line" d="M20 40H620"/>'),
        Markup('<rect class="interval" x="{x:.1f}" y="28" width="{w:.1f}" height="24"/>').format(
            x=place(ends[0]), w=place(ends[1]) - place(ends[0])
        ),
        Markup('<circle class="expected" cx="{x:.1f}" cy="40" r="6"/>').format(x=place(design.expected_J_per_kg)),
        Markup('<path class="true" d="M{x:.1f} 18V62"/>').format(x=place(true)),
        _written(place(ends[0]), 70, written(ends[0])),
        _written(place(ends[1]), 70, written(ends[1])),
        _written(place(true), 13, f"{accepted} {written(true)}"),
    ]
    alt = say.text(
        "drawing.results_expected_about",
        low=written(ends[0]), high=written(ends[1]), expected=written(design.expected_J_per_kg), true=written(true),
    )  # fmt: skip
    return Markup('<svg class="bar" viewBox="0 0 640 78" role="img" aria-label="{alt}">{parts}</svg>').format(
        alt=alt, parts=Markup("").join(parts)
    )


def _written(x: float, y: float, text: str) -> Markup:
    return Markup('<text x="{x:.1f}" y="{y}" text-anchor="middle">{text}</text>').format(
        x=min(max(x, 60.0), WIDTH - 60.0), y=y, text=escape(text)
    )


def stage_names(say: Language, stages: Sequence[tuple[str, float]]) -> tuple[tuple[str, float], ...]:
    """Name the stages of a lesson in a language, leaving out those that take no time."""
    return tuple((sentence_start(say.name("stage", name)), minutes) for name, minutes in stages if minutes > 0.05)
