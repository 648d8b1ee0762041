"""Name the items of a design: what is bought, what is there, what is put on the vessel."""

from __future__ import annotations

from typing import TYPE_CHECKING

from design.kit import FITTING_ROLES, needed_roles
from reports.words import rounding
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from design.chosen import Design


def role(identifier: str, say: Language = ENGLISH) -> str:
    """Name a role."""
    return say.name("role", identifier)


def named(role_name: str, name: str, say: Language = ENGLISH) -> str:
    """Name an item by its role and its own name."""
    return say.text("item.role_name", role=role_name, name=name)


def by_role(design: Design, say: Language = ENGLISH) -> dict[str, str]:
    """Name what plays each role in every kit."""
    return {part: named(role(part, say), design.items[part], say) for part in needed_roles(mass_set=False)}


def shopping(design: Design, say: Language = ENGLISH) -> str:
    """List what has to be bought: the item where there is one, the number where there are several."""
    parts = []
    for part, name, number, _price in design.buy:
        word = role(part, say)
        parts.append(named(word, name, say) if number == 1 else f"{number}{rounding.THIN}× {named(word, name, say)}")
    return say.listed(parts)


def bought_names(design: Design) -> str:
    """List the names of what has to be bought, with numbers above one."""
    return "; ".join(name if number == 1 else f"{number}{rounding.THIN}× {name}" for _, name, number, _ in design.buy)


def already_there(design: Design, say: Language = ENGLISH) -> str:
    """List the items of a design that need not be bought."""
    bought = {part for part, *_ in design.buy}
    return say.listed([named(role(part, say), name, say) for part, name in design.items.items() if part not in bought])


def put_on(design: Design, say: Language = ENGLISH) -> str:
    """List what is put on the vessel; empty where nothing is."""
    things = [named(role(part, say), design.items[part], say) for part in FITTING_ROLES if part in design.items]
    return say.listed(things) if things else ""


def put_on_briefly(design: Design, say: Language = ENGLISH) -> str:
    """List what is put on the vessel, by name where it is not among what is bought; empty where nothing is."""
    bought = {part for part, *_ in design.buy}
    words = {part: role(part, say) for part in FITTING_ROLES if part in design.items}
    things = [word if part in bought else named(word, design.items[part], say) for part, word in words.items()]
    return say.listed(things) if things else ""
