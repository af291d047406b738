"""How often trends and drift flags are right, on series and gardens whose truth is known.

Run by hand, a few minutes::

    python tests/calibration_trend.py            # 2,000 series a cell
    python tests/calibration_trend.py 300        # fewer

Three tables: intervals and verdicts of single series; verdicts of the garden when beds share what
happens on a day; drift flags of steady gardens and the delay until a drift of 30 % is seen.
"""

import sys
from itertools import product

import numpy as np
import pandas as pd

from soiltrend import frames
from soiltrend.drift import drift
from soiltrend.trend import trend

LENGTHS = (3, 4, 5, 6, 7, 8, 9, 10, 12, 16, 20)
SHAPES = ("normal", "heavy", "skewed", "wild")
LEVELS = {"Ca": 1600, "Mg": 200, "K": 160, "Na": 30, "P": 50, "Zn": 4, "Fe": 120, "Mn": 40}
MIRRORS = ("Mg:K (charge)", "K:Mg (mass)", "Ca:Mg (mass)")
"""Ratios that are others turned round or in another unit; ten are left."""


def errors(rng, shape, size):
    """Return errors of standard deviation 1: normal, t on 3 df, log-normal, one in ten five times as wide."""
    if shape == "heavy":
        return rng.standard_t(3, size) / np.sqrt(3)
    if shape == "skewed":
        spread = np.exp(0.25)
        return (rng.lognormal(0, 0.5, size) - np.sqrt(spread)) / np.sqrt(spread * (spread - 1))
    if shape == "wild":
        return rng.normal(size=size) * np.where(rng.random(size) < 0.1, 5, 1) / np.sqrt(0.9 + 2.5)
    return rng.normal(size=size)


