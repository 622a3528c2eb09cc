"""What a search over the geometry may change, and what it aims at."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from vlm.description.block import Block, Number

Goal = Literal["mission energy", "loiter power", "dash power"]


class Bound(Block):
    """One key of the file and the range it may take."""

    key: Annotated[str, Field(min_length=1, max_length=80)]
    """Path of the key, such as upper.tips.span_m [text]."""
    low: Number
    """Lowest value, in the key's own unit [as the key]."""
    high: Number
    """Highest value, in the key's own unit [as the key]."""

    @model_validator(mode="after")
    def _runs_upward(self) -> Self:
        if self.low >= self.high:
            raise ValueError(f"low = {self.low:g} must be below high = {self.high:g}")
        return self


class Design(Block):
    """A search over keys of this file for the least of a goal, under the schedule's constraints."""

    goal: Goal = "mission energy"
    """What is made least [text]."""
    keys: Annotated[tuple[Bound, ...], Field(min_length=1, max_length=8)]
    """What may change [tables]."""
    starts: Annotated[int, Field(ge=1, le=100)] = 4
    """Number of starting points [1]."""
    steps: Annotated[int, Field(ge=1, le=1000)] = 30
    """Most evaluations from each start [1]."""
    seed: Annotated[int, Field(ge=0)] = 1
    """Start of the random numbers [1]."""
