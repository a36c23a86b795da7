"""A key for caches that means one very object: what is large and frozen need not be compared to be found again."""

from __future__ import annotations

from typing import Generic, TypeVar

T = TypeVar("T")


class Same(Generic[T]):
    """Equal to another only where both hold the same object, which lives as long as the key does."""

    __slots__ = ("it",)

    def __init__(self, it: T) -> None:
        self.it = it

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and self.it is other.it

    def __hash__(self) -> int:
        return id(self.it)
