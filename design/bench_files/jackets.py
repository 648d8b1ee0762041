"""What a bench file says of a vessel's wall and wrapping, in words, turned into numbers."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from design.bench_files.defaults import FOIL_EMISSIVITY, LAGGINGS, MATERIAL_WORDS, Lagging
from design.bench_files.fields import Quantity, nearest, refuse, spaced
from design.kit import Jacket
from design.physics.losses import MATERIALS

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
