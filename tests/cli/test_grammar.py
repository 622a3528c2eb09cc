"""Craft and words by grammar end in a result or in one clear message, in every command.

No source but the promise itself; see tests/grammar.py for how the cases are made.
"""

from pathlib import Path
from typing import Any

import pytest
from grammar import WEIGHTS, grammar_case, hands_on_explorer
from test_fuzz import run_case

from vlm.cli.commands import COMMANDS

FEW, MANY, PORTION = 24, 10_000, 200


def test_the_grammar_knows_every_command() -> None:
    assert set(WEIGHTS) == set(COMMANDS)


def run_all(numbers: range, folder: Path, capsys: Any) -> dict[tuple[str, int], int]:
    """How often each command ended with each status; fails with every broken promise."""
    ends: dict[tuple[str, int], int] = {}
    broken = []
    for number in numbers:
        case = grammar_case(number)
        try:
            with hands_on_explorer():
                status = run_case(case, folder / str(number), capsys)
        except AssertionError as failed:
            broken.append(str(failed))
        else:
            ends[case.words[0], status] = ends.get((case.words[0], status), 0) + 1
    assert not broken, f"{len(broken)} of {len(numbers)}:\n\n" + "\n\n".join(broken[:20])
    return ends


def test_a_few_craft_by_grammar(tmp_path: Path, capsys: Any) -> None:
    cheap = [n for n in range(200) if grammar_case(n).words[0] in ("check", "point", "sweep")]
    ends: dict[int, int] = {}
    for number in cheap[:FEW]:
        status = run_case(grammar_case(number), tmp_path / str(number), capsys)
        ends[status] = ends.get(status, 0) + 1
    assert ends.get(0, 0) > FEW / 5


@pytest.mark.slow
@pytest.mark.parametrize("start", range(0, MANY, PORTION))
def test_ten_thousand_craft_by_grammar(start: int, tmp_path: Path, capsys: Any) -> None:
    run_all(range(start, start + PORTION), tmp_path, capsys)


@pytest.mark.slow
def test_every_command_gets_to_a_result(tmp_path: Path, capsys: Any) -> None:
    """Schedule, design, mission and report among them, or the cases test their first line only."""
    ends = run_all(range(400), tmp_path, capsys)
    through = {command for command, status in ends if status == 0}
    assert through >= set(COMMANDS)
