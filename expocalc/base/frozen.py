"""Frozen dataclasses whose methods stand here once.

A dataclass writes its methods anew for each class, as source that Python compiles at every import: of a package of
many small classes that is most of what its import takes.
"""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Callable
from typing import Any, ClassVar, dataclass_transform

__all__ = ["Frozen"]


class _Signature:
    """What help and completion show of a class: its keywords, from its fields."""

    def __get__(self, one: Frozen | None, cls: type[Frozen]) -> inspect.Signature:
        kind = inspect.Parameter.KEYWORD_ONLY
        return inspect.Signature(
            [
                inspect.Parameter(name, kind, default=cls._defaults.get(name, inspect.Parameter.empty))
                for name in cls._names
            ]
        )


@dataclass_transform(kw_only_default=True, frozen_default=True, eq_default=False, field_specifiers=(dataclasses.field,))
class Frozen:
    """Base that makes a class a frozen dataclass of keywords, each equal to itself alone.

    Raises
    ------
    TypeError
        If a value is missing or has no field.
    dataclasses.FrozenInstanceError
        If a field is to be changed.

    Examples
    --------
    >>> class Star(Frozen):
    ...     name: str
    ...     mag: float = 0.0
    >>> Star(name="one")
    Star(name='one', mag=0.0)
    >>> dataclasses.replace(Star(name="one"), mag=1.5)
    Star(name='one', mag=1.5)
    >>> Star(mag=2.0)
    Traceback (most recent call last):
    ...
    TypeError: missing a required argument: 'name'
    """

    __dataclass_fields__: ClassVar[dict[str, dataclasses.Field[Any]]]
    __signature__ = _Signature()
    _names: ClassVar[tuple[str, ...]]
    _known: ClassVar[frozenset[str]]
    _defaults: ClassVar[dict[str, Any]]
    _made: ClassVar[dict[str, Callable[[], Any]]]

    def __init_subclass__(cls) -> None:
        fields = dataclasses.fields(dataclasses.dataclass(init=False, repr=False, eq=False)(cls))
        cls._names = tuple(field.name for field in fields)
        cls._known = frozenset(cls._names)
        cls._made = {f.name: f.default_factory for f in fields if f.default_factory is not dataclasses.MISSING}
        cls._defaults = {f.name: f.default for f in fields if f.default is not dataclasses.MISSING} | cls._made

    def __init__(self, **given: Any) -> None:
        held = self._defaults | given
        if held.keys() != self._known:
            self.__signature__.bind(**given)  # raises a TypeError that names what is missing or too much
        for name, make in self._made.items():
            if name not in given:
                held[name] = make()
        vars(self).update(held)
        self.__post_init__()

    def __post_init__(self) -> None:
        """For what a class does once its fields are there."""

    def __setattr__(self, name: str, value: object) -> None:
        msg = f"cannot assign to field {name!r}"
        raise dataclasses.FrozenInstanceError(msg)

    def __delattr__(self, name: str) -> None:
        msg = f"cannot delete field {name!r}"
        raise dataclasses.FrozenInstanceError(msg)

    def __repr__(self) -> str:
        return f"{type(self).__qualname__}({', '.join(f'{name}={getattr(self, name)!r}' for name in self._names)})"
