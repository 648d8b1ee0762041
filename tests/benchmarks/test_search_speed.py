"""Speed of the search, as ratios within one run: machines differ, and this one may be busy."""

import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from importlib import util
from itertools import pairwise
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from design.bench import Bench
from design.bench_files.reader import read_bench
from design.chosen import all_terms, program_of
from design.kit import Kit
from design.procedures.face import Correction, Procedure, model_steps, pace_of
from design.procedures.registry import procedure_named
from design.search.candidates import settings_of
from design.search.planning import plan_bench, quiet
from design.search.sample import COLUMNS, Aim, Sample, objective_of, relative_errors, standard_draws
from design.search.survey import look_at_share, shares_of, survey
from design.search.work import Workforce
from design.setting.hardware import conditions_of, hardware_of
from design.setting.situation import Settings, situation_of
from design.setting.terms import InputTerm

pytestmark = pytest.mark.slow
ROOT = Path(__file__).parents[2]
DEMO, LARGE = ROOT / "configs" / "demo.toml", ROOT / "configs" / "large" / "bench.toml"
SAMPLE, AIM = Sample(2**14, 0), Aim("rms error", 0.95)


def generator() -> ModuleType:
    """The script that makes the large bench."""
    spec = util.spec_from_file_location("make_large_bench", Path(__file__).with_name("make_large_bench.py"))
    assert spec is not None
    assert spec.loader is not None
    module = util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def least_times(*works: Callable[[], object], rounds: int = 60) -> list[float]:
    """Least processor time of each work, measured in turn so that all meet the same machine. [s]"""
    least = [np.inf] * len(works)
    for _ in range(rounds):
        for place, work in enumerate(works):
            start = time.process_time()
            work()
            least[place] = min(least[place], time.process_time() - start)
    return least


def design_of(bench: Bench) -> tuple[InputTerm, ...]:
    """Input quantities of one design of the demo: fixed mass, heater kept on, calculated losses taken off."""
    procedure = procedure_named("fixed-mass-kept-on")
    kit = Kit(bench.balances[0], bench.meters[0], bench.heaters[0], bench.vessels[0], bench.mass_sets[0])
    settings = settings_of(bench, kit, procedure)
    one = Settings(settings.powers[:1], settings.mass[:1], settings.repeats[:1])
    conditions = conditions_of(bench)
    hardware = hardware_of(conditions, kit.vessel, kit.heater)
    situation = situation_of(conditions, kit, hardware, one, pace_of(procedure, "calculated"))
    return all_terms(procedure, "calculated", situation)


def plain_numpy(procedure: Procedure, correction: Correction) -> Callable[..., np.ndarray]:
    """The texts of the measurement equation as the lines of an ordinary Python function on numpy arrays."""
    lines = [f"    {symbol} = {text}" for symbol, text in model_steps(procedure, correction)]
    names = ", ".join(sorted(program_of(procedure, correction).symbols))
    source = "\n".join([f"def bare({names}):", *lines, f"    return {procedure.result(correction).equation}"])
    scope: dict[str, object] = {"sqrt": np.sqrt, "exp": np.exp, "min": np.minimum, "max": np.maximum}
    exec(source, scope)  # noqa: S102 - our own equation texts
    return scope["bare"]  # type: ignore[return-value]


@pytest.fixture(scope="module")
def demo() -> Bench:
    return read_bench(DEMO)


def test_a_design_costs_little_more_than_the_bare_arithmetic_of_its_equation(demo: Bench) -> None:
    terms = design_of(demo)
    procedure = procedure_named("fixed-mass-kept-on")
    program, bare_arithmetic = program_of(procedure, "calculated"), plain_numpy(procedure, "calculated")
    values = {}
    for term in terms:
        form = term.base.standard_form()
        draws = standard_draws(term.symbol, form.shape, SAMPLE) if form.scale else np.zeros(())
        values[term.symbol] = np.ravel(term.size)[0] * (form.location + form.scale * draws)
    reference = float(np.ravel(values["L_ref"])[0])

    design, bare = least_times(
        lambda: objective_of(relative_errors(program, terms, SAMPLE), AIM), lambda: bare_arithmetic(**values)
    )

    by_equation = relative_errors(program, terms, SAMPLE)[0]
    assert by_equation == pytest.approx(bare_arithmetic(**values) / reference - 1.0, abs=1e-12)
    print(f"a design over the bare arithmetic: {design / bare:.2f} (wanted 1.3)")  # noqa: T201
    assert design < 1.3 * bare


