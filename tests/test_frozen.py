"""The project's frozen dataclasses do what those of the standard library do, which are the reference here."""

from __future__ import annotations

import dataclasses
import pickle
from collections.abc import Callable
from dataclasses import FrozenInstanceError, asdict, field, fields, replace
from typing import Any

import pytest

from analyser import frozen


def classes(decorator: Callable[..., Any]) -> tuple[Any, Any, Any]:
    """Define the same three classes with either decorator."""

    @decorator(frozen=True)
    class Base:
        first: int
        second: tuple[int, ...] = (1, 2)
        made: dict[str, int] = field(default_factory=dict)
        silent: float = field(default=0.0, compare=False, repr=False)

        def __post_init__(self) -> None:
            if self.first < 0:
                raise ValueError("negative")

    @decorator(frozen=True)
    class Below(Base):  # type: ignore[misc, valid-type]
        third: str = "three"

    @decorator(frozen=True, kw_only=True)
    class Named:
        optional: int = 3
        wanted: str

    return Base, Below, Named


OURS, THEIRS = classes(frozen.dataclass), classes(dataclasses.dataclass)


@frozen.dataclass(frozen=True)
class Point:
    """Stands in the module, for pickling."""

    east: float
    north: float = 0.0


@pytest.mark.parametrize("call", [
    lambda base, below, named: base(1),
    lambda base, below, named: base(1, made={"a": 1}),
    lambda base, below, named: below(1, (3,), third="x"),
    lambda base, below, named: named(wanted="w"),
    lambda base, below, named: below(1) == below(third="three", first=1),
    lambda base, below, named: replace(below(1), first=7),
    lambda base, below, named: asdict(base(1, made={"a": 1})),
    lambda base, below, named: [one.name for one in fields(below)],
    lambda base, below, named: (base(1) == base(1), base(1) == base(2), base(1) == below(1), base(1) == 1),
    lambda base, below, named: base(1, silent=1.0) == base(1, silent=2.0),
    lambda base, below, named: hash(named(wanted="w")) == hash(named(wanted="w")),
    lambda base, below, named: base(1).made is base(1).made,
    lambda base, below, named: base.__match_args__,
])  # fmt: skip
def test_the_same_comes_of_both(call: Callable[..., Any]) -> None:
    assert repr(call(*OURS)) == repr(call(*THEIRS))


@pytest.mark.parametrize("call", [
    lambda base, below, named: base(),
    lambda base, below, named: base(1, 2, 3, 4, 5),
    lambda base, below, named: base(-1),
    lambda base, below, named: named(3, wanted="w"),
    lambda base, below, named: named(optional=1, unwanted="w"),
    lambda base, below, named: base(1, first=2, second=(), made={}, silent=0.0),
    lambda base, below, named: base(first=1, second=(), made={}, quiet=0.0),
    lambda base, below, named: setattr(base(1), "first", 2),
    lambda base, below, named: setattr(base(1), "unknown", 2),
    lambda base, below, named: delattr(base(1), "first"),
    lambda base, below, named: hash(base(1)),
])  # fmt: skip
def test_both_refuse_the_same(call: Callable[..., Any]) -> None:
    with pytest.raises(Exception) as ours:
        call(*OURS)
    with pytest.raises(type(ours.value)):
        call(*THEIRS)
    assert isinstance(ours.value, (TypeError, ValueError, FrozenInstanceError))


def test_equality_and_hash_of_its_own_are_kept() -> None:
    @frozen.dataclass(frozen=True)
    class Odd:
        number: int

        def __eq__(self, other: object) -> bool:
            return isinstance(other, Odd)

        def __hash__(self) -> int:
            return 5

        def __repr__(self) -> str:
            return "odd"

    assert (Odd(1) == Odd(2), hash(Odd(3)), repr(Odd(4))) == (True, 5, "odd")


def test_one_goes_to_another_process_and_back() -> None:
    there = pickle.loads(pickle.dumps(Point(1.5, -2.0)))
    assert there == Point(1.5, -2.0)
    with pytest.raises(FrozenInstanceError):
        there.east = 3.0


def test_what_may_change_is_refused() -> None:
    with pytest.raises(TypeError, match="standard library"):
        frozen.dataclass(frozen=False)


@frozen.dataclass(frozen=True)
class Graded:
    """Its field is called as something inside the compiled method might be."""

    own: str
    fields: int


def test_a_field_may_be_called_anything() -> None:
    assert (Graded("mine", 3).own, Graded("mine", 3).fields) == ("mine", 3)