def days(rng, n, count, per_year):
    """Return irregular days of sampling, in springs or in springs and autumns, some seasons missed."""
    step = 2 if per_year == 1 else 1
    halves = np.arange(0, 4 * n, step)
    out = np.empty((count, n), dtype="datetime64[D]")
    for i in range(count):
        chosen = np.sort(rng.choice(halves[: int(1.4 * n) + 1], n, replace=False))
        start = np.where(chosen % 2 == 0, 105, 285) + 365.25 * (chosen // 2)
        out[i] = np.datetime64("2000-01-01") + (start + rng.integers(-14, 15, n)).astype(int)
    return out


def series(n, *, shape, per_year, count, seed, slope=0.1, digits=9):
    """Return so many beds with a known slope of pH, with a swing of one sd between halves of the year."""
    rng = np.random.default_rng(seed)
    when = days(rng, n, count, per_year)
    t = (when - np.datetime64("2010-01-01")).astype(float) / 365.2425
    autumn = (when.astype("datetime64[M]").astype(int) % 12) > 6
    y = 50 + slope * t + np.where(autumn, 1.0, 0.0) + errors(rng, shape, (count, n))
    frame = pd.DataFrame(
        {"bed": np.repeat([f"bed {i}" for i in range(count)], n), "value": y.round(digits).ravel()}
    )
    frame["sampled"] = when.ravel().astype("datetime64[s]")
    frame["season"] = frames.season(frame["sampled"])
    return frames.results(frame.assign(analyte="pH", unit="pH", lab="invented", top_cm=0.0, bottom_cm=15.0))


def one_cell(n, shape, per_year, count):
    """Return coverage and false verdicts of single series."""
    found = {}
    for slope in (0.0, 0.1):
        table = trend(series(n, shape=shape, per_year=per_year, count=count, seed=n, slope=slope)).table
        beds = table[(table["bed"] != frames.GARDEN) & table["slope_per_year"].notna()]
        found[slope] = beds
    still, moving = found[0.0], found[0.1]
    covered = (moving["low"] <= 0.1) & (moving["high"] >= 0.1)
    rounded = trend(series(n, shape=shape, per_year=per_year, count=count, seed=n, slope=0.0, digits=0)).table
    rounded = rounded[rounded["bed"] != frames.GARDEN]
    return {
        "n": n, "shape": shape, "per year": per_year, "judged": len(moving) / count, "covers": covered.mean(),
        "asked": moving["confidence"].mean(), "false": still["verdict"].isin(["rising", "falling"]).mean(),
        "false, rounded to one sd": rounded["verdict"].isin(["rising", "falling"]).mean(),
        "q <= .05": (still["q"] <= 0.05).mean(),
    }  # fmt: skip


def garden(rng, *, beds, occasions, day_sd, bed_sd, slope):
    """Return a garden whose beds share what happens on a day and differ in slope."""
    when = np.sort(days(rng, occasions, 1, 2)[0])
    t = (when - when[0]).astype(float) / 365.2425
    own = slope + bed_sd * rng.normal(size=(beds, 1))
    y = 50 + own * t + day_sd * rng.normal(size=occasions) + rng.normal(size=(beds, occasions))
    frame = pd.DataFrame({"bed": np.repeat([f"bed {i}" for i in range(beds)], occasions), "value": y.ravel()})
    frame["sampled"] = np.tile(when, beds).astype("datetime64[s]")
    frame["season"] = frames.season(frame["sampled"])
    return frames.results(frame.assign(analyte="pH", unit="pH", lab="invented", top_cm=0.0, bottom_cm=15.0))


def garden_cell(beds, occasions, day_sd, bed_sd, count):
    """Return how often the garden's verdicts are false, and its interval right."""
    rng = np.random.default_rng(beds * 100 + occasions)
    found = {}
    for slope in (0.0, 0.3):
        part = [garden(rng, beds=beds, occasions=occasions, day_sd=day_sd, bed_sd=bed_sd, slope=slope)
                .assign(method=f"garden {i}") for i in range(count)]  # fmt: skip
        table = trend(pd.concat(part, ignore_index=True)).table
        found[slope] = table[(table["bed"] == frames.GARDEN) & table["p"].notna()]
    still, moving = found[0.0], found[0.3]
    return {
        "beds": beds, "seasons": occasions, "day sd": day_sd, "slope sd": bed_sd,
        "covers": ((moving["low"] <= 0.3) & (moving["high"] >= 0.3)).mean(),
        "false": still["verdict"].isin(["rising", "falling"]).mean(),
        "false, dates shuffled": (still["p_dates"] <= 0.05).mean(),
        "false, beds like mine": (still["p_beds_like_mine"] <= 0.05).mean(),
        "found": moving["verdict"].isin(["rising"]).mean(),
    }  # fmt: skip


def steady_garden(rng, *, beds, tests, sd, day_sd=0.0, moving=None):
    """Return amounts of a garden that keep their levels, but for one that moves in the first bed."""
    halves = [f"{year}-{day}" for year in range(2012, 2012 + tests) for day in ("04-03", "10-05")][:tests]
    when = pd.to_datetime(pd.Series(halves))
    made = []
    for name, level in LEVELS.items():
        shared = day_sd * rng.normal(size=tests)
        for bed in range(beds):
            change = moving(np.arange(tests)) if moving is not None and bed == 0 and name == "K" else 0.0
            value = level * np.exp(change + shared + sd * rng.normal(size=tests))
            made.append(pd.DataFrame({"bed": f"bed {bed}", "analyte": name, "sampled": when, "value": value}))
    frame = pd.concat(made, ignore_index=True)
    frame["season"] = frames.season(frame["sampled"])
    same = {"unit": "mg/kg", "method": "Mehlich-3", "lab": "invented", "top_cm": 0.0, "bottom_cm": 15.0}
    return frames.results(frame.assign(**same))


def raised(frame, tests):
    """Return which flags stand after so many tests, by bed and ratio."""
    days_ = np.sort(frame["sampled"].unique())[:tests]
    table = drift(frame[frame["sampled"].isin(days_)]).table
    table = table[~table["ratio"].isin(MIRRORS)]
    up = table[~table["flag"].isin(["steady", "too few"])]
    return {(bed, ratio): firm for bed, ratio, firm in zip(up["bed"], up["ratio"], up["firm"], strict=True)}


def drift_cell(sd, day_sd, gardens, *, beds=6, tests=20):
    """Return new flags per bed and year of steady gardens looked at after every test."""
    rng = np.random.default_rng(int(1000 * sd))
    new = firm = 0
    for _ in range(gardens):
        frame = steady_garden(rng, beds=beds, tests=tests, sd=sd, day_sd=day_sd)
        before, held = set(), set()
        for n in range(3, tests + 1):
            up = raised(frame, n)
            new += len(set(up) - before)
            firm += len({key for key, sure in up.items() if sure} - held)
            before |= set(up)
            held |= {key for key, sure in up.items() if sure}
    years = gardens * beds * tests / 2
    return {
        "sd of an amount": sd,
        "sd of a day": day_sd,
        "flags per bed-year": new / years,
        "firm ones": firm / years,
    }


def ramp(after):
    """Return a rise of 30 % over six half-years, and then the new level."""
    return np.log(1.3) * np.clip(after + 1, 0, 6) / 6


def delay_cell(sd, gardens, *, beds=6, tests=20, start=8):
    """Return how soon K:Mg is flagged in a bed whose K rises by 30 % over three years from the fifth on."""
    rng = np.random.default_rng(7)
    first = []
    for _ in range(gardens):
        frame = steady_garden(rng, beds=beds, tests=tests, sd=sd, moving=lambda i: ramp(i - start))
        seen = [n for n in range(start, tests + 1) if ("bed 0", "K:Mg (charge)") in raised(frame, n)]
        first.append((seen[0] - start) / 2 if seen else np.inf)
    later = np.array(first)
    within = {f"seen within {years} years": (later <= years).mean() for years in (3, 6)}
    return {"sd of an amount": sd, **within, "median delay [years]": np.median(later)}


def say(rows):
    """Write a table."""
    sys.stdout.write(pd.DataFrame(rows).round(3).to_string(index=False) + "\n\n")
    sys.stdout.flush()


def main(count=2000):
    """Write the tables."""
    say([one_cell(n, shape, per_year, count) for per_year, shape, n in product((1, 2), SHAPES, LENGTHS)])
    kinds, few = product((6, 12), (8, 12), (0.0, 0.5), (0.0, 0.25)), max(count // 5, 50)
    say([garden_cell(*kind, few) for kind in kinds])
    few = max(count // 200, 3)
    say([drift_cell(*kind, few) for kind in ((0.1, 0.0), (0.1, 0.05), (0.16, 0.0))])
    say([delay_cell(sd, few) for sd in (0.05, 0.1)])


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
