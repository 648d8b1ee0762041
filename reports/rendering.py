"""Fill a template: one self-contained page, everything escaped but our own drawings."""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from importlib.metadata import version
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from reports.words.languages import ENGLISH

if TYPE_CHECKING:
    from collections.abc import Mapping

    from jinja2 import Environment


@dataclass(frozen=True)
class Origin:
    """Where a page comes from: version of the program and the date it prints."""

    version: str
    date: str


def origin() -> Origin:
    """
    Version and date for this run.

    The date is that of ``SOURCE_DATE_EPOCH`` where it is set (a convention of reproducible builds), in UTC,
    else today's.
    """
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    moment = datetime.fromtimestamp(int(epoch), UTC) if epoch.isdigit() else datetime.now().astimezone()
    return Origin(version("boiloff"), moment.date().isoformat())


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("reports"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["drawn"] = Markup
    return environment


def page(template: str, values: Mapping[str, Any]) -> str:
    """Fill a template with values; stylesheet and headings are added."""
    stylesheet = (files("reports") / "templates" / "style.css").read_text(encoding="utf-8")
    given = {"stylesheet": stylesheet, "text": ENGLISH.group("heading"), "lang": "en", **values}
    return _environment().get_template(template).render(given)
