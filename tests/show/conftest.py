"""What tests of pictures share."""

from collections.abc import Iterator
from typing import Any

import pytest
from picture_layout import faults_of_what_is_drawn


@pytest.fixture
def drawn() -> Iterator[list[Any]]:
    """Faults of every figure that is saved, in the order of saving."""
    with faults_of_what_is_drawn() as found:
        yield found
