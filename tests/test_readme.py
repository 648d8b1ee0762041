"""The README's promises: its commands are commands, and its demo is invented."""

import re
import shlex
from pathlib import Path

from typer.main import get_command
from typer.testing import CliRunner

from reports.command_line.cli import app

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def shell_lines() -> list[str]:
    """Lines of the README's shell blocks."""
    blocks = re.findall(r"```(?:sh|bat|console)\n(.*?)```", README, flags=re.DOTALL)
    return [line for block in blocks for line in block.splitlines() if line.strip()]


def test_the_first_command_installs_and_runs_the_main_job_and_the_second_passes_the_tests() -> None:
    first, second = re.findall(r"```sh\n(.*?)```", README, flags=re.DOTALL)[:2]

    assert "-m venv" in first
    assert "boiloff plan configs/demo.toml" in first
    assert "[test]" in second
    assert "pytest" in second


def test_every_boiloff_command_in_the_readme_exists_with_its_options() -> None:
    group = get_command(app)
    commands = getattr(group, "commands")  # noqa: B009 - typer's group has it, its type does not say so
    used = [shlex.split(line)[1:] for line in shell_lines() if line.startswith("boiloff ")]

    assert used
    for words in used:
        if words[0].startswith("--"):
            continue
        options = {option for parameter in commands[words[0]].params for option in parameter.opts}
        assert {word for word in words if word.startswith("--")} <= options


def test_every_file_that_the_readme_names_is_there() -> None:
    named = set(re.findall(r"configs/[\w./-]+\.(?:toml|csv)", README))

    assert named
    assert all((ROOT / name).is_file() for name in named)


def test_help_lists_the_commands() -> None:
    result = CliRunner().invoke(app, ["--help"])

    assert result.exit_code == 0
    assert "plan" in result.output


def test_every_example_is_marked_as_invented() -> None:
    for path in sorted((ROOT / "configs").glob("*.toml")):
        assert 'scenario = "invented"' in path.read_text(encoding="utf-8"), path.name
