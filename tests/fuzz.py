"""A campaign of broken inputs on every reader and on the grower's own files.

    python tests/fuzz.py csv 1800 findings      # one kind for half an hour; findings are kept there
    python tests/fuzz.py all 600 findings       # ten minutes of each kind, one after another

The time is that of the processor, so that other work on the machine does not shorten a campaign.
With the atheris package (``pip install atheris``) the inputs are guided by the coverage of
soiltrend; without it seeds are mutated at random. An input must end in a result that is a valid
frame or in an error of the soiltrend family; anything else, and a warning too, is a finding, and
so are more than ten seconds. How many inputs and seconds went in, over all runs, and what was found
stands in ``KIND.json`` beside the findings, with the inputs that reached new places, from which the
next run goes on. Findings that were mended are kept in ``tests/findings``.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import random
import re
import subprocess
import sys
import tempfile
import time
import traceback
import warnings
import zipfile
from contextlib import nullcontext, suppress
from pathlib import Path

import openpyxl
import xlwt

atheris = None
if __name__ == "__main__":
    with suppress(ImportError):
        import atheris

with atheris.instrument_imports(include=["soiltrend"]) if atheris else nullcontext():
    from soiltrend import frames
    from soiltrend.aims import aims
    from soiltrend.errors import SoiltrendError
    from soiltrend.garden import account, missing, open_garden, reasons, remarks
    from soiltrend.materials import known_materials
    from soiltrend.prepare import garden_noise
    from soiltrend.reading import book, delimited, modus, pdf, read_report, sheets  # noqa: F401

import mutations  # noqa: E402 (soiltrend is imported first, to be watched)
from test_reading_modus import xml  # noqa: E402
from test_reading_pdf import ROWS, TOP, page_of, write_pdf  # noqa: E402

ROOT = Path(__file__).parents[1]
GARDEN = 'name = "Two"\n[beds."Harbour"]\narea_m2 = 12\n[beds."Hill"]\ncheck = true\n'
PARTS = {
    "xlsx": ("", "xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/styles.xml", "xl/sharedStrings.xml"),
    "ods": ("", "content.xml"),
    "tables": ("samples", "materials", "applications", "harvests", "observations"),
}
"""Kinds whose first byte chooses what the rest is put into; "" is the whole file."""

NAMES = {"garden.toml": "garden.toml", "report.toml": "reports/report.toml"}
HOSTILE = ("<", "ND", "sep=;", "\ufeff", '""', "\r", "1,234.5", "9e999", "nan", "-1", "0001-01-01", "=1+1")
"""Pieces that inputs are made of beside the words of the seeds."""

KINDS = ("csv", "xlsx", "xls", "ods", "pdf", "xml", "json", "garden.toml", "report.toml", "tables")
SLOW = 10.0
"""Seconds of the processor that no small input may take."""


def rows():
    """Return the rows of a small report."""
    return mutations.wide(mutations.truth(random.Random(1)))


def text(lines):
    """Return rows as CSV."""
    return "\n".join(",".join(line) for line in lines).encode()


def workbook():
    """Return a small .xlsx file."""
    book, out = openpyxl.Workbook(), io.BytesIO()
    for line in rows():
        book.active.append(line)
    book.save(out)
    return out.getvalue()


def old_workbook():
    """Return a small .xls file."""
    book, out = xlwt.Workbook(), io.BytesIO()
    sheet = book.add_sheet("Soil")
    for number, line in enumerate(rows()):
        for at, cell in enumerate(line):
            sheet.write(number, at, cell)
    book.save(out)
    return out.getvalue()


def open_workbook():
    """Return a small .ods file."""
    cells = "".join(
        "<table:table-row>"
        + "".join(f"<table:table-cell><text:p>{cell}</text:p></table:table-cell>" for cell in line)
        + "</table:table-row>"
        for line in rows()
    )
    space = "urn:oasis:names:tc:opendocument:xmlns"
    content = (
        f'<office:document-content xmlns:office="{space}:office:1.0" xmlns:table="{space}:table:1.0" '
        f'xmlns:text="{space}:text:1.0"><office:body><office:spreadsheet><table:table table:name="S">{cells}'
        "</table:table></office:spreadsheet></office:body></office:document-content>"
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("content.xml", content)
    return out.getvalue()


def parts_of(kind, whole):
    """Return seeds of a zipped kind: the file, and each of its parts, with the byte that chooses it."""
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        names = archive.namelist()
        chosen = [(at, name) for at, name in enumerate(PARTS[kind]) if name in names]
        return [b"\x00" + whole, *(bytes([at]) + archive.read(name) for at, name in chosen)]


def seeds(kind):
    """Return inputs to begin with."""
    truth = mutations.truth(random.Random(1))
    demo = ROOT / "data_demo" / "oxmarrow-steps"
    if kind == "csv":
        return [text(layout(truth)) for layout in mutations.LAYOUTS]
    if kind in ("xlsx", "ods"):
        return parts_of(kind, workbook() if kind == "xlsx" else open_workbook())
    if kind == "tables":
        files = [(at, demo / f"{name}.csv") for at, name in enumerate(PARTS[kind])]
        return [bytes([at]) + b"\n".join(file.read_bytes().splitlines()[:6]) for at, file in files]
    if kind == "garden.toml":
        return [GARDEN.encode(), (demo / "garden.toml").read_bytes()]
    if kind == "report.toml":
        return [file.read_bytes() for file in sorted((demo / "reports").glob("*.toml"))]
    return [*small(kind), *(file.read_bytes() for file in sorted((demo / "reports").glob(f"*.{kind}")))]


def small(kind):
    """Return a small file of a kind, which is quicker to change than a laboratory's."""
    if kind == "xls":
        return [old_workbook()]
    if kind == "pdf":
        with tempfile.TemporaryDirectory() as folder:
            return [write_pdf(Path(folder) / "a.pdf", [TOP + page_of(ROWS)]).read_bytes()]
    if kind == "xml":
        return [xml().encode()]
    result = {"Element": "P", "Value": "8.0", "ValueUnit": "ppm", "ModusTestID": "S-P-M3.04"}
    depths = [{"DepthID": 1, "NutrientResults": [result]}]
    sample = {"SampleMetaData": {"SampleNumber": "7"}, "Depths": depths}
    depth = {"DepthID": 1, "StartingDepth": 0, "EndingDepth": 6, "DepthUnit": "in"}
    soil = {"Soil": {"DepthRefs": [depth], "SoilSamples": [sample]}}
    event = {"EventMetaData": {"EventDate": "2024-04-12", "EventType": {"Soil": True}}, "EventSamples": soil}
    slim = {"date": "2024-05-01", "depth": {"top": 0, "bottom": 15, "units": "cm"}, "samples": {
        "a": {"results": {"x": {"analyte": "NA", "value": "<21", "units": "[ppm]"}}}}}  # fmt: skip
    return [json.dumps(data).encode() for data in ({"Events": [event]}, slim)]


