"""How unsure a number is: ``{low, likely, high}`` as a file may say it, else the usual width of its key."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf, nextafter
from typing import Any, NamedTuple, get_args

import numpy as np
from numpy.typing import NDArray
from pydantic.fields import FieldInfo
from scipy.special import ndtri

from ridesim.words import InputProblem, Uncertain, is_number

ENDS = ("low", "likely", "high")
EXACT = "exact"
END_SCORE = float(ndtri(0.95))
"""Standard deviations from the median to a width's ends, the 5th and the 95th percentile."""
FORMS = "{low = …, likely = …, high = …} or {exact = …}"


class Spread(NamedTuple):
    """How far off a value may be, 5th to 95th percentile.

    Attributes
    ----------
    low, high : float
        Factors on the value's distance from ``zero``; or, where there is no zero, what is added to the value.
    zero : float or None
        1 for an efficiency, whose loss is what may be so many times as large.
    """

    low: float
    high: float
    zero: float | None

    def about(self, value: float) -> tuple[float, float]:
        """Low and high end for a likely value."""
        if self.zero is None:
            return value + self.low, value + self.high
        ends = [self.zero + (value - self.zero) * factor for factor in (self.low, self.high)]
        return min(ends), max(ends)


def times(low: float, high: float, zero: float = 0.0) -> Spread:
    """Off by these factors."""
    return Spread(low, high, zero)


def plus(low: float, high: float) -> Spread:
    """Off by these amounts."""
    return Spread(low, high, None)


class KeyWidth(NamedTuple):
    """Usual width of a key: where a file states a plain number, where the default counts; and where both are from."""

    stated: Spread
    default: Spread
    source: str


def takes_width(field: FieldInfo) -> bool:
    """Whether a field is a number that may be unsure: a measure, not a count."""
    kinds = {field.annotation, *get_args(field.annotation)}
    return float in kinds


def limits_of(field: FieldInfo) -> tuple[float, float]:
    """Lowest and highest value that a field takes."""
    lows, highs = [-inf], [inf]
    for limit in field.metadata:
        lows += [getattr(limit, "ge", -inf), nextafter(getattr(limit, "gt", -inf), inf)]
        highs += [getattr(limit, "le", inf), nextafter(getattr(limit, "lt", inf), -inf)]
    return max(lows), min(highs)


def read_width(field: FieldInfo, table: dict[str, Any], file: str, place: str) -> Uncertain:
    """A number with its width, as a file says it; low, likely and high are equal where it is exact.

    Raises
    ------
    InputProblem
        A count, other keys than :data:`FORMS`, ends that are not in order.
    """
    if not takes_width(field):
        raise InputProblem(file, place, "a width", "one plain value; only what is measured has a width")
    unlike = [each for each in table.values() if not is_number(each)]
    if unlike or not is_width(table):
        found = "keys " + ", ".join(table) if not unlike else f"{unlike[0]!r} inside a width"
        raise InputProblem(file, place, found, f"a number, or {FORMS}")
    low, likely, high = (float(table.get(end, table.get(EXACT, 0.0))) for end in ENDS)
    if not low <= likely <= high:
        found = f"low {low:g}, likely {likely:g}, high {high:g}"
        raise InputProblem(file, place, found, "low at most likely, likely at most high")
    return Uncertain(likely, low, high)


def is_width(value: Any) -> bool:
    """Whether a value of a table is a number with its width."""
    return isinstance(value, dict) and set(value) in (set(ENDS), {EXACT})


def as_table(width: Uncertain) -> dict[str, float]:
    """A width as a file says it."""
    if width.low == width.high:
        return {EXACT: width.value}
    return dict(zip(ENDS, (width.low, width.value, width.high), strict=True))


def about(width: Uncertain, value: float, limits: tuple[float, float] = (-inf, inf)) -> Uncertain:
    """The same width about another likely value, in proportion, cut at the key's limits."""
    if width.value:
        low, high = sorted(value * end / width.value for end in (width.low, width.high))
    else:
        low, high = value + width.low, value + width.high
    least, most = limits
    return Uncertain(value, min(value, max(low, least)), max(value, min(high, most)))


def likely_of(value: Any) -> Any:
    """The likely value of what a table holds: of a width, or the plain value itself."""
    return value.get("likely", value.get(EXACT)) if is_width(value) else value


def scaled(value: Any, factor: float) -> Any:
    """What a table holds, a number or a width, times a factor."""
    if is_width(value):
        return {end: scaled(number, factor) for end, number in value.items()}
    return float(f"{value * factor:.12g}")


def usual_width(spread: Spread, value: float, limits: tuple[float, float] = (-inf, inf)) -> Uncertain | None:
    """A key's usual width about a value, cut at the key's limits; None where it leaves nothing open."""
    (low, high), (least, most) = spread.about(value), limits
    width = Uncertain(value, min(value, max(low, least)), max(value, min(high, most)))
    return None if width.low == width.high else width


def value_at_score(width: Uncertain, score: NDArray[np.float64]) -> NDArray[np.float64]:
    """The value at a standard normal score: low, likely and high at -1.645, 0 and 1.645, in proportion where all are positive."""
    end, share = np.where(score > 0.0, width.high, width.low), np.abs(score) / END_SCORE
    if width.low > 0.0:
        return np.asarray(width.value * (end / width.value) ** share)
    return np.asarray(width.value + (end - width.value) * share)


def correlation_matrix(keys: Sequence[str], rows: Iterable[tuple[str, str, float]]) -> NDArray[np.float64]:
    """Correlation matrix of some keys, shape (n, n), from rows of key, key and correlation."""
    matrix = np.eye(len(keys))
    for one, other, share in rows:
        if one in keys and other in keys:
            pair = keys.index(one), keys.index(other)
            matrix[pair] = matrix[pair[::-1]] = share
    return matrix


_NUMBER = ("type", "minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum")


def with_widths(schema: dict[str, Any]) -> dict[str, Any]:
    """A file's JSON schema with the forms of a width added to every number that may have one."""
    three = {"properties": {end: {"type": "number"} for end in ENDS}, "required": list(ENDS)}
    one = {"properties": {EXACT: {"type": "number"}}, "required": [EXACT]}
    forms = [{"type": "object", "additionalProperties": False, **each} for each in (three, one)]
    parts = schema.setdefault("$defs", {})
    for part in [schema, *parts.values()]:
        for name, own in part.get("properties", {}).items():
            plain = own.get("anyOf") or [{key: own[key] for key in _NUMBER if key in own}]
            if any(each.get("type") == "number" for each in plain):
                rest = {key: value for key, value in own.items() if key not in (*_NUMBER, "anyOf")}
                part["properties"][name] = {"anyOf": [*plain, {"$ref": "#/$defs/Width"}], **rest}
    parts["Width"] = {"description": "5th percentile, median and 95th, or a value that counts as exact", "anyOf": forms}
    return schema
