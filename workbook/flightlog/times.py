"""Times of a log in seconds: counted in any unit, as a clock, or as a date."""

from __future__ import annotations

import re
import warnings
from typing import TYPE_CHECKING

import numpy as np

from workbook.errors import InputError, shortened, visible
from workbook.files.columns import measures
from workbook.numbers import FloatArray

if TYPE_CHECKING:
    import pandas as pd

USUAL_S, LEAST_S, MOST_S = 900.0, 5.0, 12 * 3600.0
"""How long a log usually is, and within which lengths a unit is looked for."""
DAY_S = 86_400.0
_DAYS = (
    "%d.%m.%Y",
    "%d/%m/%Y",
    "%m/%d/%Y",
    "%Y/%m/%d",
    "%d.%m.%y",
    "%d-%m-%Y",
    "%d %b %Y",
    "%b %d %Y",
)
_FORMATS = (
    *(f"{day} {clock}" for day in _DAYS for clock in ("%H:%M:%S.%f", "%H:%M:%S")),
    *(f"{day} %I:%M:%S %p" for day in ("%m/%d/%Y", "%d/%m/%Y")),
)
_CLOCK = re.compile(r"(?:(\d+):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)(?:\s*([ap])\.?m\.?)?", re.I)

_WITH_UNIT = re.compile(r"[-+]?\d+(?:[.,]\d+)? ?([a-zμµ]{1,12})", re.I)
_PLAIN = re.compile(r"\d{1,2}:\d\d:\d\d(\.\d{1,9})?")


def seconds_of(column: pd.Series, unit: str, text: str, notes: list[str], name: str) -> FloatArray:
    """A column of times in seconds, from any zero; NaN where a cell is no time.

    Args:
        column: as pandas read it.
        unit: of the heading, plain lower case; empty when not stated.
        text: the heading.
        notes: what is taken as read is put to them.
        name: what to call the file in a message.

    Raises:
        InputError: nothing in it can be read as a time.

    Example:
        >>> import pandas as pd
        >>> seconds_of(pd.Series(["10:00:01.5", "10:00:02.5"]), "", "clock", [], "log")
        array([36001.5, 36002.5])
    """
    import pandas as pd

    known = column.dropna()
    with_unit = (
        None if known.empty else _WITH_UNIT.fullmatch(str(known.iloc[len(known) // 2]).strip())
    )
    if with_unit and with_unit[1].casefold() in measures("flight log")["time_s"].units:
        unit = with_unit[1].casefold()
        column = column.astype(str).str.replace(with_unit[1], "", regex=False).str.replace(",", ".")
        known = column.dropna()
    sample = known.iloc[:: max(1, len(known) // 50)]
    if pd.to_numeric(sample, errors="coerce").notna().mean() > 0.5:
        values = pd.to_numeric(column, errors="coerce").to_numpy(dtype=float, na_value=np.nan)
        values = np.where(np.isfinite(values), values, np.nan)
        if not np.isfinite(values).any():
            return values
        factor = (
            measures("flight log")["time_s"].units[unit]
            if unit
            else _by_length(values, text, notes)
        )
        if unit and _length(values) * factor > 30 * DAY_S:
            factor = _by_length(values, text, notes)
        return np.asarray((values - np.min(values[np.isfinite(values)])) * factor)
    found = _clock_or_date(column, sample.astype(str).str.strip())
    if not np.isfinite(found).any():
        first = shortened(visible(str(sample.iloc[0]) if len(sample) else ""), 30)
        message = f'"{first}" is not a time; seconds, milliseconds, a clock as 14:05:09.5 or a date is needed.'
        raise InputError(message, f'{name}, column "{text}"')
    return found


def _length(values: FloatArray) -> float:
    low, high = np.percentile(values[np.isfinite(values)], (1.0, 99.0))
    return float(high - low)


def _by_length(values: FloatArray, text: str, notes: list[str]) -> float:
    """The unit in which a log is as long as logs are."""
    length = _length(values)
    best, unit_name = 1.0, "s"
    for factor, unit in ((1.0, "s"), (1e-3, "ms"), (1e-6, "us"), (1e-9, "ns")):
        if LEAST_S <= length * factor <= MOST_S:
            best, unit_name = factor, unit
            break
    notes.append(
        f'Column "{text}" is read in {unit_name}, in which the log is {length * best / 60.0:.1f} min long.'
    )
    return best


def _clock_or_date(column: pd.Series, sample: pd.Series) -> FloatArray:
    """Seconds from texts: ISO dates, a clock, dates in other orders."""
    import pandas as pd

    if sample.empty:
        return np.full(len(column), np.nan)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        if np.mean([_CLOCK.fullmatch(text) is not None for text in sample]) > 0.5:
            return _after_midnight(_clock(column, plain=all(map(_PLAIN.fullmatch, sample))))
        for form in ("ISO8601", *_FORMATS):
            tried = pd.to_datetime(
                sample.str.replace(",", "."), format=form, errors="coerce", utc=True
            )
            if tried.notna().mean() > 0.5:
                texts = column.astype(str).str.strip().str.replace(",", ".")
                stamps = pd.to_datetime(texts, format=form, errors="coerce", utc=True)
                return np.asarray((stamps - stamps.min()).dt.total_seconds().to_numpy(dtype=float))
    return np.full(len(column), np.nan)


def _clock(column: pd.Series, *, plain: bool) -> FloatArray:
    """Seconds of h:m:s or m:s; plain ones, as 9:05:01.25, all at once, others text by text."""
    import pandas as pd

    found = np.full(len(column), np.nan)
    if plain:
        two_digits = column.where(column.str[1] != ":", "0" + column)
        stamps = pd.to_datetime("2000-01-01T" + two_digits, format="ISO8601", errors="coerce")
        found = (stamps - pd.Timestamp("2000-01-01")).dt.total_seconds().to_numpy(dtype=float)
    unread = np.flatnonzero(np.isnan(found))
    if unread.size:
        codes, uniques = pd.factorize(column.iloc[unread].astype(str).str.strip())
        found = found.copy()
        found[unread] = np.append([_seconds(str(text)) for text in uniques], np.nan)[codes]
    return found


def _seconds(text: str) -> float:
    found = _CLOCK.fullmatch(text)
    if found is None:
        return np.nan
    hours = float(found[1] or 0)
    if found[4]:
        hours = hours % 12 + (12 if found[4].lower() == "p" else 0)
    return 3600.0 * hours + 60.0 * float(found[2]) + float(found[3].replace(",", "."))


def _after_midnight(seconds: FloatArray) -> FloatArray:
    """A clock carried on past midnight."""
    known = np.flatnonzero(np.isfinite(seconds))
    if known.size < 2:
        return seconds
    drops = np.concatenate([[0.0], np.diff(seconds[known]) < -DAY_S / 2])
    out = seconds.copy()
    out[known] += DAY_S * np.cumsum(drops)
    return out
