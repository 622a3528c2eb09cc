"""The page of changes tells of the version that is there, and of every command."""

import re

import vlm
from vlm.cli.commands import COMMANDS


def test_the_newest_version_comes_first(project) -> None:
    versions = re.findall(r"^## (\S+)", (project / "docs/changelog.md").read_text(), re.MULTILINE)
    assert versions[0] == vlm.__version__


def test_every_command_is_reported_of(project) -> None:
    text = (project / "docs/changelog.md").read_text()
    assert [name for name in COMMANDS if f"foldspan {name}`" not in text] == []
