"""What every block of the input file has in common, and the kinds of numbers in it."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field


class Block(BaseModel):
    """A table of the file: frozen, without other keys, each key described by its docstring."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)


# Far beyond any craft, and near enough that squares and quotients of them stay numbers.
SMALLEST, LARGEST = 1e-9, 1e9
Number = Annotated[float, Field(ge=-LARGEST, le=LARGEST, allow_inf_nan=False)]
Length = Annotated[float, Field(ge=SMALLEST, le=LARGEST, allow_inf_nan=False)]
Area = Annotated[float, Field(ge=SMALLEST**2, le=LARGEST**2, allow_inf_nan=False)]
SweepAngle = Annotated[float, Field(ge=-85.0, le=85.0, allow_inf_nan=False)]
TwistAngle = Annotated[float, Field(ge=-90.0, le=90.0, allow_inf_nan=False)]
FoldAngle = Annotated[float, Field(gt=-180.0, lt=180.0, allow_inf_nan=False)]
Point = tuple[Number, Number, Number]
