"""JSON Schemas of what commands print with ``--json``, made from the types of the results.

A type stands once, beside what builds the result: a frozen dataclass, whose field names are the
keys, or a TypedDict. Units come from the one table of quantities, meanings from the ``Attributes``
of the type's docstring, and where that is silent from the table too.
"""

import importlib
import inspect
import re
import types
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import MISSING, dataclass, fields, is_dataclass
from enum import Enum
from typing import (
    Annotated,
    Any,
    Literal,
    NotRequired,
    Required,
    Union,
    get_args,
    get_origin,
    get_type_hints,
    is_typeddict,
)

import numpy as np

from vlm.errors import InputRefused, nearest_name
from vlm.findings import Finding
from vlm.plain import Shown, shown_fields
from vlm.quantities import described, unit_of

DIALECT = "https://json-schema.org/draft/2020-12/schema"
INPUT_FINDINGS = "input_findings"


@dataclass(frozen=True)
class Printed:
    """Where the type of a command's document is, and in which case it is printed."""

    module: str
    name: str
    when: str = ""


DOCUMENTS: dict[str, Printed] = {
    "check": Printed("vlm.study.check.study", "CheckDocument"),
    "point": Printed("vlm.study.point.document", "PointDocument"),
    "sweep": Printed("vlm.study.sweep.dataset", "SweepDocument"),
    "compare": Printed("vlm.study.compare.results", "Comparison"),
    "converge": Printed("vlm.study.convergence.report", "ConvergenceDocument"),
    "motion": Printed("vlm.study.motion.results", "MotionStudy"),
    "roll": Printed("vlm.study.roll.results", "RollStudy"),
    "lateral": Printed("vlm.study.lateral.results", "LateralStudy"),
    "power": Printed("vlm.study.power.results", "PowerDocument"),
    "power-over": Printed("vlm.study.power.over", "PowerOverDocument", "power --over"),
    "schedule": Printed("vlm.study.schedule.document", "ScheduleDocument"),
    "mission": Printed("vlm.study.mission.answer", "MissionDocument"),
    "design": Printed("vlm.study.design.report", "DesignDocument"),
    "rerun": Printed("vlm.study.sweep.repeating", "RerunDocument"),
    "hinge": Printed("vlm.study.hinge.results", "HingeStudy"),
    "log": Printed("vlm.log.document_types", "LogDocument"),
    "log-check": Printed("vlm.log.proposing", "ProposedDocument", "log --check"),
}
"""Every document, by the command that prints it, in the order of ``foldspan --help``."""


