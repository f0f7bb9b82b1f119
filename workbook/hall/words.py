"""Nicknames of two harmless words, so that nobody needs to give a name."""

from __future__ import annotations

import secrets
from collections.abc import Container

__all__ = ["FIRST", "SECOND", "nickname"]

FIRST = (
    "amber azure bright brisk calm cheerful clear copper coral crimson curious daring eager early emerald fair "
    "friendly gentle glad golden happy indigo jolly keen kind lively lucky mellow merry mild neat nimble noble olive "
    "patient pearl proud quick quiet rosy ruby sandy silent silver snowy steady sunny swift tidy violet warm wise"
).split()
SECOND = (
    "acorn badger beaver birch blossom brook cedar cherry clover comet cricket crocus dolphin dune falcon fern finch "
    "fjord fox garnet gecko harbour hare hazel heron island kestrel koala lantern lark lemur lichen lotus maple "
    "marten meadow orchid otter owl panda pebble penguin pine plover poppy puffin quail river robin seal sparrow "
    "squirrel starling swallow thistle tulip turtle walnut willow wren"
).split()


def nickname(taken: Container[str]) -> str:
    """Draw a nickname that nobody has yet.

    Parameters
    ----------
    taken : container of str

    Returns
    -------
    str
        Such as "amber otter"; a number stands behind it once all pairs are given away.

    Examples
    --------
    >>> first, second = nickname(()).split()
    >>> first in FIRST and second in SECOND
    True
    """
    for _ in range(200):
        name = f"{secrets.choice(FIRST)} {secrets.choice(SECOND)}"
        if name not in taken:
            return name
    number = 2
    while f"{name} {number}" in taken:
        number += 1
    return f"{name} {number}"
