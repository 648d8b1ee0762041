"""What vessels are made of, wrapped in and filled to: how a file names wall, lagging and filling."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from design.errors import FieldError, meant, spaced
from design.fields import JUDGEMENT, SHARE, Choice, Kind, Quantity, Share

INSULATION = "building-material tables of the ISO 10456 and VDI kind (values from the ht package's copy)"


@dataclass(frozen=True)
class Material:
    """A vessel's wall: thickness [m], conductivity [W/(m K)], emissivity, density [kg/m³], heat [J/(kg K)]."""

    thickness: float
    conductivity: float
    emissivity: float
    density: float
    specific_heat: float


MATERIALS: dict[str, Material] = {
    "glass": Material(0.0022, 1.2, 0.90, 2230.0, 830.0),
    "stainless steel": Material(0.0008, 15.0, 0.25, 7900.0, 500.0),
    "enamelled steel": Material(0.0010, 50.0, 0.90, 7800.0, 480.0),
    "aluminium": Material(0.0012, 200.0, 0.20, 2700.0, 900.0),
    "copper": Material(0.0008, 390.0, 0.30, 8900.0, 385.0),
    "plastic": Material(0.0020, 0.2, 0.92, 920.0, 1900.0),
}
"""Walls by material. Emissivities: tables in thermal-camera manuals (glass 0.90 ± 0.05 as a total
hemispherical value); the other figures from handbooks, from memory."""
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
"""Other words for the wall materials."""


@dataclass(frozen=True)
class Jacket:
    """
    Lagging round a vessel.

    Thickness [m] (0 for none), conductivity [W/(m K)], outer emissivity [1], heat capacity [J/(m³ K)]; and whether
    water that gets into it stays there, where it leads heat.
    """

    text: str = "none"
    thickness: float = 0.0
    conductivity: float = 0.04
    emissivity: float | None = None
    heat_capacity: float = 1.0e5
    soaks: bool = False

    @property
    def time(self) -> float:
        """
        Time in which the lag of a slab behind a step of temperature on one face falls to 1/e: d²/(pi² a). [s].

        References
        ----------
        .. [1] Carslaw and Jaeger, Conduction of Heat in Solids, 1959, slab with both faces held (first mode).
        """
        return self.thickness**2 * self.heat_capacity / (math.pi**2 * self.conductivity)


@dataclass(frozen=True)
class Lagging:
    """
    Lagging material.

    Name, other words for it, thermal conductivity [W/(m K)], source; heat capacity [J/(m³ K)] (density times specific
    heat of the material when dry: handbooks, from memory, good to a third); whether it soaks up water and keeps it.
    """

    name: str
    words: tuple[str, ...]
    conductivity: float
    source: str
    heat_capacity: float
    soaks: bool = False


FOIL_EMISSIVITY = 0.1
"""Emissivity of crinkled kitchen foil wrapped by hand. [1] (smooth foil 0.04 in tables; judgement)"""

LAGGINGS: tuple[Lagging, ...] = (
    Lagging(
        "foam",
        ("eps", "polystyrene", "expanded polystyrene", "polystyrene foam", "polyethylene foam", "pe foam"),
        0.036,
        INSULATION,
        3.0e4,
    ),
    Lagging("lagging", ("insulation",), 0.04, "of a kind not stated: middle of the materials below, judgement", 1.0e5),
    Lagging("cork", (), 0.05, INSULATION, 2.2e5, soaks=True),
    Lagging("felt", (), 0.05, INSULATION, 1.6e5, soaks=True),
    Lagging("mineral wool", ("wool", "rock wool", "stone wool", "cotton wool"), 0.038, INSULATION, 5.0e4, soaks=True),
    Lagging(
        "glass fibre", ("glass fiber", "glass wool", "fibreglass", "fiberglass"), 0.045, INSULATION, 3.0e4, soaks=True
    ),
    Lagging("rubber", ("neoprene", "foam rubber"), 0.05, INSULATION, 1.0e5),
    Lagging("wood", ("plywood",), 0.13, "softwood across the grain: " + INSULATION, 8.0e5, soaks=True),
    Lagging("cardboard", ("card", "paper"), 0.07, "handbooks, from memory", 3.3e5, soaks=True),
    Lagging("cloth", ("cotton", "towel"), 0.05, JUDGEMENT, 2.0e5, soaks=True),
    Lagging(
        "air",
        ("air gap", "double wall"),
        0.10,
        "judgement: still air 0.026 W/(m K) and radiation of about 7 W/(m² K) across a gap of 10 mm",
        1.2e3,
    ),
)
"""What a vessel may be wrapped in."""


_LENGTH = r"(?P<length>[\d.]+ ?(mm|cm|m|inch|in)\b)"
_WORDS = r"(?P<words>[a-z][a-z -]*)"
_FORMS = (re.compile(rf"{_LENGTH} {_WORDS}"), re.compile(rf"{_WORDS} {_LENGTH}"))
_FOIL = re.compile(r"(?P<rest>.+?) ?(\+|,|and|with|in) ?(aluminium |aluminum |kitchen )?foil")
_THICKNESS = Quantity("a thickness", "20 mm", "m", "0.5 mm", "100 mm")


@dataclass(frozen=True)
class JacketText(Kind):
    """``"none"``, ``"foil"`` or a thickness and a material in either order, with foil outside or without."""

    @property
    def right(self) -> str:
        """What would be right."""
        materials = ", ".join(row.name for row in LAGGINGS)
        return f'write "none", "foil" or a thickness and a material such as "20 mm cork"; materials: {materials}'

    def __call__(self, value: Any) -> Jacket:
        """Read a value, or refuse it."""
        if not isinstance(value, str):
            raise FieldError("must be a text in quotes", self.right)
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
            heat_capacity=lagging.heat_capacity,
            soaks=lagging.soaks,
        )

    def _layer(self, text: str) -> tuple[float, Lagging]:
        for form in _FORMS:
            match = form.fullmatch(text)
            if match:
                return _THICKNESS(match["length"]), self._lagging(match["words"])
        raise FieldError("is not a jacket known here", self.right)

    def _lagging(self, words: str) -> Lagging:
        known = {word: row for row in LAGGINGS for word in (row.name, *row.words)}
        if words in known:
            return known[words]
        raise FieldError(f'names no lagging known here, "{words[:40]}"', meant(words, known) + self.right)


WALL = Choice(tuple(MATERIALS), MATERIAL_WORDS, "a wall material", help="wall material")
"""How a file names the material of a wall."""


FILL = Share(
    "a share", "2/3", SHARE, "5 %", "100 %", plain=True, help="most water, cold, over what the vessel holds brimful"
)
RIM = Quantity("a length", "10 mm", "m", "0 mm", "1 m", help="least height of the rim over the boiling surface")