def test_shared_draws_are_transformed_once_for_a_search(demo: Bench) -> None:
    # As many transformations as there are input quantities and shapes of distribution, however many designs share them;
    # the comparison of schools has a sample of its own, and one of its lessons. None is done twice.
    standard_draws.cache_clear()
    plan = plan_bench(demo, trials=1024)
    used = standard_draws.cache_info()

    assert plan.feasible > 80_000
    assert used.misses == used.currsize
    assert used.misses < 3 * len(COLUMNS)
    assert used.hits > 10 * used.misses


def test_the_large_bench_is_what_its_script_makes_from_its_seed() -> None:
    made = generator().large_bench()

    assert {path.name: path.read_text(encoding="utf-8") for path in LARGE.parent.iterdir()} == made


def test_the_large_bench_is_searched_in_a_minute_and_a_gigabyte(tmp_path: Path) -> None:
    # Processor time, shared by two cores; what other programs take of them does not count.
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [
        sys.executable,
        "-m",
        "reports.command_line.cli",
        "plan",
        str(LARGE),
        "--out",
        str(tmp_path / "r"),
        "--workers",
        "2",
    ]
    told = subprocess.run(command, check=True, capture_output=True, text=True, cwd=ROOT).stdout
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    words = told[: told.index(" combinations considered")].split("\n")[-1]
    assert int("".join(digit for digit in words if digit.isdigit())) > 200_000
    print(f"large bench: {spent:.1f} s on two processors, {after.ru_maxrss / 1e6:.2f} GB (wanted 60 s each, 1 GB)")  # noqa: T201
    assert spent / 2 < 60.0
    assert after.ru_maxrss < 1_000_000  # the largest of the processes [kB]


def test_time_grows_at_most_linearly_from_two_thousand_to_two_hundred_thousand(tmp_path: Path) -> None:
    make, counts, times = generator().write, [], []
    for items in (2, 2, 3, 5, 7):  # the first only loads what all share
        make(tmp_path / str(items), items)
        bench = read_bench(tmp_path / str(items) / "bench.toml")
        few = replace(bench, search=replace(bench.search, masses=(0.05, 0.1, 0.12, 0.2, 0.25), repeats=(1, 2)))
        start = time.process_time()
        counts.append(survey(few, SAMPLE, AIM, Workforce(), progress=quiet).combinations.considered)
        times.append(time.process_time() - start)

    assert counts[0] < 2_500
    assert counts[-1] > 200_000
    growth = [later / sooner for sooner, later in pairwise(times[1:])]
    allowed = [later / sooner for sooner, later in pairwise(counts[1:])]
    print("combinations and seconds:", *(f"{n}: {t:.2f};" for n, t in zip(counts, times, strict=True)))  # noqa: T201
    assert all(one <= other for one, other in zip(growth, allowed, strict=True))


SURVEY = """
import resource, sys
from joblib.externals.loky import get_reusable_executor
from design.bench_files.reader import read_bench
from design.setting.hardware import conditions_of
from design.search.sample import Aim, Sample
from design.search.survey import look_at_share, shares_of, survey
from design.search.work import Workforce
def spent(who):
    used = resource.getrusage(who)
    return used.ru_utime + used.ru_stime
bench, sample, aim = read_bench(sys.argv[1]), Sample(8192, 0), Aim("rms error", 0.95)
look_at_share(shares_of(conditions_of(bench), sample, aim)[0])
loaded = spent(resource.RUSAGE_SELF)
survey(bench, sample, aim, Workforce(int(sys.argv[2])), progress=lambda *_: None)
get_reusable_executor().shutdown(wait=True)
print(spent(resource.RUSAGE_SELF) - loaded, spent(resource.RUSAGE_CHILDREN))
"""


