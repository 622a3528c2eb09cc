"""Craft and words by grammar end in a result or in one clear message, in every command.

No source but the promise itself; see tests/grammar.py for how the cases are made. The ten
thousand run in forks (test_forks.py).
"""

from itertools import islice
from pathlib import Path
from typing import Any

import pytest
from grammar import WEIGHTS, grammar_case, hands_on_explorer
from test_fuzz import run_case

from vlm.cli.commands import COMMANDS

FEW, MOST = 24, 60


def test_the_grammar_knows_every_command() -> None:
    assert set(WEIGHTS) == set(COMMANDS)


def test_a_few_craft_by_grammar(tmp_path: Path, capsys: Any) -> None:
    cheap = [n for n in range(200) if grammar_case(n).words[0] in ("check", "point", "sweep")]
    ends: dict[int, int] = {}
    for number in cheap[:FEW]:
        status = run_case(grammar_case(number), tmp_path / str(number), capsys)
        ends[status] = ends.get(status, 0) + 1
    assert ends.get(0, 0) > FEW / 5


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_gets_to_a_result(command: str, tmp_path: Path, capsys: Any) -> None:
    """Schedule, design, mission and report among them, or the cases test their first line only."""
    cases = (case for case in map(grammar_case, range(10_000)) if case.words[:1] == (command,))
    for case in islice(cases, MOST):
        with hands_on_explorer():
            if run_case(case, tmp_path / str(case.number), capsys) == 0:
                return
    pytest.fail(f"none of {MOST} cases of {command} came to a result")
