"""The house: what stands at its top, which way its walls face, and how long a module may be."""

import ast
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGES = ("budget", "design", "reports")
TOP = {"README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml", "configs", "tests", *PACKAGES}
MAY_IMPORT = {
    "budget": {"budget"},
    "design": {"budget", "design"},
    "reports": {"budget", "design", "reports", "configs"},
}
MODULES = sorted(path for package in PACKAGES for path in (ROOT / package).rglob("*.py"))


def imported(path: Path) -> set[str]:
    """Top-level names that a module imports anywhere."""
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module.split(".")[0])
    return names


def test_the_top_of_the_house_holds_what_it_should() -> None:
    built = {"boiloff-report", "dist", "build", "out"}
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - built

    assert {name for name in found if not name.endswith(".egg-info")} == TOP


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_nothing_lower_imports_anything_higher(path: Path) -> None:
    package = path.relative_to(ROOT).parts[0]
    ours = imported(path) & {"budget", "design", "reports", "configs", "tests"}

    assert ours <= MAY_IMPORT[package]


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_fits_in_one_reading(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


def test_tests_hide_no_package() -> None:
    assert not list((ROOT / "tests").rglob("__init__.py"))


def test_every_module_of_the_lower_packages_has_its_place_in_the_layers() -> None:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    contracts = settings["tool"]["importlinter"]["contracts"]
    exhaustive = {name for contract in contracts if contract.get("exhaustive") for name in contract["containers"]}

    assert {"budget", "design", "reports"} <= exhaustive


def test_a_class_name_has_one_meaning() -> None:
    places: dict[str, list[str]] = {}
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                places.setdefault(node.name, []).append(str(path.relative_to(ROOT)))

    assert {name: paths for name, paths in places.items() if len(paths) > 1} == {}
