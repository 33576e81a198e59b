"""`dataclass` as the standard library has it, but that writes a method when it is first called.

The standard library compiles six methods for each dataclass while its module is imported: a third of a millisecond to
one. A small command imports some hundred and uses ten, so that it was a third of all that it did. What is left here is
read and found as ever (`fields`, `replace`, `match`, a copy, equality); only a signature asked for before the first
value is made says nothing. Bases may not be dataclasses.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(cls=None, /, *, frozen=False, slots=False, eq=True, order=False):
        """Return a class as a dataclass, or the decorator that makes one; as `dataclasses.dataclass`."""

        def made(cls):
            return _made(cls, frozen=frozen, slots=slots, eq=eq, order=order)

        return made if cls is None else made(cls)


_NOTHING = {"init": False, "repr": False, "eq": False}
_ORDERING = ("__lt__", "__le__", "__gt__", "__ge__")


def _made(cls: Any, *, frozen: bool, slots: bool, eq: bool, order: bool) -> Any:
    assert not any(map(dataclasses.is_dataclass, cls.__mro__[1:])), cls
    written = {name: value for name, value in vars(cls).items() if name not in {"__dict__", "__weakref__"}}
    written |= {"__annotations__": dict(cls.__annotations__), "__qualname__": cls.__qualname__}
    cls.__doc__ = cls.__doc__ or cls.__name__  # else its signature would be made for one
    made: Any = dataclasses.dataclass(slots=slots, **_NOTHING)(cls)
    asked: dict[str, dict[str, bool]] = {"__init__": {"init": True, "frozen": frozen}, "__repr__": {"repr": True}}
    if eq:
        asked["__eq__"] = {"eq": True}
    if eq and frozen:
        asked["__hash__"] = {"unsafe_hash": True}
    if order:
        asked |= {name: {"eq": True, "order": True} for name in _ORDERING}
    methods = {name: _late(made, cls, written, name, how) for name, how in asked.items()}
    if eq and not frozen:
        methods["__hash__"] = None
    if frozen:
        methods |= {"__setattr__": _refuse_to_assign, "__delattr__": _refuse_to_delete}
    if frozen and slots:  # what copies and pickles would set attributes
        methods |= {"__getstate__": _state, "__setstate__": _set_state}
    for name, method in methods.items():
        if written.get(name) is None:  # a class with an __eq__ of its own has a __hash__ that is None
            setattr(made, name, method)
    return made


def _late(made: Any, cls: type, written: dict[str, Any], name: str, how: dict[str, bool]) -> Any:
    """Return a method that puts the one which the standard library writes in its own place, and calls it."""

    def method(self: Any, *args: Any, **named: Any) -> Any:
        twin: Any = dataclasses.dataclass(**{**_NOTHING, **how})(type(cls)(cls.__name__, cls.__bases__, dict(written)))
        setattr(made, name, vars(twin)[name])
        return getattr(made, name)(self, *args, **named)

    return method


def _refuse_to_assign(self: Any, name: str, value: Any) -> None:
    raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")


def _refuse_to_delete(self: Any, name: str) -> None:
    raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")


def _state(self: Any) -> list[Any]:
    return [getattr(self, field.name) for field in dataclasses.fields(self)]


def _set_state(self: Any, state: list[Any]) -> None:
    for field, value in zip(dataclasses.fields(self), state, strict=True):
        object.__setattr__(self, field.name, value)
