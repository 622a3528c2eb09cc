"""``--folds`` of ``compare`` and ``power``: lists, ranges and ``--fold``, as they are named."""

from typing import Any

import pytest
from click.testing import CliRunner

from vlm.cli.commands import load_command
from vlm.errors import InputRefused

CASES = [
    (["--folds", "15,0"], [15.0, 0.0]),
    (["--folds=-30:30:3"], [-30.0, 0.0, 30.0]),
    (["--fold", "15", "--fold", "0"], [15.0, 0.0]),
    (["--folds", "10,0", "--fold", "0", "--folds", "-5"], [10.0, 0.0, -5.0]),
]
STUDIES = {
    "compare": "vlm.study.compare.study.compare_study",
    "power": "vlm.study.power.kept.power_study",
}


class Asked(Exception):
    """Ends a study as it starts."""


@pytest.mark.parametrize("name", list(STUDIES))
@pytest.mark.parametrize(("words", "folds"), CASES)
def test_folds_are_taken_as_they_are_named(
    monkeypatch: pytest.MonkeyPatch, name: str, words: list[str], folds: list[float]
) -> None:
    heard: list[float] = []

    def ended(given: Any, plan: Any, *_: Any, **__: Any) -> None:
        settings = [e.folds for e in given] if name == "compare" else plan.settings.values()
        heard.extend(one.left_deg for one in settings)
        raise Asked

    monkeypatch.setattr(STUDIES[name], ended)
    result = CliRunner().invoke(load_command(name), ["tideline", *words, "--no-cache"])
    assert isinstance(result.exception, Asked), result.output
    assert heard == folds


@pytest.mark.parametrize("name", list(STUDIES))
def test_what_is_no_fold_is_refused(name: str) -> None:
    result = CliRunner().invoke(load_command(name), ["tideline", "--fold", "much"])
    assert isinstance(result.exception, InputRefused)
    assert "--folds = much; write START:STOP:COUNT" in str(result.exception)
