"""A report as a PDF with a text layer: one page, turned on its side, words at their places.

The file follows the open standard (ISO 32000-1) as far as one page of one font needs it, and
holds no date, so that it is the same to the byte on every run.
"""

from __future__ import annotations

from shapes import Sheet, identity, identity_heads

WIDE, HIGH = 842, 595
LEFT, TOP, STEP, SIZE = 30, 470, 14, 7
IDENTITY = 64
"""Width of a column that tells which bag it is [points]; the figures share the rest."""

Words = list[tuple[float, float, str]]


def _show(x: float, y: float, text: str) -> str:
    """Return the command that writes a text so that it stands upright once the page is turned."""
    safe = text.replace("\\", r"\\").replace("(", r"\(").replace(")", r"\)")
    return f"BT /F1 {SIZE} Tf 0 1 -1 0 {HIGH - y:g} {x:g} Tm ({safe}) Tj ET"


def _file(words: Words) -> bytes:
    """Return the file of one page: the words at (from the left, from below) as the reader sees it."""
    content = "\n".join(_show(*word) for word in words).encode("cp1252")
    parts = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        f"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 {HIGH} {WIDE}] /Rotate 90 "
        "/Resources << /Font << /F1 4 0 R >> >> /Contents 5 0 R >>".encode(),
        b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding >>",
        b"<< /Length %d >>\nstream\n" % len(content) + content + b"\nendstream",
    ]
    out, starts = b"%PDF-1.4\n", []
    for number, part in enumerate(parts, start=1):
        starts.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, part)
    table = b"".join(b"%010d 00000 n \n" % start for start in starts)
    return (
        b"%sxref\n0 %d\n0000000000 65535 f \n%strailer << /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n"
        % (
            out,
            len(parts) + 1,
            table,
            len(parts) + 1,
            len(out),
        )
    )


def pdf(sheet: Sheet) -> bytes:
    """Lay out one page: a block about the report, two lines of headings, a line of units, a row a bag."""
    heads = identity_heads(sheet)
    each = (WIDE - 2 * LEFT - IDENTITY * len(heads)) / len(sheet.columns)
    lefts = [LEFT + IDENTITY * at for at in range(len(heads))]
    lefts += [LEFT + IDENTITY * len(heads) + each * at for at in range(len(sheet.columns))]
    words = [column.symbol.rpartition(" ") for column in sheet.columns]
    rows = [
        ["" for _ in heads] + [first for first, _, _ in words],
        heads + [last for _, _, last in words],
        ["" for _ in heads] + [column.unit for column in sheet.columns],
        *([*identity(sheet, bag), *sheet.row(bag)] for bag in sheet.samples),
    ]
    report = sheet.report
    placed: Words = [
        (LEFT, TOP + 5 * STEP, f"{report.lab} - figures for one garden"),
        (LEFT, TOP + 4 * STEP, f"Laboratory: {report.lab}"),
        (LEFT, TOP + 3 * STEP, f"Report number: {report.number}"),
        (LEFT + 300, TOP + 3 * STEP, "For: Merrin, Oxmarrow Steps"),
        (LEFT, TOP - (len(rows) + 2) * STEP, "Figures are for soil dried at 40 degrees and sieved to 2 mm."),
    ]
    placed += [
        (left, TOP - STEP * number, text)
        for number, texts in enumerate(rows)
        for left, text in zip(lefts, texts, strict=True)
        if text
    ]
    return _file(placed)
