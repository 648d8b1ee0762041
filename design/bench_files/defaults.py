"""What is taken where a bench file is silent: one table, so that a report can list it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from design.bench_files.fields import Quantity, nearest, refuse, spaced
from design.kit import Jacket
from design.physics.losses import MATERIALS

COMMON_PRACTICE = "common practice, no source"
JUDGEMENT = "judgement"
INSULATION = "building-material tables of the ISO 10456 and VDI kind (values from the ht package's copy)"


@dataclass(frozen=True)
class Default:
    """
    One value taken where the file is silent.

    Parameters
    ----------
    name : str
        Key of the bench file, with its kind where the value depends on it.
    value : float, str or bool
        The value, in `unit`.
    range : str
        Values met in schools, in words.
    unit : str
        Unit; empty for a word or a yes and no.
    source : str
        Where the value comes from.
    """

    name: str
    value: float | str | bool
    range: str
    unit: str
    source: str


@dataclass(frozen=True)
class Lagging:
    """Lagging material: name, other words for it, thermal conductivity [W/(m K)], source."""

    name: str
    words: tuple[str, ...]
    conductivity: float
    source: str


DEFAULTS: tuple[Default, ...] = (
    Default("supply.tolerance", 0.06, "2 % to 10 %", "1", "EN 50160 allows 10 %; 6 % is judgement"),
    Default("lesson.handling", 900.0, "10 min to 25 min", "s", COMMON_PRACTICE),
    Default("lesson.groups", 1, "1 to 12", "", COMMON_PRACTICE),
    Default(
        "observer.reaction_time",
        0.3,
        "0.1 s to 0.5 s",
        "s",
        "judgement, above the 0.10 s of an expected signal",
    ),
    Default("observer.tipping", 0.0002, "0.1 g to 1 g", "kg", JUDGEMENT),
    Default("search.objective", "rms error", "four words", "", JUDGEMENT),
    Default("search.coverage", 0.95, "0.5 to 0.9999", "1", "JCGM 100:2008, 6.2 (from memory)"),
    Default("search.margin", 0.002, "0.1 % to 1 %", "1", JUDGEMENT),
    Default("item.price", 0.0, "0 or more", "purse", "stated by the bench file's form"),
    Default("item.owned", 0, "0 or more", "", "stated by the bench file's form"),
    Default("balance.beam.splash_proof", True, "yes or no", "", COMMON_PRACTICE),
    Default("balance.beam.stability_filter", False, "yes or no", "", COMMON_PRACTICE),
    Default("balance.electronic.splash_proof", False, "yes or no", "", COMMON_PRACTICE),
    Default("balance.electronic.stability_filter", True, "yes or no", "", COMMON_PRACTICE),
    Default("balance.works_warm", True, "yes or no", "", COMMON_PRACTICE),
    Default("balance.beam.repeatability", 0.5, "0.3 to 1", "resolution", COMMON_PRACTICE),
    Default("balance.electronic.repeatability", 1.0, "0.5 to 2", "resolution", COMMON_PRACTICE),
    Default("balance.beam.linearity", 0.0, "0 to 1", "resolution", COMMON_PRACTICE),
    Default("balance.electronic.linearity", 1.0, "1 to 3", "resolution", COMMON_PRACTICE),
    Default("meter.reads", "whole", "whole or tenth", "", COMMON_PRACTICE),
    Default("meter.disk.accuracy", 0.02, "1 % to 2.5 %", "1", "IEC 62053-11, class 2 (from a summary)"),
    Default("meter.pulse.accuracy", 0.01, "0.5 % to 2 %", "1", "IEC 62053-21, class 1 (from memory)"),
    Default("meter.joule.accuracy", 0.02, "1 % to 5 %", "1", COMMON_PRACTICE),
    Default("meter.volt-ampere.accuracy", 0.015, "1 % to 3 %", "1", COMMON_PRACTICE),
    Default(
        "meter.display.error.low",
        -0.08,
        "-25 % to -1 %",
        "1",
        "judgement after Liikkanen & Nieminen, HIIT Technical Report 2009-1: plug-in meters mostly read low",
    ),
    Default("meter.display.error.high", 0.02, "1 % to 5 %", "1", "judgement after the same report"),
    Default("meter.max_voltage", float("inf"), "as marked", "V", "no limit stated"),
    Default("meter.max_current", float("inf"), "as marked", "A", "no limit stated"),
    Default("meter.max_power", float("inf"), "as marked", "W", "no limit stated"),
    Default("meter.start_current", 0.0, "0 A to 0.05 A", "A", "far below any heater's current"),
    Default("heater.tolerance", 0.05, "5 % to 10 %", "1", "IEC 60335-1, 10.1 (from memory): +5 %, -10 %"),
    Default("heater.stem_diameter", 0.008, "6.5 mm to 14 mm", "m", COMMON_PRACTICE),
    Default("heater.stems", 2, "1 to 4", "", COMMON_PRACTICE),
    Default("heater.minimum_depth", 0.06, "30 mm to 120 mm", "m", COMMON_PRACTICE),
    Default("heater.held_by", "stand", "stand or vessel", "", COMMON_PRACTICE),
    Default("heater.control", "none", "none, stepless or powers", "", COMMON_PRACTICE),
    Default("heater.flex", 1.0, "0.5 m to 3 m", "m", COMMON_PRACTICE),
    Default("vessel.material", "glass", "six materials", "", COMMON_PRACTICE),
    Default("vessel.brim", 1.12, "1.05 to 1.3", "height over that of the nominal mark", COMMON_PRACTICE),
    Default("vessel.jacket", "none", "none, foil or thickness and material", "", COMMON_PRACTICE),
    Default("vessel.lid", "none", "none or loose", "", COMMON_PRACTICE),
    Default("vessel.guard", "none", "none or deflector", "", COMMON_PRACTICE),
    Default("jacket.mass", 0.1, "0.05 kg to 0.4 kg", "kg", JUDGEMENT),
    Default("lid.kind", "loose", "loose", "", COMMON_PRACTICE),
    Default("lid.mass", 0.05, "0.02 kg to 0.2 kg", "kg", JUDGEMENT),
    Default("guard.kind", "deflector", "deflector", "", COMMON_PRACTICE),
    Default("guard.mass", 0.05, "0.02 kg to 0.2 kg", "kg", JUDGEMENT),
    Default("mass_set.accuracy", 0.005, "0.05 % to 2 %", "1", "slotted school masses: " + COMMON_PRACTICE),
)
"""Every default of a bench file, in SI units."""

MATERIAL_WORDS: dict[str, str] = {
    "borosilicate": "glass",
    "borosilicate glass": "glass",
    "heat-resistant glass": "glass",
    "steel": "stainless steel",
    "stainless": "stainless steel",
    "enamel": "enamelled steel",
    "enamelled": "enamelled steel",
    "enameled steel": "enamelled steel",
    "aluminum": "aluminium",
    "polypropylene": "plastic",
    "pp": "plastic",
}
"""Other words for the wall materials of design.physics.losses."""

FOIL_EMISSIVITY = 0.1
"""Emissivity of crinkled kitchen foil wrapped by hand. [1] (smooth foil 0.04 in tables; judgement)"""

LAGGINGS: tuple[Lagging, ...] = (
    Lagging(
        "foam",
        ("eps", "polystyrene", "expanded polystyrene", "polystyrene foam", "polyethylene foam", "pe foam"),
        0.036,
        INSULATION,
    ),
    Lagging("lagging", ("insulation",), 0.04, "of a kind not stated: middle of the materials below, judgement"),
    Lagging("cork", (), 0.05, INSULATION),
    Lagging("felt", (), 0.05, INSULATION),
    Lagging("mineral wool", ("wool", "rock wool", "stone wool", "cotton wool"), 0.038, INSULATION),
    Lagging("glass fibre", ("glass fiber", "glass wool", "fibreglass", "fiberglass"), 0.045, INSULATION),
    Lagging("rubber", ("neoprene", "foam rubber"), 0.05, INSULATION),
    Lagging("wood", ("plywood",), 0.13, "softwood across the grain: " + INSULATION),
    Lagging("cardboard", ("card", "paper"), 0.07, "handbooks, from memory"),
    Lagging("cloth", ("cotton", "towel"), 0.05, JUDGEMENT),
    Lagging(
        "air",
        ("air gap", "double wall"),
        0.10,
        "judgement: still air 0.026 W/(m K) and radiation of about 7 W/(m² K) across a gap of 10 mm",
    ),
)
"""What a vessel may be wrapped in."""


def default(name: str) -> Default:
    """
    Find a default by its name.

    Parameters
    ----------
    name : str
        As in `DEFAULTS`.

    Returns
    -------
    Default

    Raises
    ------
    KeyError
        If there is none of that name.

    Examples
    --------
    >>> default("heater.stem_diameter").value
    0.008
    """
    for row in DEFAULTS:
        if row.name == name:
            return row
    raise KeyError(name)


def number(name: str) -> float:
    """
    Value of a default that is a number.

    Parameters
    ----------
    name : str
        As in `DEFAULTS`.

    Returns
    -------
    float
        In the default's unit.

    Raises
    ------
    KeyError
        If there is none of that name.

    Examples
    --------
    >>> number("lesson.handling")
    900.0
    """
    return float(default(name).value)


_LENGTH = r"(?P<length>[\d.]+ ?(mm|cm|m|inch|in)\b)"
_WORDS = r"(?P<words>[a-z][a-z -]*)"
_FORMS = (re.compile(rf"{_LENGTH} {_WORDS}"), re.compile(rf"{_WORDS} {_LENGTH}"))
_FOIL = re.compile(r"(?P<rest>.+?) ?(\+|,|and|with|in) ?(aluminium |aluminum |kitchen )?foil")
_THICKNESS = Quantity("a thickness", "m", "20 mm", "0.5 mm", "100 mm")


@dataclass(frozen=True)
class JacketText:
    """``"none"``, ``"foil"`` or a thickness and a material in either order, with foil outside or without."""

    @property
    def right(self) -> str:
        """What would be right."""
        materials = ", ".join(row.name for row in LAGGINGS)
        return f'write "none", "foil" or a thickness and a material such as "20 mm cork"; materials: {materials}'

    def __call__(self, value: Any) -> Jacket:
        """Read a value, or refuse it."""
        if isinstance(value, Jacket):
            return value
        if not isinstance(value, str):
            raise refuse("must be a text in quotes", self.right)
        text = spaced(value)
        plain = text.casefold()
        if plain == "none":
            return Jacket()
        if plain in {"foil", "aluminium foil", "aluminum foil", "kitchen foil"}:
            return Jacket(text=text, emissivity=FOIL_EMISSIVITY)
        wrapped = _FOIL.fullmatch(plain)
        layer = wrapped["rest"] if wrapped else plain
        thickness, lagging = self._layer(layer)
        return Jacket(
            text=text,
            thickness=thickness,
            conductivity=lagging.conductivity,
            emissivity=FOIL_EMISSIVITY if wrapped else None,
        )

    def _layer(self, text: str) -> tuple[float, Lagging]:
        for form in _FORMS:
            match = form.fullmatch(text)
            if match:
                return _THICKNESS(match["length"]), self._lagging(match["words"])
        raise refuse("is not a jacket known here", self.right)

    def _lagging(self, words: str) -> Lagging:
        known = {word: row for row in LAGGINGS for word in (row.name, *row.words)}
        if words in known:
            return known[words]
        near = nearest(words, known)
        meant = f'did you mean "{near}"? ' if near else ""
        raise refuse(f'names no lagging known here, "{words[:40]}"', meant + self.right)


@dataclass(frozen=True)
class MaterialText:
    """A wall material, in one of the words for it."""

    @property
    def right(self) -> str:
        """What would be right."""
        *most, last = (f'"{name}"' for name in MATERIALS)
        return f"write {', '.join(most)} or {last}"

    def __call__(self, value: Any) -> str:
        """Read a value, or refuse it."""
        if not isinstance(value, str):
            raise refuse("must be a word in quotes", self.right)
        word = spaced(value).casefold()
        name = MATERIAL_WORDS.get(word, word)
        if name in MATERIALS:
            return name
        near = nearest(word, [*MATERIALS, *MATERIAL_WORDS])
        meant = f'did you mean "{near}"? ' if near else ""
        raise refuse("is not a wall material known here", meant + self.right)
