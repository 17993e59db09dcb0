"""A state as bytes and back, exactly: what the store keeps to start again from."""

from __future__ import annotations

from typing import Any, TypeVar

import msgspec
import numpy as np

T = TypeVar("T")

FORM = 4
"""Form of the bytes; a snapshot of another form is not read, the state is replayed instead."""


def to_bytes(state: msgspec.Struct) -> bytes:
    """Pack a state; arrays keep type, shape and every bit."""
    return msgspec.msgpack.encode((FORM, state), enc_hook=_pack)


def from_bytes(packed: bytes, kind: type[T]) -> T | None:
    """Unpack a state of this kind; None where the bytes have another form or are damaged.

    Nothing is lost by either: the state is worked out again from what is stored.
    """
    try:
        form, raw = msgspec.msgpack.decode(packed, type=tuple[int, msgspec.Raw])
        if form != FORM:
            return None
        return msgspec.msgpack.decode(raw, type=kind, dec_hook=_unpack, strict=False)
    except (msgspec.MsgspecError, ValueError, TypeError, RecursionError):
        return None


def _pack(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return (value.dtype.str, list(value.shape), value.tobytes())
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(f"cannot pack {type(value).__name__}")


def _unpack(kind: type, value: Any) -> Any:
    if kind is np.ndarray or getattr(kind, "__origin__", None) is np.ndarray:
        dtype, shape, raw = value
        return np.frombuffer(bytes(raw), dtype=np.dtype(dtype)).reshape(shape)
    raise TypeError(f"cannot unpack {kind!r}")
