"""Write the demo garden, the same to the byte on every run: ``python data_demo/generate.py``.

With ``--check`` nothing is written; the files that differ from the generator are named.
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
if str(HERE) not in sys.path:
    sys.path.insert(0, str(HERE))

import bench  # noqa: E402
import papers  # noqa: E402
import soil  # noqa: E402
import story  # noqa: E402
from catalogue import SHAPES  # noqa: E402
from reports import REPORTS, samples  # noqa: E402

FOLDER = HERE / story.SLUG


def report_file(stem: str, shape: str) -> str:
    """Return the name of a report's file inside the garden's folder."""
    return f"reports/{stem}{SHAPES[shape][0]}"


def prints() -> list[bench.Printed]:
    """Return every figure that stands in a report, with what stands behind it."""
    return [
        figure
        for report in REPORTS
        for figure in bench.printed(report, report_file(report.stem, report.shape))
    ]


def truth() -> soil.Truth:
    """Return what the garden truly held on the days it was sampled."""
    labs: dict = {}
    bottoms = {}
    for report in REPORTS:
        labs[report.day] = (*labs.get(report.day, ()), report.lab)
        bottoms |= {(sample.bed, sample.day): sample.bottom_cm for sample in samples(report)}
    return soil.truth(labs, bottoms)


TRUTH = truth()


def files() -> dict[str, bytes]:
    """Return the whole folder: path inside it to the bytes of the file."""
    out = {
        "garden.toml": papers.garden_toml(),
        "samples.csv": papers.samples_csv(),
        "materials.csv": papers.materials_csv(),
        "applications.csv": papers.applications_csv(),
        "harvests.csv": papers.harvests_csv(),
        "observations.csv": papers.observations_csv(),
        "reports/report.toml": papers.report_toml(),
    }
    for report in REPORTS:
        name = report_file(report.stem, report.shape)
        lay_out = SHAPES[report.shape][1]
        out[name] = lay_out(bench.sheet(report, bench.printed(report, name)))
        told = papers.answers(report)
        if told:
            out[f"reports/{report.stem}.toml"] = told.encode()
    return out


def write(folder: Path = FOLDER) -> None:
    """Write the folder."""
    for name, content in files().items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def check(folder: Path = FOLDER) -> list[str]:
    """Return, one line each, how a folder differs from what the generator makes."""
    made = files()
    there = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    there = {name for name in there if not name.startswith("out/")}
    missing = [f"{name} is missing" for name in sorted(set(made) - there)]
    extra = [f"{name} is not the generator's" for name in sorted(there - set(made))]
    differ = [
        f"{name} differs" for name in sorted(there & set(made)) if (folder / name).read_bytes() != made[name]
    ]
    return [*missing, *extra, *differ]


def main(arguments: list[str]) -> int:
    """Write the folder, or check it; return the exit status."""
    if arguments == ["--check"]:
        faults = check()
        print("\n".join(faults) or "the folder is as the generator makes it")
        return 1 if faults else 0
    if arguments:
        print(__doc__)
        return 2
    write()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
