"""Pixels as runs of one colour: for line drawings much faster than an image format, and the page puts them up at once.

An image format costs the kernel more, and the page decodes it on another thread while more messages come in, so that it is seen late.
What moves is sent as its difference from the layer that stands still, which the page keeps.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

WORD = np.dtype("<u4")
"""A pixel as one number, its four bytes in the order red, green, blue, alpha; pages read them in the same order on every usual machine."""


def words(pixels: Any) -> NDArray[np.uint32]:
    """Pixels of a canvas, one number each.

    Parameters
    ----------
    pixels : array_like of uint8, shape (h, w, 4)
        Red, green, blue, alpha.

    Returns
    -------
    ndarray of uint32, shape (h w,)
        A view, not a copy, where the pixels lie side by side.
    """
    return np.ascontiguousarray(pixels).view(WORD).ravel()


def packed(pixels: NDArray[np.uint32]) -> bytes:
    """Runs of equal pixels: first all their colours, then all their lengths, four bytes each.

    Parameters
    ----------
    pixels : ndarray of uint32, shape (n,)
        From :func:`words` or :func:`changed`.
    """
    starts = np.concatenate([[0], np.flatnonzero(pixels[1:] != pixels[:-1]) + 1])
    lengths = np.diff(starts, append=len(pixels))
    return bytes(pixels[starts].astype(WORD, copy=False)) + bytes(lengths.astype(WORD))


def changed(pixels: NDArray[np.uint32], base: NDArray[np.uint32]) -> NDArray[np.uint32]:
    """Pixels that differ from a layer below, 0 where they do not; no pixel of an opaque canvas is 0."""
    return np.where(pixels == base, np.uint32(0), pixels)