def test_two_workers_do_the_work_of_nearly_two(tmp_path: Path) -> None:
    # By processor time once the program is loaded: what the workers share between them, their start included, and what
    # is left to the one that hands it out. Against two searches at once, each alone, for they too slow each other down.
    # On twenty-seven things a shelf: starting two workers takes as long as looking at millions of combinations, and
    # what is gathered by the one that hands out counts the less the more there is to do.
    # The best of three, as other programs can only take away.
    generator().write(tmp_path, 27)
    gains: list[float] = []
    while len(gains) < 3 and max(gains, default=0.0) <= 1.7:
        alone = [own for own, _ in _surveys(tmp_path / "bench.toml", workers=1, at_once=2)]
        ((handing_out, shared),) = _surveys(tmp_path / "bench.toml", workers=2, at_once=1)
        assert shared > 0.0
        gains.append(sum(alone) / 2.0 / (handing_out + shared / 2.0))

    print("two workers over one:", *(f"{gain:.2f}" for gain in gains), "(wanted 1.7)")  # noqa: T201
    assert max(gains) > 1.7


def _surveys(bench: Path, *, workers: int, at_once: int) -> list[tuple[float, float]]:
    """Processor time of each of some processes that search a bench, its own and that of its workers. [s]"""
    command = [sys.executable, "-c", SURVEY, str(bench), str(workers)]
    processes = [subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) for _ in range(at_once)]
    found = [tuple(map(float, process.communicate()[0].split())) for process in processes]
    return [(own, others) for own, others in found]


def _spent(who: int) -> float:
    used = resource.getrusage(who)
    return used.ru_utime + used.ru_stime


def _own(work: Callable[[], object]) -> float:
    start = _spent(resource.RUSAGE_SELF)
    work()
    return _spent(resource.RUSAGE_SELF) - start


def test_the_demo_is_planned_in_eight_seconds_of_which_two_are_the_search(tmp_path: Path) -> None:
    # Processor time on a machine that loads scipy.stats in 0.6 s; slower ones get more, by how they are before, between
    # and after.
    loading = [_in_a_process("import scipy.stats")]
    whole = _in_a_process(
        f"from reports.command_line.cli import main; main(['plan', {str(DEMO)!r}, '--out', {str(tmp_path / 'r')!r}])"
    )
    loading.append(_in_a_process("import scipy.stats"))
    bench = read_bench(DEMO)
    shares = shares_of(conditions_of(bench), Sample(8192, 0), AIM)
    look_at_share(shares[0])
    search = _own(lambda: [look_at_share(share) for share in shares])
    loading.append(_in_a_process("import scipy.stats"))
    allowance = max(sum(loading) / len(loading) / 0.6, 1.0)

    print(f"demo: {whole:.1f} s, search {search:.1f} s (wanted 8 s and 2 s, times {allowance:.2f} here)")  # noqa: T201
    assert whole < 8.0 * allowance
    assert search < 2.0 * allowance


def test_help_comes_as_fast_as_the_command_line_library_can() -> None:
    bare = min(_in_a_process("import typer") for _ in range(5))
    told = min(
        _in_a_process("import sys; from reports.command_line.cli import main; main(['--help'])") for _ in range(5)
    )

    assert told < max(0.4, 4.0 * bare)
    assert told - bare < 0.3


def _in_a_process(program: str) -> float:
    """Processor time of a Python program in a process of its own. [s]"""
    before = _spent(resource.RUSAGE_CHILDREN)
    environment = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"}
    subprocess.run([sys.executable, "-c", program], check=True, capture_output=True, cwd=ROOT, env=environment)
    return _spent(resource.RUSAGE_CHILDREN) - before
