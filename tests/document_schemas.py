"""Documents of commands held against the schemas that foldspan publishes of them."""

from functools import cache
from typing import Any


@cache
def schema_checker(name: str) -> Any:
    """What holds a document against the schema that foldspan publishes of it."""
    from jsonschema import Draft202012Validator

    from vlm.study.schemas import document_schema

    return Draft202012Validator(document_schema(name))


def held_against_schema(name: str, document: Any) -> Any:
    """A document of a command, which must be as its schema says."""
    if name == "log" and "columns" in document:
        name = "log-check"
    if name == "power" and "studies" in document:
        name = "power-over"
    schema_checker(name).validate(document)
    return document
