"""How time and memory grow with the data, each size in a process of its own.

    python tests/benchmarks/growth.py                      # every kind; reading up to 3 million values
    python tests/benchmarks/growth.py read-long 10000000   # one kind, and up to how many
    python tests/benchmarks/growth.py compare

Beside each stands what a general-purpose library takes on the same machine in the same run: for reading
``pandas.read_csv`` of the same file (for a wide file also melted to a row a value, all of it text), and the
tidy frame of the same shape by pandas alone, with nothing recognised, asked or checked, which is what so
many texts and places take by themselves; for exchange and ratios the bare arithmetic on a pivoted frame;
for compare, trend and drift a loop over series of scipy, statsmodels and pymannkendall, timed on 300 of
them. Whether pandas keeps text by itself or by pyarrow changes times by half either way, and is said.
See ``measured.py`` for how seconds and memory are counted.
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
from measured import alone, best, exponent, peak, say
from trend import frame, loop

import soiltrend as st
from soiltrend import frames, vocabulary

BASES = {"Ca": 1500.0, "Mg": 180.0, "K": 150.0, "Na": 20.0, "CEC": 12.0, "pH": 6.4, "P": 40.0, "Zn": 2.0}
CHARGE = {"Ca": 200.39, "Mg": 121.53, "K": 390.98, "Na": 229.9}
"""mg/kg in one cmol/kg (from atomic masses and charges)."""

ANALYTES = (
    "pH",
    "OM %",
    *(f"{name} ppm" for name in ("P", "K", "Ca", "Mg", "Na", "S", "B", "Zn", "Mn", "Cu", "Fe")),
)
SAMPLE = 300


def long_file(size, path):
    """Write a report of one row a value, three in a hundred below a limit."""
    rng = np.random.default_rng(1)
    names = np.array(["pH", "K", "Ca", "Mg", "Zn", "B", "P", "OM"])
    at = np.arange(size) % len(names)
    value = np.char.mod("%.2f", rng.uniform(5.0, 8.0, size))
    value = np.where((rng.random(size) < 0.03) & (at > 0), np.char.add("<", value), value)
    year = 1990 + (np.arange(size) // 2000) % 30
    table = pd.DataFrame(
        {"Bed": np.char.add("bed ", (np.arange(size) // 8 % 5000).astype(str)),
         "Date sampled": np.char.add(year.astype(str), "-04-12"), "Lab": "Hollin Bench", "Analyte": names[at],
         "Result": value, "Unit": np.array(["", *["mg/kg"] * 6, "%"])[at]})  # fmt: skip
    table.to_csv(path, index=False)


def wide_file(size, path):
    """Write a report of one row a sample, thirteen values in each."""
    rows = size // len(ANALYTES)
    rng = np.random.default_rng(1)
    table = pd.DataFrame({name: rng.uniform(5.0, 8.0, rows).round(2) for name in ANALYTES})
    table.insert(0, "Bed", np.char.add("bed ", (np.arange(rows) % 5000).astype(str)))
    table.insert(1, "Date sampled", "2024-04-12")
    table.to_csv(path, index=False)


FILES = {"read-long": long_file, "read-wide": wide_file}


def chemistry(size, tests=2):
    """Return results of so many values: eight analytes a sample, so many tests a bed."""
    count = size // len(BASES)
    rng = np.random.default_rng(1)
    bed = np.repeat(np.arange(count) // tests, len(BASES))
    year = np.repeat(2000 + 2 * (np.arange(count) % tests), len(BASES))
    names = np.tile(np.array(list(BASES), dtype=object), count)
    value = np.tile(list(BASES.values()), count) * np.exp(rng.normal(0, 0.05, len(names)))
    made = pd.DataFrame({"bed": bed, "analyte": names, "value": value.round(3)})
    made["bed"] = "bed " + made["bed"].astype(str)
    made["sampled"] = pd.to_datetime(pd.Series(year).astype(str) + "-04-12")
    made["season"] = "spring " + pd.Series(year).astype(str)
    made["unit"] = made["analyte"].map({name: vocabulary.canonical_unit(name) for name in BASES})
    return frames.results(made.assign(lab="a laboratory", method="a method", top_cm=0.0, bottom_cm=15.0))


def melted(path):
    """Read a wide file as text and turn it into a row a value, by pandas alone."""
    return pd.read_csv(path, dtype=str, na_filter=False).melt(["Bed", "Date sampled"])


def plain(path):
    """Make the tidy frame of a file by pandas alone: its kind, units and names are known beforehand."""
    table = pd.read_csv(path, dtype=str, na_filter=False)
    table["place"] = "line " + pd.Series(range(2, len(table) + 2)).astype("str")
    if "Analyte" not in table:
        table = table.melt(["Bed", "Date sampled", "place"], var_name="Analyte", value_name="Result")
        table["place"] += ", column '" + table["Analyte"] + "'"
    sign = np.where(table["Result"].str.startswith("<"), "<", "")
    known = {"bed": table["Bed"], "sampled": pd.to_datetime(table["Date sampled"]), "place": table["place"],
             "analyte": table["Analyte"], "reported_value": table["Result"], "season": "spring 2024",
             "value": table["Result"].str.lstrip("<").astype(float), "qualifier": sign}
    blank = {name: np.nan if name in frames.NUMBER else "" for name in frames.RESULTS}
    return pd.DataFrame(blank | known)


def pivoted(results):
    """Reckon sum, shares and ratios of bases on a pivoted frame: numbers only, nothing asked or said."""
    wide = results.set_index(["bed", "sampled", "analyte"])["value"].unstack()  # noqa: PD010
    charge = wide[list(CHARGE)] / pd.Series(CHARGE)
    shares = 100 * charge.div(charge.sum(axis=1), axis=0)
    ratios = {"Ca:Mg": charge["Ca"] / charge["Mg"], "K:Mg": charge["K"] / charge["Mg"]}
    made = shares.add_suffix(" share").assign(sum=charge.sum(axis=1), **ratios)
    return wide.join(made).melt(ignore_index=False).reset_index()


def pairs():
    """Return the seconds of scipy's two-sample test from two means and their errors, for one pair."""
    from scipy import stats

    before = np.random.default_rng(1).normal(3.0, 0.1, SAMPLE).tolist()
    return best(lambda: [stats.ttest_ind_from_stats(y, 0.1, 9, 3.0, 0.1, 9) for y in before])[0] / SAMPLE