def words(kind):
    """Return the pieces that inputs are made of, as atheris reads them from a file."""
    found = {word for seed in seeds(kind) for word in re.findall(rb"[A-Za-z][\w.%/:-]{2,30}", seed[:4000])}
    pieces = sorted(found)[:400] + [word.encode() for word in HOSTILE]
    return "".join('"' + "".join(f"\\x{byte:02x}" for byte in piece) + '"\n' for piece in pieces)


BASES = {"xlsx": workbook(), "ods": open_workbook()}


def file_of(kind, data):
    """Return the bytes of a file of a kind from an input."""
    if kind not in BASES:
        return data
    part = PARTS[kind][data[0] % len(PARTS[kind])] if data else ""
    if not part:
        return data[1:]
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(BASES[kind])) as base, zipfile.ZipFile(out, "w") as archive:
        for name in base.namelist():
            archive.writestr(name, data[1:] if name == part else base.read(name))
    return out.getvalue()


def place(kind, data, folder):
    """Write a garden whose one file is the input; return the report to read, or None for the garden."""
    (folder / "reports").mkdir(exist_ok=True)
    (folder / "garden.toml").write_text(GARDEN, encoding="utf-8")
    report = folder / "reports" / "spring.csv"
    report.write_bytes(text(rows()))
    if kind == "tables":
        name = PARTS[kind][data[0] % len(PARTS[kind])] if data else "samples"
        (folder / f"{name}.csv").write_bytes(data[1:])
        return None
    if kind in NAMES:
        (folder / NAMES[kind]).write_bytes(data)
        return None
    report = report.with_suffix(f".{kind}")
    report.write_bytes(file_of(kind, data))
    return report


def whole_garden(folder):
    """Return a garden's results after every section and table of its own was made use of."""
    garden = open_garden(folder)
    for listing in (account, reasons, remarks, missing):
        repr(listing(garden))
    garden_noise(garden, results=garden.results)
    known_materials(garden.materials, cups=garden.settings.get("cups"))
    for analyte, method in (("K", "Mehlich-3"), ("pH", "water 1:1")):
        aims(analyte, method, "mineral soil", own=garden.settings.get("aims"))
    return garden.results


