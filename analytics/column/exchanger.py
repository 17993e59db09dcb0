"""What the beads are: how strongly each cation is held, and what they hold when new."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np

from analytics.samples import Floats

HELD: Final = ("ca", "mg", "na", "k")
"""Order of the exchanged cations wherever they are stacked into one array."""
VALENCE: Final[Floats] = np.array([2.0, 2.0, 1.0, 1.0])
LN10: Final = float(np.log(10.0))


class Exchanger(msgspec.Struct, frozen=True, kw_only=True):
    """One kind of exchange site in the Gaines-Thomas convention, sodium being the reference.

    `log_k_*` belong to the half reactions  ion + z X- = ionXz  with amounts in mol/L; defaults
    are those of PHREEQC 3.8.6 phreeqc.dat, where an ion on the site has the activity coefficient
    it has in water, so that concentrations stand for activities.
    `log_k_h` is None for a strong-acid exchanger, which leaves hydrogen alone at the pH of tap
    water. For a weak-acid one it is the binding of hydrogen with half of the sites in H form;
    `h_spread` is by how many powers of ten it grows from all H to no H. (The apparent pK of
    carboxylic exchangers rises as they are neutralised: Helfferich, Ion Exchange, 1962, ch. 4.)
    `start_*` are the equivalent shares held when new; what they leave is Na for a strong-acid and
    H for a weak-acid exchanger.
    """

    log_k_ca: float = 0.8
    log_k_mg: float = 0.6
    log_k_k: float = 0.7
    log_k_h: float | None = None
    h_spread: float = 0.0
    start_ca: float = 0.0
    start_mg: float = 0.0


def carboxylic(
    *, log_k_h: float, log_k_ca: float = 2.0, start_ca: float = 0.0, start_mg: float = 0.0
) -> Exchanger:
    """A weak-acid site: it prefers calcium and magnesium to sodium far more than a sulphonic one.

    Two carboxylic groups hold one divalent ion between them; potassium is held hardly more firmly
    than sodium (order after Helfferich, Ion Exchange, 1962, ch. 5; values from memory).
    """
    return Exchanger(
        log_k_ca=log_k_ca,
        log_k_mg=log_k_ca - 0.225 * log_k_ca,
        log_k_k=0.2,
        log_k_h=log_k_h,
        start_ca=start_ca,
        start_mg=start_mg,
    )


class Sites(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Exchangers of one kind side by side, a column a variant, amounts in mmol/L.

    `binding[i]` holds the constant of ion i of `HELD`; `h_binding` is 0 where hydrogen takes no
    part. `start[i]` is the equivalent share of ion i on a new bed.
    """

    binding: Floats
    h_binding: Floats
    h_spread: Floats
    start: Floats

    @property
    def weak(self) -> bool:
        """Hydrogen takes part in the exchange."""
        return bool(np.any(self.h_binding > 0.0))


def sites(exchangers: Sequence[Exchanger]) -> Sites:
    """Variants of one exchanger as columns.

    Raises ValueError where strong-acid and weak-acid exchangers are put together, or where more
    than everything is held at the start.
    """
    weak = {each.log_k_h is not None for each in exchangers}
    if len(weak) != 1:
        raise ValueError("put strong-acid or weak-acid exchangers side by side, not both")
    if any(each.start_ca + each.start_mg > 1.0 for each in exchangers):
        raise ValueError("a new bed cannot hold more than its sites: start_ca + start_mg > 1")
    logs = np.array([[e.log_k_ca + 3.0, e.log_k_mg + 3.0, 0.0, e.log_k_k] for e in exchangers]).T
    logs_h = np.array([-np.inf if e.log_k_h is None else e.log_k_h for e in exchangers])
    return Sites(
        binding=np.power(10.0, logs),
        h_binding=np.power(10.0, logs_h),
        h_spread=np.array([e.h_spread for e in exchangers]) * LN10,
        start=np.array([_start(e) for e in exchangers]).T,
    )


def _start(exchanger: Exchanger) -> tuple[float, float, float, float]:
    rest = 1.0 - exchanger.start_ca - exchanger.start_mg
    return exchanger.start_ca, exchanger.start_mg, rest if exchanger.log_k_h is None else 0.0, 0.0
