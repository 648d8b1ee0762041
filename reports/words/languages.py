"""Languages of the printed pieces and the plan page: catalogues of messages; numbers, lists and dates as written."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import TYPE_CHECKING, Any

from reports.errors import OutputError
from reports.words import rounding

if TYPE_CHECKING:
    from babel import Locale

ENGLISH_ALONE = "english_pages"
"""Catalogue of the pages that are written in English alone; the other languages fall back on it."""
LOCALES = {"en": "en_GB", "de": "de_DE", "fr": "fr_FR", "es": "es_ES"}
"""Locale of each language by its code, whose marks, lists and dates are used (CLDR, through Babel)."""
LANGUAGES = tuple(LOCALES)
"""Codes of the languages, the source language first."""
Message = str | Mapping[str, str]
"""One text, or, where it depends on a number, one for each plural category of the language (CLDR)."""


@dataclass(frozen=True)
class Language:
    """
    One language: what a message reads in it, and how a number, a list or a date is written.

    Parameters
    ----------
    code : str
        One of `LANGUAGES`; also the ``lang`` attribute of a page.
    """

    code: str

    @property
    def decimal_mark(self) -> str:
        """Mark between units and tenths."""
        return _decimal_mark(self.code)

    def text(self, key: str, /, **values: object) -> str:
        """
        Say what a key of the catalogue stands for, with its values filled in.

        Parameters
        ----------
        key : str
            Group and name of a message, ``"decision.buy"``.
        values : str
            What stands for the words in braces.

        Raises
        ------
        KeyError
            If the catalogue has no such message.
        """
        found = messages(self.code)[key]
        if not isinstance(found, str):
            raise KeyError(f"{key}: depends on a number")
        return found.format(**values) if values else found

    def several(self, key: str, number: float, /, **values: object) -> str:
        """Say what a key stands for where that depends on a number, by the plural rule of the language."""
        forms = messages(self.code)[key]
        if isinstance(forms, str):
            raise KeyError(f"{key}: does not depend on a number")
        category = _locale(self.code).plural_form(int(number) if float(number).is_integer() else 2)
        found = forms.get(category, forms["other"])
        return found.format(**{"number": self.number(_plain(number)), **values})

    def name(self, group: str, name: str, part: str = "") -> str:
        """Say what a name of a group stands for; a name that the group does not have was given by a user and stays."""
        key = f"{group}.{name}.{part}" if part else f"{group}.{name}"
        return self.text(key) if key in messages(self.code) else name

    def group(self, group: str) -> dict[str, str]:
        """Every text of a group by its name, values not yet filled in."""
        start = f"{group}."
        return {key.removeprefix(start): self.text(key) for key in messages(self.code) if key.startswith(start)}

    def number(self, text: str) -> str:
        """Give a number that `reports.words.rounding` has written the decimal mark of the language."""
        return re.sub(r"(?<=\d)\.(?=\d)", self.decimal_mark, text)

    def significant(self, value: float, digits: int) -> str:
        """Round to significant digits."""
        return self.number(rounding.significant(value, digits))

    def fixed(self, value: float, decimals: int) -> str:
        """Round to a number of decimals."""
        return self.number(rounding.fixed(value, decimals))

    def in_unit(self, value: float, unit: str, digits: int = 3) -> str:
        """Write a value to some significant digits, and its unit after a thin space."""
        return self.number(rounding.in_unit(value, unit, digits))

    def with_uncertainty(self, estimate: float, standard_uncertainty: float, unit: str = "", *, digits: int = 2) -> str:
        """Write ``estimate ± uncertainty unit``, rounded together."""
        return self.number(rounding.with_uncertainty(estimate, standard_uncertainty, unit, digits=digits))

    def with_standard_uncertainty(self, estimate: float, standard_uncertainty: float, unit: str = "") -> str:
        """Write an estimate and its standard uncertainty, which no ± is for."""
        return self.number(rounding.with_standard_uncertainty(estimate, standard_uncertainty, unit))

    def percent(self, value: float) -> str:
        """Write a percentage."""
        return self.number(rounding.percent(value))

    def signed_percent(self, value: float) -> str:
        """Write a percentage with its sign."""
        return self.number(rounding.signed_percent(value))

    def percent_of_share(self, share: float) -> str:
        """Write a share of one in per cent."""
        return self.number(rounding.percent_of_share(share))

    def minutes(self, value: float) -> str:
        """Write a time in whole minutes."""
        return self.number(rounding.minutes(value))

    def money(self, amount: float, currency: str) -> str:
        """Write an amount with the label of its currency, which stands as it was typed."""
        number = self.number(rounding.money(amount, ""))
        return f"{number}{rounding.THIN}{currency}" if currency else number

    def mass(self, value: float) -> str:
        """Write a mass given in kg in grams below one kilogram, else in kilograms."""
        return self.in_unit(value * 1000, "g") if value < 1 else self.in_unit(value, "kg")

    def power(self, value: float) -> str:
        """Write a power given in W in watts below one kilowatt, else in kilowatts."""
        return self.in_unit(value, "W") if value < 1000 else self.in_unit(value / 1000, "kW")

    def latent_heat(self, value: float, standard_uncertainty_percent: float) -> str:
        """Write a latent heat given in J/kg in kJ/kg, to the place that its uncertainty allows."""
        kilo = value / 1000
        text, _ = rounding.round_together(kilo, abs(kilo) * standard_uncertainty_percent / 100)
        return f"{self.number(text)}{rounding.THIN}kJ/kg"

    def listed(self, parts: Iterable[str]) -> str:
        """Join words by commas and the word for “and”."""
        from babel.lists import format_list

        return str(format_list(list(parts), locale=LOCALES[self.code]))

    def day(self, iso: str) -> str:
        """Write a date given as ISO 8601 in words."""
        from babel.dates import format_date

        return str(format_date(date.fromisoformat(iso), format="long", locale=LOCALES[self.code]))


ENGLISH = Language("en")


def language(code: str) -> Language:
    """
    Return the language with a code.

    Raises
    ------
    OutputError
        If there is no catalogue for it.
    """
    if code not in LANGUAGES:
        raise OutputError(f"--language {code}: is not a language of the pages; write one of {', '.join(LANGUAGES)}")
    return Language(code)


Say = Callable[..., str]
"""A translating function, as `Language.text`."""


@cache
def messages(code: str) -> Mapping[str, Message]:
    """Every message of a language by its key."""
    found = catalogue(ENGLISH_ALONE)
    return {**found, **catalogue(code)}


def catalogue(name: str) -> dict[str, Message]:
    """Messages of one file by their keys."""
    import tomllib
    from importlib.resources import files

    content = (files("reports") / "locale" / f"{name}.toml").read_text(encoding="utf-8")
    return dict(_flat("", tomllib.loads(content)))


def _flat(start: str, group: Mapping[str, Any]) -> Iterable[tuple[str, Message]]:
    for name, value in group.items():
        if isinstance(value, str) or "other" in value:
            yield f"{start}{name}", value
        else:
            yield from _flat(f"{start}{name}.", value)


@cache
def _locale(code: str) -> Locale:
    from babel import Locale

    return Locale.parse(LOCALES[code])


@cache
def _decimal_mark(code: str) -> str:
    from babel.numbers import get_decimal_symbol

    return str(get_decimal_symbol(LOCALES[code]))


def _plain(number: float) -> str:
    return rounding.fixed(number, 0) if float(number).is_integer() else rounding.in_unit(number, "", 3)
