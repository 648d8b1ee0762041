"""Something to be said: the key of its words, and what is filled in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Message:
    """
    A sentence that a report says in its language.

    Parameters
    ----------
    key : str
        Of its words.
    values : mapping of str to object
        Numbers, names that people gave, keys of other words, and other messages, by the words in braces.
    """

    key: str
    values: Mapping[str, object] = field(default_factory=dict, hash=False)