def attempt(kind, data, folder):
    """Read an input as a grower's command would; raise for whatever is no result and no clear error."""
    report = place(kind, data, folder)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            results = frames.check(read_report(report).results if report else whole_garden(folder))
    except SoiltrendError as error:
        if not str(error).strip():
            raise AssertionError("an error without words") from error
    else:
        if not results["value"].map(lambda value: value == value).all():
            raise AssertionError("a value that is no number")


class Campaign:
    """Inputs of one kind tried one after another, and what was found."""

    def __init__(self, kind, kept):
        self.kind, self.kept, self.tried, self.found = kind, kept, 0, {}
        kept.mkdir(parents=True, exist_ok=True)
        told = kept / f"{kind}.json"
        self.before = json.loads(told.read_text(encoding="utf-8")) if told.exists() else {}

    def one(self, data):
        """Try an input; keep it when nothing that failed the same way was kept yet."""
        self.tried += 1
        with tempfile.TemporaryDirectory() as folder:
            try:
                start = time.process_time()
                attempt(self.kind, data, Path(folder))
                if time.process_time() - start > SLOW:
                    raise AssertionError("slow")
            except Exception as error:
                where = traceback.extract_tb(error.__traceback__)[-1]
                sign = f"{type(error).__name__} {Path(where.filename).name}:{where.lineno}"
                self.found[sign] = self.found.get(sign, 0) + 1
                if self.found[sign] == 1:
                    self.keep(data, sign, traceback.format_exc())
        if self.tried % 200 == 0:
            self.tell()

    def keep(self, data, sign, told):
        name = f"{self.kind}-{hashlib.sha256(data).hexdigest()[:12]}"
        (self.kept / f"{name}.bin").write_bytes(data)
        (self.kept / f"{name}.txt").write_text(f"{sign}\n{told}", encoding="utf-8")

    def tell(self):
        """Write how many inputs were tried, for how long, and what was found, over all runs."""
        found = self.before.get("found", {})
        told = {
            "kind": self.kind,
            "tried": self.before.get("tried", 0) + self.tried,
            "seconds": round(self.before.get("seconds", 0) + time.process_time()),
            "found": found | {sign: found.get(sign, 0) + count for sign, count in self.found.items()},
        }
        (self.kept / f"{self.kind}.json").write_text(json.dumps(told, indent=1), encoding="utf-8")


def mutated(data, chance):
    """Return an input with some bytes changed, cut, doubled or moved."""
    out = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        at, end = sorted(chance.randrange(len(out) + 1) for _ in range(2))
        what = chance.randrange(5)
        if what == 0 and out:
            out[min(at, len(out) - 1)] = chance.randrange(256)
        elif what == 1:
            del out[at : min(end, at + 40)]
        elif what == 2:
            out[at:at] = out[at : min(end, at + 200)]
        elif what == 3:
            out[at:at] = chance.choice((b"\x00", b"\xff", b'"', b"\n", b"9" * 400, b"-1", b"[" * 50, b"nan"))
        else:
            out[at:at] = bytes(chance.randrange(256) for _ in range(4))
    return bytes(out)


def guided(campaign, seconds, inputs):
    """Let atheris look for inputs that reach new places of soiltrend; those of earlier runs are at hand."""
    inputs.mkdir(exist_ok=True)
    for number, seed in enumerate(seeds(campaign.kind)):
        (inputs / f"seed{number}").write_bytes(seed)
    pieces = campaign.kept / f"{campaign.kind}.dict"
    pieces.write_text(words(campaign.kind), encoding="ascii")

    def one(data):
        """Try an input, and end the process when its time is over; atheris itself never returns."""
        campaign.one(data)
        if time.process_time() > seconds:
            campaign.tell()
            os._exit(0)

    atheris.Setup(
        [sys.argv[0], str(inputs), f"-dict={pieces}", "-max_len=16000", "-timeout=600", "-rss_limit_mb=4000",
         "-verbosity=0", f"-artifact_prefix={campaign.kept}/{campaign.kind}-killed-"], one)  # fmt: skip
    atheris.Fuzz()


def random_walk(campaign, seconds):
    """Mutate the seeds at random."""
    chance, given = random.Random(1), seeds(campaign.kind)
    while time.process_time() < seconds:
        campaign.one(mutated(chance.choice(given), chance))
    campaign.tell()


def main(kind, seconds, kept):
    """Run one kind here, or each kind in a process of its own."""
    if kind == "all":
        for each in KINDS:
            subprocess.run([sys.executable, __file__, each, seconds, kept], check=False)
        return
    campaign = Campaign(kind, Path(kept))
    if atheris is None:
        random_walk(campaign, int(seconds))
    else:
        guided(campaign, int(seconds), campaign.kept / f"{kind}-inputs")


if __name__ == "__main__":
    main(*sys.argv[1:4])
