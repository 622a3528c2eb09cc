"""A study's answer as words that JSON holds and one row of numbers, and back, value by value.

An answer is made of typed results (dataclasses), tuples, lists, dictionaries, arrays, numbers and
words. Only classes that the answer's own class names in its fields, or theirs in theirs, are read
back, so that what is kept runs no other code.
"""

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any, TypeVar, get_args, get_type_hints

import numpy as np

from vlm.constants import Floats

A = TypeVar("A")
TUPLE, DICTIONARY, ARRAY, RESULT, MEMBER = "tuple", "dictionary", "array", "result", "member"
"""What a list in the words stands for, its first item; a list of the answer's stands as LIST."""
LIST = "list"


class NoPlainForm(TypeError):
    """A value, or words, that are no answer of the class asked for."""


def written(kind: type[Any], answer: object) -> tuple[Any, Floats]:
    """Words, and the numbers of all arrays in a row.

    Raises
    ------
    NoPlainForm : it holds something that :func:`read_back` could not give back
    """
    writer = _Writer(_classes_of(kind))
    words = writer.words(answer)
    return words, np.concatenate([np.zeros(0), *writer.numbers])


def read_back(kind: type[A], words: Any, numbers: Floats) -> A:
    """The answer that :func:`written` wrote.

    Raises
    ------
    NoPlainForm : the words are no answer of this class
    """
    try:
        found = _Reader(_classes_of(kind), numbers).value(words)
    except (AttributeError, LookupError, TypeError, ValueError) as error:
        raise NoPlainForm(str(error)) from None
    if not isinstance(found, kind):
        raise NoPlainForm(f"a {type(found).__name__}, not a {kind.__name__}")
    return found


class _Writer:
    """Turns values into words, and gathers the arrays' numbers."""

    def __init__(self, classes: Mapping[str, type[Any]]) -> None:
        self.classes = classes
        self.numbers: list[Floats] = []
        self._count = 0

    def words(self, value: Any) -> Any:
        if isinstance(value, Enum):
            return self._member(value)
        if value is None or isinstance(value, bool | int | str):
            return value
        if isinstance(value, float):
            return float(value)
        if isinstance(value, np.ndarray):
            return self._array(value)
        if isinstance(value, tuple):
            return [TUPLE, *map(self.words, value)]
        if isinstance(value, list):
            return [LIST, *map(self.words, value)]
        if isinstance(value, dict):
            return [DICTIONARY, *([self.words(k), self.words(v)] for k, v in value.items())]
        name = _name(type(value))
        if not is_dataclass(value) or name not in self.classes:
            raise NoPlainForm(f"a {type(value).__name__} has no plain form")
        held = [one for one in fields(value) if one.init]
        return [RESULT, name, {one.name: self.words(getattr(value, one.name)) for one in held}]

    def _member(self, value: Enum) -> Any:
        name = _name(type(value))
        if name in self.classes:
            return [MEMBER, name, value.name]
        if isinstance(value, str):
            return str(value)  # of a field that is declared as text
        raise NoPlainForm(f"a {type(value).__name__} has no plain form")

    def _array(self, value: np.ndarray[Any, Any]) -> Any:
        if value.dtype != np.float64:
            raise NoPlainForm(f"an array of {value.dtype} has no plain form")
        self.numbers.append(value.ravel())
        first, self._count = self._count, self._count + value.size
        return [ARRAY, first, *value.shape]


class _Reader:
    """Turns words back into values."""

    def __init__(self, classes: Mapping[str, type[Any]], numbers: Floats) -> None:
        self.classes, self.numbers = classes, numbers

    def value(self, words: Any) -> Any:
        if not isinstance(words, list):
            return words
        form, *held = words
        if form == TUPLE:
            return tuple(map(self.value, held))
        if form == LIST:
            return list(map(self.value, held))
        if form == DICTIONARY:
            return {self.value(name): self.value(one) for name, one in held}
        if form == ARRAY:
            first, *shape = held
            return self.numbers[first : first + int(np.prod(shape, dtype=int))].reshape(shape)
        name, inner = held
        if form == MEMBER:
            return self.classes[name][inner]
        if form == RESULT:
            return self.classes[name](**{one: self.value(word) for one, word in inner.items()})
        raise NoPlainForm(f"{form} is no form of a value")


def _name(kind: type[Any]) -> str:
    return f"{kind.__module__}.{kind.__qualname__}"


def _classes_of(kind: type[Any]) -> dict[str, type[Any]]:
    """The dataclasses and enumerations that an answer's class names, by name."""
    found: dict[str, type[Any]] = {}
    left = [kind]
    while left:
        one = left.pop()
        if _name(one) in found:
            continue
        if is_dataclass(one):
            found[_name(one)] = one
            hints = get_type_hints(one)
            for field in fields(one):
                left += _named(hints[field.name])
        elif issubclass(one, Enum):
            found[_name(one)] = one
    return found


def _named(hint: Any) -> Iterator[type[Any]]:
    """All classes in a type."""
    if isinstance(hint, type):
        yield hint
    for part in get_args(hint):
        yield from _named(part)