def two(results):
    return st.compare(results, before="spring 2000", after="spring 2002")


MAKE = {
    "exchange": chemistry,
    "ratios": chemistry,
    "compare": chemistry,
    "trend": lambda size: frame(size // 12, (12, 12)),
    "drift": lambda size: st.ratios(chemistry(size * 8 // 17, tests=6)),
}
"""Frames of so many rows; eight values of a sample give nine ratios."""

WORK = {"read-long": st.read_report, "read-wide": st.read_report, "exchange": st.exchange,
        "ratios": st.ratios, "compare": two, "trend": st.trend, "drift": st.drift}  # fmt: skip
FLOORS = {
    "read-long": {"read_csv": pd.read_csv, "such a frame by pandas alone": plain},
    "read-wide": {"read_csv": pd.read_csv, "read_csv melted": melted, "such a frame by pandas alone": plain},
    "exchange": {"a pivoted frame": pivoted},
    "ratios": {"a pivoted frame": pivoted},
}
LOOPS = {"compare": (pairs, 2), "trend": (lambda: loop(12), 12), "drift": (lambda: loop(6), 6)}
"""What times one series of a loop, and how many rows a series has."""


def one(kind, size, path):
    """Measure one size and write it: the file at ``path``, or a frame made here."""
    data = path if kind in FILES else MAKE[kind](size)
    small = path if kind in FILES else MAKE[kind](1000)
    work, floors = WORK[kind], FLOORS.get(kind, {})
    if kind not in FILES:
        work(small)  # what is loaded once is no part of what grows
    times = 3 if size <= 1_000_000 else 2
    rows = size if kind in FILES else len(data)
    told = {"rows": rows, "bytes": peak(lambda: work(data)) / rows}
    told["floors"] = {name: best(lambda floor=floor: floor(data), times)[0] for name, floor in floors.items()}
    told["worked"], told["waited"] = best(lambda: work(data), times)
    say(json.dumps(told))


def told_of(kind, size):
    """Return what one size of a kind took; the process that measures it did not write the file."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "report.csv"
        if kind in FILES:
            subprocess.run([sys.executable, __file__, "--write", kind, str(size), str(path)], check=True)
        return alone(__file__, kind, size, path)


def measure(kind, sizes):
    """Measure a kind over its sizes."""
    rows, spent = [], []
    loops, tests = LOOPS.get(kind, (float, 1))
    each = loops()  # no seconds for what has no loop
    for size in sizes:
        told = told_of(kind, size)
        rows.append(told["rows"])
        spent.append(told["worked"])
        beside = [f"{spent[-1] / seconds:.1f} times {name}" for name, seconds in told["floors"].items()]
        if each:
            longer = each * rows[-1] / tests / spent[-1]
            beside.append(f"a loop of the references {longer:,.1f} times as long")
        say(
            f"{kind:9s} {rows[-1]:>9,} rows: {spent[-1]:7.2f} s (waited {told['waited']:.2f}), "
            f"{', '.join(beside)}, {told['bytes']:.0f} bytes a row"
        )
    if len(sizes) > 1:
        say(f"{kind:9s} exponent {exponent(rows, spent):.2f}")


def main(given):
    if given[:1] == ["--one"]:
        one(given[1], int(given[2]), given[3])
        return
    if given[:1] == ["--write"]:
        FILES[given[1]](int(given[2]), given[3])
        return
    say(f"pandas {pd.__version__} keeps text by {pd.array(['a'], dtype='str').dtype.storage}")
    for kind in given[:1] or list(WORK):
        usual = (100_000, 1_000_000, 3_000_000) if kind in FILES else (1000, 10_000, 100_000, 1_000_000)
        most = int(given[1]) if len(given) > 1 else usual[-1]
        measure(kind, [*(size for size in usual if size < most), most])


if __name__ == "__main__":
    main(sys.argv[1:])