def document_schema(name: str) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of the document that a command prints with ``--json``.

    A number may be null where there is none. A key whose unit is known carries it as ``unit``, in
    the words of the table of quantities ("1" for pure numbers).

    Parameters
    ----------
    name : of :data:`DOCUMENTS`

    Raises
    ------
    InputRefused : no command prints such a document
    """
    if name not in DOCUMENTS:
        near = nearest_name(name, DOCUMENTS)
        hint = f"did you mean {near}?" if near else f"there are {', '.join(DOCUMENTS)}"
        raise InputRefused(f"no command prints a document {name}; {hint}")
    place = DOCUMENTS[name]
    forms: dict[str, Any] = {}
    whole = getattr(importlib.import_module(place.module), place.name)
    top = _Forms(forms).of_class(whole)
    top["properties"][INPUT_FINDINGS] = _Forms(forms).of(list[Finding])
    title = f"foldspan {place.when or name} --json"
    return {"$schema": DIALECT, "title": title, **top, "$defs": dict(sorted(forms.items()))}


class _Forms:
    """Schemas of types; those of classes are gathered by name and referred to."""

    def __init__(self, forms: dict[str, Any]) -> None:
        self.forms = forms

    def of(self, kind: Any) -> dict[str, Any]:
        """Schema of one type."""
        origin, inner = get_origin(kind), get_args(kind)
        if origin is Annotated:
            shown = [one.kind for one in inner[1:] if isinstance(one, Shown)]
            return self.of(shown[0] if shown else inner[0])
        if origin in (NotRequired, Required):
            return self.of(inner[0])
        if origin in (Union, types.UnionType):
            return _either([self.of(one) for one in inner])
        if origin is Literal:
            return {"enum": list(inner)}
        if origin is np.ndarray or kind is np.ndarray:
            return self._numbers()
        if origin is not None:
            return self._container(origin, inner)
        if isinstance(kind, type) and (is_dataclass(kind) or is_typeddict(kind)):
            return self._named(kind)
        if isinstance(kind, type) and issubclass(kind, Enum):
            return {"enum": [str(one) for one in kind]}
        return _plain(kind)

    def of_class(self, kind: Any) -> dict[str, Any]:
        """Schema of the keys of a dataclass or TypedDict."""
        hints = get_type_hints(kind, include_extras=True)
        said = _attributes(kind)
        if is_dataclass(kind):
            hints = {f.name: hints[f.name] for f in shown_fields(kind)}
        keys = {
            name: self.of(hint) | _about(name, said, self.of(hint)) for name, hint in hints.items()
        }
        head, _, _ = (inspect.getdoc(kind) or "").partition("\n\n")
        return {
            "description": " ".join(head.split()),
            "type": "object",
            "properties": keys,
            "additionalProperties": False,
            **_needed(kind, keys),
        }

    def _container(self, origin: Any, inner: tuple[Any, ...]) -> dict[str, Any]:
        if issubclass(origin, Mapping):
            return {"type": "object", "additionalProperties": self.of(inner[1])}
        if issubclass(origin, tuple) and inner and inner[-1] is not Ellipsis:
            each = [self.of(one) for one in inner]
            return {
                "type": "array", "prefixItems": each, "minItems": len(each), "maxItems": len(each),
            }  # fmt: skip
        if issubclass(origin, Sequence):
            return {"type": "array", "items": self.of(inner[0])}
        raise TypeError(f"no schema for {origin}")

    def _named(self, kind: type) -> dict[str, Any]:
        name = kind.__name__
        if name not in self.forms:
            self.forms[name] = {}  # so that a class may hold itself
            self.forms[name] = self.of_class(kind)
        return {"$ref": f"#/$defs/{name}"}

    def _numbers(self) -> dict[str, Any]:
        """An array of numbers of any shape."""
        here = {"$ref": "#/$defs/Numbers"}
        cell = {"type": ["number", "null"]}
        self.forms["Numbers"] = {"type": "array", "items": {"anyOf": [cell, here]}}
        return here


def _plain(kind: Any) -> dict[str, Any]:
    if kind is Any or kind is object:
        return {}
    names = {str: "string", bool: "boolean", int: "integer", type(None): "null"}
    if kind is float:
        return {"type": ["number", "null"]}
    if kind in names:
        return {"type": names[kind]}
    raise TypeError(f"no schema for {kind}")


def _either(forms: list[dict[str, Any]]) -> dict[str, Any]:
    """One of several; plain types in one list."""
    if all(set(form) == {"type"} for form in forms):
        names: list[str] = []
        for form in forms:
            kinds = form["type"] if isinstance(form["type"], list) else [form["type"]]
            names += [kind for kind in kinds if kind not in names]
        return {"type": names if len(names) > 1 else names[0]}
    return {"anyOf": forms}


def _needed(kind: Any, keys: Mapping[str, Any]) -> dict[str, Any]:
    """Which keys are always there: see :func:`vlm.plain.as_document` for rows with a reason."""
    if is_typeddict(kind):
        return {"required": [key for key in keys if key in kind.__required_keys__]}
    if not any(f.name == "reason" and f.default is None for f in fields(kind)):
        return {"required": list(keys)}
    known = [f.name for f in fields(kind) if f.default is MISSING and f.name in keys]
    whole = [key for key in keys if key != "reason"]
    return {
        "required": [name for name in known if "null" not in str(keys[name])],
        "anyOf": [{"required": whole}, {"required": ["reason"]}],
    }


def _about(name: str, said: Mapping[str, str], form: Mapping[str, Any]) -> dict[str, str]:
    """Meaning and unit of a key, where they are known."""
    numbers = _holds_numbers(form)
    meaning = said.get(name) or (described(name) if numbers else "")
    unit = unit_of(name) if numbers else None
    return ({"description": meaning} if meaning else {}) | ({} if unit is None else {"unit": unit})


def _holds_numbers(form: Mapping[str, Any]) -> bool:
    """Whether a schema is that of a number, or of lists and tables of nothing but numbers."""
    if "anyOf" in form:
        return any(_holds_numbers(one) for one in form["anyOf"])
    if form.get("$ref", "").endswith("/Numbers"):
        return True
    kinds = form.get("type", ())
    held = form.get("items") or form.get("additionalProperties") or form.get("prefixItems", [{}])[0]
    if kinds in ("array", "object"):
        return isinstance(held, Mapping) and _holds_numbers(held)
    return "number" in kinds or "integer" in kinds


def _attributes(kind: Any) -> dict[str, str]:
    """The lines of a docstring's ``Attributes``: name, and what it is."""
    found: dict[str, str] = {}
    for names, words in _entries(inspect.getdoc(kind) or ""):
        for name in names:
            found[name] = words
    return found


def _entries(text: str) -> Iterator[tuple[list[str], str]]:
    _, _, listed = text.partition("Attributes\n----------\n")
    entry = re.compile(r"^([\w, ]+) : (.*(?:\n[ \t]+.*)*)", re.M)
    for found in entry.finditer(listed):
        yield re.split(r",\s*", found[1]), " ".join(found[2].split())
