"""
The catalogues of messages: one file a language, in the order of the English one.

``python -m reports.words.catalogues`` writes every file anew: sorted by groups, what English does not have left out,
what is not translated yet as an empty text.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path

from reports.words.languages import ENGLISH_ALONE, LANGUAGES, Message, catalogue

LOCALE = Path(str(files("reports"))) / "locale"


def written(messages: Mapping[str, Message]) -> str:
    """Write messages as TOML, one group after the other; within a group they keep their order."""
    groups: dict[str, list[str]] = {}
    for key, message in messages.items():
        group, _, name = key.rpartition(".")
        groups.setdefault(group, []).append(f"{name} = {_value(message)}\n")
    return "\n".join(f"[{group}]\n{''.join(groups[group])}" for group in sorted(groups))


def _value(message: Message) -> str:
    if isinstance(message, str):
        return json.dumps(message, ensure_ascii=False)
    return f"{{ {', '.join(f'{category} = {_value(text)}' for category, text in message.items())} }}"


def update() -> None:
    """Write every catalogue anew."""
    english = catalogue("en")
    for name in (ENGLISH_ALONE, *LANGUAGES):
        found = catalogue(name)
        wanted = found if name in {"en", ENGLISH_ALONE} else {key: found.get(key, "") for key in english}
        (LOCALE / f"{name}.toml").write_text(written(wanted), encoding="utf-8")


if __name__ == "__main__":
    update()
