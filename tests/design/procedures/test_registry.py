"""The registry: every procedure of the folder is offered, in an order that its modules state."""

from importlib import import_module
from pkgutil import iter_modules

from design import procedures
from design.procedures.face import Procedure
from design.procedures.registry import PROCEDURES
from design.search.sample import COLUMNS

MODULES = [import_module(f"{procedures.__name__}.{module.name}") for module in iter_modules(procedures.__path__)]


def test_every_procedure_that_is_written_is_offered() -> None:
    written = {
        value
        for module in MODULES
        for value in vars(module).values()
        if isinstance(value, type) and Procedure in value.__mro__[1:]
    }

    assert {type(procedure) for procedure in PROCEDURES} == written


def test_no_two_modules_state_the_same_place() -> None:
    places = [module.PLACE for module in MODULES if hasattr(module, "OFFERED")]

    assert len(set(places)) == len(places) > 1


def test_procedures_come_in_the_order_of_the_reports() -> None:
    assert list(dict.fromkeys(procedure.identifier for procedure in PROCEDURES)) == [
        "fixed-mass-restart", "fixed-mass-kept-on", "whole-counts", "two-powers", "series",
    ]  # fmt: skip


def test_no_symbol_has_two_columns_of_the_shared_sample() -> None:
    assert len(set(COLUMNS)) == len(COLUMNS)
