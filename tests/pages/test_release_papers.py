"""What goes with a release says the same as the release: version, day, dependencies.

No source but the files themselves; the forms are those of the Citation File Format 1.2 and of
CycloneDX 1.6 (both open), whose required keys are looked for.
"""

import calendar
import json
import re
import tomllib
from pathlib import Path

import vlm


def cited(project: Path) -> dict[str, str]:
    """The plain keys of the citation file."""
    text = (project / "docs" / "CITATION.cff").read_text(encoding="utf-8")
    return dict(re.findall(r"^([a-z-]+): (.+)$", text, re.M))


def test_the_citation_is_of_this_version_and_its_day(project: Path) -> None:
    keys = cited(project)
    assert {"cff-version", "message", "title", "type", "license"} <= set(keys)
    assert keys["version"] == vlm.__version__
    changes = (project / "docs" / "changelog.md").read_text(encoding="utf-8")
    version, day = re.search(r"^## (\S+)\n\n(\d+ \w+ \d{4})\.", changes, re.M).groups()
    assert version == vlm.__version__
    year, month, number = keys["date-released"].split("-")
    assert day == f"{int(number)} {calendar.month_name[int(month)]} {year}"


def normal(name: str) -> str:
    """A distribution's name as registries compare it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def test_the_bill_of_materials_holds_every_dependency(project: Path) -> None:
    bill = json.loads((project / "docs" / "bill_of_materials.json").read_text(encoding="utf-8"))
    assert bill["bomFormat"] == "CycloneDX"
    assert bill["metadata"]["component"]["version"] == vlm.__version__
    held = {normal(one["name"]) for one in bill["components"]}
    declared = tomllib.loads((project / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = declared["optional-dependencies"]
    wanted = [*declared["dependencies"], *extras["view"], *extras["cluster"]]
    assert {normal(re.split(r"[<>=\[;! ]", one)[0]) for one in wanted} <= held
    assert all(one["version"] and one["purl"].startswith("pkg:pypi/") for one in bill["components"])
    # What a component needs stands in the bill too.
    known = {one["bom-ref"] for one in bill["components"]}
    assert all(ref in known for one in bill["dependencies"] for ref in one["dependsOn"])


def test_the_bill_of_materials_names_no_machine(project: Path) -> None:
    text = (project / "docs" / "bill_of_materials.json").read_text(encoding="utf-8")
    assert "file:" not in text
    assert not re.search(r'"/(root|home|usr|opt|tmp|work)/', text)
