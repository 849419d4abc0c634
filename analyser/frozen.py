"""Frozen dataclasses that cost little to define: the standard ``dataclass(frozen=True)``, made in a fifth of the time.

The standard decorator compiles six methods for each class, and a program begins with three hundred classes: that was a
seventh of the time in which an hour's log is debriefed. Here nothing is compiled: the methods are functions that all
classes share. They do the same, and `fields`, `replace` and `asdict` of the standard library work.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import MISSING
from operator import attrgetter
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass
else:

    def dataclass(*, frozen, kw_only=False):
        """Return a decorator that makes a frozen dataclass, without slots, order and ``InitVar``."""
        if not frozen:
            raise TypeError("a dataclass that may change is one of the standard library's")

        def made(cls):
            cls = dataclasses.dataclass(init=False, repr=False, eq=False, kw_only=kw_only)(cls)
            cls.__compared__ = staticmethod(
                _values_of([one.name for one in dataclasses.fields(cls) if one.compare])
            )
            cls.__init__ = _init_of(cls)
            cls.__setattr__, cls.__delattr__ = _refuse_to_set, _refuse_to_delete
            for name, shared in (("__eq__", _equal), ("__hash__", _hash), ("__repr__", _repr)):
                # Python itself sets the hash to None where a class says what is equal.
                if cls.__dict__.get(name) is None:
                    setattr(cls, name, shared)
            return cls

        return made


__all__ = ["dataclass"]


def _values_of(names: list[str]) -> Callable[[Any], Any]:
    return attrgetter(*names) if len(names) > 1 else lambda one: tuple(getattr(one, name) for name in names)


def _init_of(cls: type) -> Callable[..., None]:
    """Return ``__init__``: fields are put where a frozen object's own assignment could not put them."""
    every = dataclasses.fields(cls)
    count, names = len(every), {one.name for one in every}
    positional = [one.name for one in every if not one.kw_only]
    begun = hasattr(cls, "__post_init__")

    def init(self: Any, *given: Any, **named: Any) -> None:
        own = self.__dict__
        own.update(zip(positional, given, strict=False))
        own.update(named)
        if len(own) != count:
            for one in every:
                if one.default is not MISSING:
                    own.setdefault(one.name, one.default)
                elif one.default_factory is not MISSING and one.name not in own:
                    own[one.name] = one.default_factory()
        twice = named and not named.keys().isdisjoint(positional[: len(given)])
        if len(own) != count or len(given) > len(positional) or twice or not names.issuperset(named):
            said = f"{len(given)} in order and {', '.join(named) or 'none'} by name"
            raise TypeError(
                f"{cls.__qualname__} has the fields {', '.join(one.name for one in every)}; given are {said}"
            )
        if begun:
            self.__post_init__()

    return init


def _equal(self: Any, other: Any) -> Any:
    if other.__class__ is not self.__class__:
        return NotImplemented
    return self.__compared__(self) == self.__compared__(other)


def _hash(self: Any) -> int:
    return hash(self.__compared__(self))


def _repr(self: Any) -> str:
    shown = (f"{one.name}={getattr(self, one.name)!r}" for one in dataclasses.fields(self) if one.repr)
    return f"{self.__class__.__qualname__}({', '.join(shown)})"


def _refuse_to_set(self: Any, name: str, _value: object) -> None:
    raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")


def _refuse_to_delete(self: Any, name: str) -> None:
    raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")
