"""Frozen dataclasses that cost little to define: the standard ``dataclass(frozen=True)``, made in a fifth of the time.

The standard decorator compiles six methods for each class, and a program begins with three hundred classes: that was a
seventh of the time in which an hour's log is debriefed. Here only ``__init__`` is compiled; the other methods are
functions that all classes share. They do the same, and `fields`, `replace` and `asdict` of the standard library work.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
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
            cls.__init__ = _compiled_init(cls)
            cls.__setattr__, cls.__delattr__ = _refuse_to_set, _refuse_to_delete
            for name, shared in (("__eq__", _equal), ("__hash__", _hash), ("__repr__", _repr)):
                # Python itself sets the hash to None where a class says what is equal.
                if cls.__dict__.get(name) is None:
                    setattr(cls, name, shared)
            return cls

        return made


__all__ = ["dataclass"]

_UNSET: Any = object()


def _values_of(names: list[str]) -> Callable[[Any], Any]:
    return attrgetter(*names) if len(names) > 1 else lambda one: tuple(getattr(one, name) for name in names)


def _compiled_init(cls: type) -> Callable[..., None]:
    """Compile ``__init__``: fields are put where a frozen object's own assignment could not put them."""
    known: dict[str, Any] = {"_UNSET": _UNSET}
    plain, body = ["self"], ["    _fields = self.__dict__"]
    keywords: list[str] = []
    for one in dataclasses.fields(cls):
        name, value = one.name, one.name
        if one.default is not dataclasses.MISSING:
            known[f"_of_{name}"], said = one.default, f"{name}=_of_{name}"
        elif one.default_factory is not dataclasses.MISSING:
            known[f"_of_{name}"], said = one.default_factory, f"{name}=_UNSET"
            value = f"_of_{name}() if {name} is _UNSET else {name}"
        else:
            said = name
        if one.init:
            (keywords if one.kw_only else plain).append(said)
            body.append(f"    _fields['{name}'] = {value}")
    if hasattr(cls, "__post_init__"):
        body.append("    self.__post_init__()")
    words = ", ".join([*plain, *(["*", *keywords] if keywords else [])])
    exec(f"def __init__({words}):\n" + "\n".join(body), known)
    init: Callable[..., None] = known["__init__"]
    init.__qualname__ = f"{cls.__qualname__}.__init__"
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
